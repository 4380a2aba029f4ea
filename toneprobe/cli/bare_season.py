"""`--season` alone, or with a year after it: an option whose value may be left out."""

from collections.abc import Iterator, Sequence

from typer.core import TyperCommand

LAST = "last"  # the year up to the latest sweep


class TakesBareSeason(TyperCommand):
    """Reads `--season` without a year as the last one."""

    def parse_args(self, ctx, args):
        return super().parse_args(ctx, list(season_named(args)))


def season_named(arguments: Sequence[str]) -> Iterator[str]:
    """The arguments, with LAST after a `--season` that no year follows."""
    for place, argument in enumerate(arguments):
        yield argument
        following = arguments[place + 1 : place + 2]
        if argument == "--season" and (not following or following[0].startswith("-")):
            yield LAST
