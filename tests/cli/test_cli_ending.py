"""How a command ends where the program itself is at fault: one line, with a command that shows more."""

import re
import signal

import pytest

from toneprobe import cli


@pytest.mark.parametrize("arguments", [["measure", "", "--instrument", "pedal-47"], ["sweep", ""], ["settle", "3D", ""]])
def test_an_empty_name_is_no_recording(run, arguments):
    assert run("new", "Wren", "--preset", "pedal-47").exit_code == 0
    result = run(*arguments)
    assert (result.exit_code, result.stderr) == (1, "toneprobe: no recording is named, only the folder that you are in\n")


@pytest.mark.parametrize("arguments, named", [
    (["log", "import", "paper.csv"], "log import"), (["log"], "log"), (["spares", "add", "3D"], "spares add"),
    (["export", "all"], "export"),
])
@pytest.mark.parametrize("error, what", [(AssertionError(), "AssertionError"), (ValueError("a: b"), "ValueError: a: b")])
def test_a_fault_of_the_program_is_one_line_with_a_command_that_there_is(run, monkeypatch, arguments, named, error, what):
    def fail(folder):
        raise error

    monkeypatch.setattr("toneprobe.book.opening.open_book", fail)
    result = run(*arguments)
    assert result.exit_code == 1 and result.stderr.count("\n") == 1
    assert result.stderr.startswith(f"toneprobe: {named} failed unexpectedly ({what}). ")
    shown = re.search(r"'toneprobe (--debug .*) …'", result.stderr)[1]
    assert shown == f"--debug {named}" and run(*shown.split(), "--help").exit_code == 0


def test_stopped_before_a_command_runs_it_ends_without_a_word(monkeypatch, capsys):
    """130, as the README says: 128 and the number of SIGINT, as shells have it (common practice)."""
    def stopped():
        raise KeyboardInterrupt

    asked = []
    monkeypatch.setattr(cli, "app", stopped)
    monkeypatch.setattr(cli, "fit_streams", lambda: None)
    monkeypatch.setattr("gc.set_threshold", asked.append)
    with pytest.raises(SystemExit) as end:
        cli.main()
    assert end.value.code == 128 + signal.SIGINT and capsys.readouterr() == ("", "")
    assert asked == [cli.SELDOM]


@pytest.mark.parametrize("arguments", [["measure", "x.wav", "--instrument", "lever-26"], ["sweep", "x.wav"]])
def test_a_folder_that_is_gone_is_said(run, tmp_path, monkeypatch, arguments):
    assert run("new", "Wren", "--preset", "lever-26").exit_code == 0
    gone = tmp_path / "gone"
    gone.mkdir()
    monkeypatch.chdir(gone)
    gone.rmdir()  # as POSIX lets anybody do
    result = run(*arguments)
    assert (result.exit_code, result.stderr) == (
        1, "toneprobe: the folder that you are in is no longer there: go to another one, and try again\n")


@pytest.mark.parametrize("arguments", [["restring", "3D", "--why", "nonsense"], ["spares", "add", "3D", "--in", "nonsense"]])
def test_what_is_wrong_with_an_option_is_said_without_a_checkers_words(run, arguments):
    result = run(*arguments)
    said = " ".join(result.stderr.split())
    assert result.exit_code == 2 and f"Invalid value for '{arguments[-2]}': 'nonsense' is not one of" in said


@pytest.mark.parametrize("typed, told", [
    ("restring 3D --why snapped", "Did you mean --why broke?"), ("restring 3D --why broken", "Did you mean --why broke?"),
    ("restring 3D --broke-at lever", "Did you mean --broke-at 'disc or lever'?"), ("note regulate", "Did you mean regulated?"),
    ("note climate --humidity 35%", "--humidity takes a number, as in --humidity 35, not '35%'."),
    ("spares add 3D --lead-time 2w", "--lead-time takes a whole number, as in --lead-time 14, not '2w'."),
    ("spares add 3D --lead-time 2weeks", "as in --lead-time 14, not"), ("spares add 3D --lead-time 9days", "as in --lead-time 9, not"),
    ("report --sweep 2026-08-01", "--sweep takes a whole number, as in --sweep 3, not '2026-08-01'."),
    ("spares add 3D 2", "'2' stands where nothing more is taken. Did you mean --count 2?"), ("report 4", "Did you mean --sweep 4?"),
    ("settle 3D found.wav left.wav", "Did you mean --as-left left.wav?"),
    ("settle 3D found.wav --date 5 May", "'May' stands where nothing more is taken. What belongs together goes between quotes."),
    ("restring 3D 4D", "'4D' stands where nothing more is taken. Give one string at a time."),
    ("restring 3D --date 5 May 2026", "'May 2026' stands where nothing more is taken. What belongs together goes between quotes."),
    ("new Grandmothers harp --preset lever-22", "What belongs together goes between quotes."),
    ("note moved to the hall", "What belongs together goes between quotes."), ("spares nothing", "nothing more is taken. See"),
    ("restring 3D --material wound nylon", "between quotes."), ("habits --lead-time 3 weeks", "Did you mean --lead-time 21?"),
    ("withdraw sweep 3", "SWEEP takes a whole number, as in 3, not 'sweep'."), ("resting", "Did you mean 'restring'? See"),
    ("log witdraw 3D", "No such command 'witdraw'. Did you mean 'withdraw'? See"), ("log lifes", "Did you mean 'lives'?"),
    ("spares chek", "No such command 'chek'. Did you mean 'check'?"), ("log import", "Missing argument"),
    ("habits --lead-time 999999", "--lead-time is at most 730, not 999999."), ("spares add 3D --count 0", "--count is at least 1, not 0."),
    ("habits --tolerance 0.1", "--tolerance is at least 0.5, not 0.1."), ("record --seconds -3", "--seconds is at least 1, not -3."),
    ("withdraw 1000000000", "SWEEP is at most 999999999, not 1000000000."),
    ("restring", "Missing argument"), ("restring 3D --bok x", "No such option: --bok"), ("nonsense", "No such command 'nonsense'"),
])
def test_wrong_use_is_told_in_one_line_with_what_was_meant(run, typed, told):
    """The README promises one line; what was meant is what a person would read out of what was typed."""
    result = run(*typed.split())
    assert result.exit_code == 2 and result.stderr.count("\n") == 1 and not result.stdout
    assert told in result.stderr and result.stderr.startswith("toneprobe: ") and "--help'" in result.stderr
