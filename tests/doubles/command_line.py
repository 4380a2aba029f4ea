"""What a command said, for tests that ask it many."""


def say(run, *arguments, code=0):
    """Run a command line that is to end with that code; what it said, as one line of words: where it fails, on standard error."""
    result = run(*arguments)
    assert result.exit_code == code, (arguments, result.stdout, result.stderr)
    return " ".join((result.stderr if code else result.stdout).split())
