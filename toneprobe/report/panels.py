"""What a string's row opens to: its pictures with what they say in words, its sounds, its log. Made here, printed by the template."""

from __future__ import annotations

import base64
import re
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

from toneprobe.book.entries import Clip
from toneprobe.errors import BookError
from toneprobe.phrases import listed, one_after_another
from toneprobe.report.clips import ClipSource, page_clips
from toneprobe.report.figures import sketcher
from toneprobe.report.figures.small import Sketcher
from toneprobe.report.fitting_words import fitting_line
from toneprobe.report.picture_words import decays_words, history_title, history_words, levels_words, places_title, places_words
from toneprobe.report.string_view import StringView

N_THREADS = 2  # compressing sound leaves Python's lock alone, so drawing goes on beside it


LISTEN_FOR = {
    "dead": "Listen to how long it rings: a dead string falls silent sooner than when it was fresh, and may sound duller.",
    "false": "Listen while it dies away: a false string wavers, or gives no one pitch to tune to.",
}
WATCHED_FOR = {  # by whether its ring or its partials put it on the watch list
    True: "Listen to how long it rings, whether you hear it fall silent sooner than when it was fresh.",
    False: "Listen while it dies away, whether you hear it waver more than when it was fresh.",
}


@dataclass(frozen=True)
class Picture:
    title: str
    svg: str  # "" where there is nothing to draw
    words: str  # what it shows, or why there is none


@dataclass(frozen=True)
class Sound:
    label: str  # "fresh", "now"
    uri: str


@dataclass(frozen=True)
class Panel:
    one: StringView
    anchor: str  # unique on the page, for links
    pictures: tuple[Picture, ...]
    sounds: tuple[Sound, ...]
    log: tuple[str, ...]
    lost: tuple[str, ...] = ()  # sounds, by their labels, that the book should have and cannot give

    @property
    def listen_for(self) -> str:
        """What is to be heard in both sounds, by the verdict; of a watched string by the larger of its scores."""
        condition = self.one.condition
        if len(self.sounds) < 2:
            return ""
        if condition.verdict == "watch":
            return WATCHED_FOR[(condition.dead_score or 0.0) >= (condition.false_score or 0.0)]
        return LISTEN_FOR.get(condition.verdict, "")


def lost_words(made: Sequence[Panel]) -> str:
    """Whose sounds are missing because the book has lost them; "" where none is."""
    names = [f"{panel.one.name} ({one_after_another(panel.lost)})" for panel in made if panel.lost]
    return f"Sounds that the book has lost, or that are damaged in it, are left out: {listed(names)}." if names else ""


def panels(strings: Sequence[StringView]) -> tuple[Panel, ...]:
    """A panel for each string, in order."""
    with sketcher() as sketch, ThreadPoolExecutor(N_THREADS) as pool:
        lost: list[list[str]] = [[] for _ in strings]
        sounds = [pool.submit(page_clips, _noting(one.clip_fresh, "fresh", gone), _noting(one.clip_now, "now", gone),
                              pitch_hz=one.spec and one.spec.expected_hz) for one, gone in zip(strings, lost, strict=True)]
        pictures = [pictures_of(one, sketch) for one in strings]
    return tuple(Panel(one, anchor(one), drawn, _sounds(future.result()), log_of(one), tuple(gone))
                 for one, drawn, future, gone in zip(strings, pictures, sounds, lost, strict=True))


def _noting(source: ClipSource, label: str, lost: list[str]) -> ClipSource:
    """The same source of a sound, which notes its label in `lost` where the book cannot give it."""
    if source is None:
        return None

    def read() -> Clip | None:
        try:
            return source()
        except BookError:
            lost.append(label)
            raise

    return read


def anchor(one: StringView) -> str:
    """A name for links that is unique on the page and harmless, whatever the string is called."""
    return f"s{one.place}-{re.sub('[^A-Za-z0-9]', '', one.name)[:12]}"


def pictures_of(one: StringView, sketch: Sketcher) -> tuple[Picture, ...]:
    """The four small pictures of a string, drawn by a `figures.sketcher`."""
    return tuple(_picture(one, sketch, kind, title_of(one), words_of) for kind, title_of, words_of in KINDS)


def log_of(one: StringView) -> tuple[str, ...]:
    """What was on this position, the newest first."""
    return tuple(fitting_line(fitting) for fitting in reversed(one.fittings))


def _picture(one: StringView, sketch: Sketcher, kind: str, title: str, words_of: Callable[[StringView], str]) -> Picture:
    words = words_of(one)
    return Picture(title, sketch(one, kind, f"{title}, string {one.name}. {words}", f"{anchor(one)}-{kind}"), words)


def _sounds(pair: tuple[bytes | None, bytes | None]) -> tuple[Sound, ...]:
    return tuple(Sound(label, f"data:audio/mpeg;base64,{base64.b64encode(mp3).decode()}")
                 for label, mp3 in zip(("fresh", "now"), pair, strict=True) if mp3)


KINDS = (
    ("levels", lambda _: "How loud its partials start", levels_words),
    ("decays", lambda _: "How long its partials ring", decays_words),
    ("astray", places_title, places_words),
    ("history", history_title, history_words),
)
