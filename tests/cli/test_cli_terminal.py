"""What a real terminal shows on standard error: lines broken between words, and how far the measuring is, in plain text."""

import io
import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from toneprobe.cli.screen import level_meter, progress

fcntl = pytest.importorskip("fcntl", reason="a terminal of our own making is POSIX's")
BAD = Path(__file__).parents[2] / "fixtures" / "bad"
REFUSED = ["log", "C5"]  # one of the longer refusals, of a command that starts soon


class Terminal(io.StringIO):
    """A stream that says it is a terminal and has no number."""

    def isatty(self):
        return True


def on_terminal(arguments, width, environment):
    """Run the program with standard error on a terminal of that width; gives what it wrote there."""
    import pty
    import struct
    import termios

    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, width, 0, 0))
    program = [sys.executable, "-c", "from toneprobe.cli import main; main()", *arguments]
    with subprocess.Popen(program, stdout=subprocess.PIPE, stderr=theirs, env=environment):
        os.close(theirs)
        said = bytearray()
        while True:
            try:
                some = os.read(ours, 4096)
            except OSError:  # the program has ended
                break
            if not some:
                break
            said += some
    os.close(ours)
    return said.decode().replace("\r\n", "\n")


@pytest.fixture
def environment(begun):
    return {**os.environ, "TONEPROBE_BOOK": str(begun(["new", "Wren", "--preset", "pedal-47"]))}


@pytest.mark.parametrize("width", [30, 80])
def test_a_reason_is_one_paragraph_as_wide_as_the_terminal(run, environment, width):
    """The same words as where no terminal is, none cut, and no line that the next word would have fitted on."""
    in_a_line = run(*REFUSED).stderr
    said = on_terminal(REFUSED, width, environment)
    assert in_a_line.count("\n") == 1 and len(in_a_line) > 80
    lines = said.rstrip("\n").split("\n")
    assert len(lines) > 1 and max(map(len, lines)) <= width and said.startswith("toneprobe: C5 can mean")
    assert said.split() == in_a_line.split()
    assert all(len(line) + 1 + len(after.split()[0]) > width for line, after in zip(lines, lines[1:], strict=False))


def test_a_long_name_is_not_cut(environment, tmp_path):
    name = "a-long-name-" * 5 + ".wav"
    said = on_terminal(["measure", str(tmp_path / name), "--instrument", "pedal-47"], 40, environment)
    assert said.startswith("toneprobe:") and name in said


def test_where_no_terminal_is_the_reason_is_one_line(environment):
    done = subprocess.run([sys.executable, "-c", "from toneprobe.cli import main; main()", *REFUSED], env={**environment, "COLUMNS": "40"},
                          capture_output=True, text=True)
    assert done.stderr.count("\n") == 1 and len(done.stderr) > 80


def shown_on(terminal, width=80):
    """What is left to see on that line in the end, and all that was shown on it one after the other."""
    seen, texts, at = [" "] * width, [], 0
    for part in terminal.getvalue().split("\r"):
        seen[: len(part)] = part
        texts.append("".join(seen).rstrip())
        at = len(part)
    assert at == 0  # what follows starts at the left
    return texts


def test_progress_is_words_that_change_in_place(monkeypatch):
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    with progress("Measuring plucks") as step:
        for done in (9, 10, 52):
            step(done, 141)
        step(3, 7)  # the next recording: shorter, nothing of the longer line may stay
    texts = shown_on(terminal)
    assert [text for text in texts if text] == ["Measuring plucks: 9 of 141", "Measuring plucks: 10 of 141", "Measuring plucks: 52 of 141",
                                                "Measuring plucks: 3 of 7"]
    assert texts[-1] == ""  # wiped away
    assert terminal.getvalue().isascii() and "\x1b" not in terminal.getvalue() and "\n" not in terminal.getvalue()


def test_progress_is_wiped_away_when_the_measuring_breaks_off(monkeypatch):
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    with pytest.raises(ZeroDivisionError), progress("Measuring plucks") as step:
        step(1, 2)
        step(1 // 0, 2)
    assert shown_on(terminal)[-1] == ""


def test_the_level_is_plain_text_too(monkeypatch):
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    with level_meter() as show:
        show(5.2, 0.5)
        show(65.9, 1.2)
    assert [text for text in shown_on(terminal) if text] == [
        f"0:05  [{'=' * 20}{' ' * 20}]", f"1:05  [{'=' * 40}]  too loud"]


def test_nothing_is_shown_where_no_terminal_is(monkeypatch):
    stream = io.StringIO()
    monkeypatch.setattr(sys, "stderr", stream)
    with progress("Measuring plucks") as step, level_meter() as show:
        step(1, 2)
        show(1.0, 0.5)
    assert stream.getvalue() == ""


def test_a_real_terminal_shows_how_far_it_is(environment):
    said = on_terminal(["measure", str(BAD.parent / "three_plucks.flac"), "--instrument", "pedal-47"], 80, environment)
    assert re.search(r"\rMeasuring plucks: (\d) of \1 *\r", said) and "\x1b" not in said and said.isascii()


def test_columns_hold_where_only_ascii_can_be_shown(environment):
    """As on any other screen, sign for sign: a flat is a b, nothing is a dash, and no column moves."""
    def shown(encoding):
        program = [sys.executable, "-c", "from toneprobe.cli import main; main()", "log"]
        done = subprocess.run(program, env={**environment, "PYTHONIOENCODING": encoding}, capture_output=True, check=True)
        return done.stdout.decode(encoding)

    usual, plain = shown("utf-8"), shown("ascii")
    assert "C♭1" in usual and plain == usual.replace("♭", "b").replace("–", "-").replace("−", "-")
    assert shown("cp1252") == plain


@pytest.mark.parametrize("closing, code", [("log --book {0} >&-", 0), ("log C5 --book {0} 2>&-", 2), ("log --book {0} >/dev/full", 1),
                                           ("log --help >/dev/full", 1), ("--version >/dev/full", 1)])
@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no device that is always full")
def test_where_nothing_can_be_shown_it_ends_without_a_traceback(begun, monkeypatch, closing, code):
    monkeypatch.delenv("TONEPROBE_DEBUG", raising=False)
    program = f"{shlex.quote(sys.executable)} -c 'from toneprobe.cli import main; main()'"
    book = shlex.quote(str(begun(["new", "Wren", "--preset", "lever-22"])))
    done = subprocess.run(f"{program} {closing.format(book)}", shell=True, capture_output=True, text=True)
    assert done.returncode == code and "Traceback" not in done.stderr
    assert code != 1 or "could not write (" in done.stderr
