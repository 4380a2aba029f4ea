"""Commands with several parts: `toneprobe log` shows the log, `toneprobe log import FILE` is one of its parts."""

from collections.abc import Callable

import typer
from typer.core import TyperGroup

from toneprobe.cli.ending import ends_well

SHOW = "show"  # the part that runs where none is named


class ShowsByDefault(TyperGroup):
    """Takes what names none of its parts as the arguments of `show`."""

    def parse_args(self, ctx, args):
        if not args or (args[0] not in self.commands and args[0] not in ("-h", "--help")):
            args = [SHOW, *args]
        return super().parse_args(ctx, args)


def group_of(name: str, help_text: str, parts: dict[str, Callable], *, usage: str) -> typer.Typer:
    """The command of that name with its parts, by theirs; one of them is `show`. usage: what may follow its name."""
    group = typer.Typer(cls=ShowsByDefault, help=help_text, subcommand_metavar=usage, rich_markup_mode=None, add_completion=False,
                        pretty_exceptions_enable=False)
    for part, command in parts.items():
        group.command(part)(ends_well(command, name if part == SHOW else f"{name} {part}"))
    return group
