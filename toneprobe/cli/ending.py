"""How a command ends: done, or with one line on standard error, wrapped where that is a terminal, and the exit code that goes with it."""

import os
import sys
from collections.abc import Callable
from errno import EIO, ENOSPC
from functools import wraps
from textwrap import fill

import typer

from toneprobe.cli.screen import HARP_OPTION, line_width
from toneprobe.commands import for_harp
from toneprobe.errors import ToneprobeError, UsageError, printable

DEBUG = "TONEPROBE_DEBUG"
CANNOT_SERVE, WRONG_USE, STOPPED = 1, 2, 130


def ends_well(command: Callable, name: str) -> Callable:
    """The command, typed as `name`, every error turned into one line: a player's as it is, a fault of the program with how to report it."""

    @wraps(command)
    def run(*args, **kwargs) -> None:
        HARP_OPTION.set("")
        try:
            command(*args, **kwargs)
        except ToneprobeError as error:
            stop(str(error), WRONG_USE if isinstance(error, UsageError) else CANNOT_SERVE)
        except (typer.Exit, typer.Abort):
            raise
        except Exception as error:  # a fault of this program: the player gets a line, not a traceback, unless it was asked for
            if os.environ.get(DEBUG):
                raise
            stop(_unexpected(name, kwargs, error), CANNOT_SERVE)

    return run


def stop(message: str, code: int) -> None:
    """End with that line on standard error, wrapped where that is a terminal; for a program it stays one line."""
    line = f"toneprobe: {for_harp(printable(message, most=None), HARP_OPTION.get())}"
    if sys.stderr.isatty():
        line = fill(line, line_width(sys.stderr), break_long_words=False, break_on_hyphens=False)
    print(line, file=sys.stderr)
    raise typer.Exit(code)


def _unexpected(name: str, given: dict, error: Exception) -> str:
    if isinstance(error, FileNotFoundError) and _is_nowhere():
        return "the folder that you are in is no longer there: go to another one, and try again"
    named = [*(given.get("recordings") or ()), *filter(None, [given.get("recording")])]
    about = f" with {', '.join(map(str, named))}" if named else ""
    if isinstance(error, OSError) and error.filename is None and error.errno in (ENOSPC, EIO):  # its answer as a rule: no file is named
        return f"{name}{about} could not write ({error.strerror}). What it was to do may be done: look before you repeat it"
    what = f"{type(error).__name__}: {error}"[:200].removesuffix(": ")
    return (f"{name}{about} failed unexpectedly ({what}). The book keeps a change whole or not at all; "
            f"'toneprobe --debug {name} …' shows where, for a fault report")


def _is_nowhere() -> bool:
    """Whether the folder in which the program was started was removed: then no name of a file beside it can be read."""
    try:
        os.getcwd()
    except FileNotFoundError:
        return True
    return False
