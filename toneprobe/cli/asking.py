"""Ask before anything is done that cannot be taken back."""

import sys


def agrees(question: str, *, yes: bool) -> bool:
    """Whether the player agrees; `yes` answers beforehand. Where nobody can answer it is no."""
    if yes:
        return True
    print(f"{question} [y/N]", end=" ", file=sys.stderr, flush=True)
    answer = sys.stdin.readline()
    if not answer.endswith("\n"):
        print(file=sys.stderr)
    return answer.strip().casefold() in ("y", "yes")
