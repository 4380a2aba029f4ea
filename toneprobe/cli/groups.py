"""Commands with several parts: `toneprobe log` shows the log, `toneprobe log import FILE` is one of its parts."""

from collections.abc import Callable
from difflib import get_close_matches

import typer
from typer.core import TyperGroup

from toneprobe.cli.ending import ends_well

SHOW = "show"  # the part that runs where none is named
MISTYPED = 0.75  # from this likeness on a word is a part mistyped; no string's name is so like one (set)


class ShowsByDefault(TyperGroup):
    """Takes what names none of its parts, and is none mistyped, as the arguments of `show`."""

    def parse_args(self, ctx, args):
        if not args or not get_close_matches(args[0], [*self.commands, "-h", "--help"], 1, MISTYPED):
            args = [SHOW, *args]
        return super().parse_args(ctx, args)


def group_of(name: str, help_text: str, parts: dict[str, Callable], *, usage: str) -> typer.Typer:
    """The command of that name with its parts, by theirs; one of them is `show`. usage: what may follow its name."""
    group = typer.Typer(cls=ShowsByDefault, help=help_text, subcommand_metavar=usage, rich_markup_mode=None, add_completion=False,
                        pretty_exceptions_enable=False)
    for part, command in parts.items():
        group.command(part)(ends_well(command, name if part == SHOW else f"{name} {part}"))
    return group
