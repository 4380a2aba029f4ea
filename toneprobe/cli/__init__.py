"""The command line: calls the rooms, prints, sets exit codes. No arithmetic.

One file for each command or group of them; each loads the rooms that it needs only when it runs, so that help is quick.
Exit 0: done. 1: the recording or the book cannot serve, one line on standard error says why. 2: wrong use. 130:
stopped with Ctrl-C.
"""

import gc
import os
import sys
from typing import Annotated

import typer
from typer.core import TyperGroup

from toneprobe import __version__
from toneprobe.cli.bare_season import TakesBareSeason
from toneprobe.cli.demo import demo
from toneprobe.cli.ending import DEBUG, STOPPED, WRONG_USE, ends_well, stop
from toneprobe.cli.export import export
from toneprobe.cli.habits import habits
from toneprobe.cli.log import log
from toneprobe.cli.measure import measure
from toneprobe.cli.new import new
from toneprobe.cli.note import note
from toneprobe.cli.ready import ready
from toneprobe.cli.record import record
from toneprobe.cli.report import report
from toneprobe.cli.restring import restring
from toneprobe.cli.settle import settle
from toneprobe.cli.spares import spares
from toneprobe.cli.streams import fit_streams
from toneprobe.cli.sweep import sweep
from toneprobe.cli.withdraw import withdraw
from toneprobe.cli.wrong_use import HELP_ITSELF, UsageError, wrong_use_words
from toneprobe.threads import use_one_thread


class InOrder(TyperGroup):
    """Help lists the commands as COMMANDS has them, those with several parts among the others."""

    def list_commands(self, ctx):
        return list(COMMANDS)

    def invoke(self, ctx):
        try:
            return super().invoke(ctx)
        except UsageError as error:
            if type(error).__name__ == HELP_ITSELF:
                raise
            stop(wrong_use_words(error), WRONG_USE)


app = typer.Typer(name="toneprobe", cls=InOrder, no_args_is_help=True, add_completion=False, rich_markup_mode=None,
                  pretty_exceptions_enable=False, context_settings={"help_option_names": ["-h", "--help"]})

# In the order in which help lists them.
COMMANDS = {"demo": demo, "new": new, "record": record, "sweep": sweep, "report": report, "restring": restring, "settle": settle,
            "log": log, "spares": spares, "ready": ready, "note": note, "habits": habits, "withdraw": withdraw, "measure": measure,
            "export": export}
SELDOM = 50_000  # new things after which rubbish is looked for; in a program that soon ends more often is a twelfth of the time


def _version(wanted: bool) -> None:
    if wanted:
        print(f"toneprobe {__version__}", flush=True)
        raise typer.Exit


@app.callback()
def options(
    version: Annotated[bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version and stop.")] = False,
    debug: Annotated[bool, typer.Option("--debug", help="Show where in the program an unexpected fault happened.")] = False,
) -> None:
    """Hears a recorded sweep of plucks and says which strings of a harp are dead, false, on the way or fine."""
    if debug:
        os.environ[DEBUG] = "1"


for _name, _command in COMMANDS.items():
    if isinstance(_command, typer.Typer):
        app.add_typer(_command, name=_name)
    else:
        app.command(_name, cls=TakesBareSeason if _name == "report" else None)(ends_well(_command, _name))


def main() -> None:
    gc.set_threshold(SELDOM)
    fit_streams()
    use_one_thread()
    try:
        app()
    except KeyboardInterrupt:  # while the commands are made ready: one that runs is ended by typer
        sys.exit(STOPPED)
    except OSError as error:  # help and version alone: whatever a command could not write, it says itself
        sys.exit(f"toneprobe: could not write ({error.strerror or error})")
