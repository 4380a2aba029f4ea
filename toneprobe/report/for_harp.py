"""A screen for a book with several harps: commands in its text name the harp that they are for."""

from collections.abc import Iterable
from typing import Any

from rich.console import Console, ConsoleOptions, RenderableType
from rich.segment import Segment
from rich.text import Text

from toneprobe.commands import for_harp


class HarpConsole(Console):
    """A console that puts every text through `commands.for_harp` before wrapping it."""

    def __init__(self, *, harp_option: str = "", **settings: Any) -> None:
        super().__init__(**settings)
        self.harp_option = harp_option

    def render(self, renderable: RenderableType, options: ConsoleOptions | None = None) -> Iterable[Segment]:
        return super().render(self._named(renderable), options)

    def _named(self, thing: RenderableType) -> RenderableType:
        if not isinstance(thing, Text) or (told := for_harp(thing.plain, self.harp_option)) == thing.plain:
            return thing
        return Text(told, style=thing.style, justify=thing.justify, overflow=thing.overflow, no_wrap=thing.no_wrap, end=thing.end)
