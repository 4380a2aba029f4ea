"""What a string's row opens to: its pictures with what they say in words, its sounds, its log. Made here, printed by the template."""

import base64
import re
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

from toneprobe.errors import BookError
from toneprobe.phrases import listed, one_after_another
from toneprobe.report.clips import page_clips
from toneprobe.report.figures import sketcher
from toneprobe.report.figures.small import Sketcher
from toneprobe.report.fitting_words import fitting_line
from toneprobe.report.picture_words import PICTURES
from toneprobe.report.string_view import StringView

N_THREADS = 2  # compressing sound releases Python's lock, so drawing goes on beside it

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
    pictures: tuple[Picture, ...]
    sounds: tuple[Sound, ...]
    lost: tuple[str, ...] = ()  # labels of sounds that the book should have and cannot give

    @property
    def log(self) -> tuple[str, ...]:
        """What was on this position, the newest first."""
        return tuple(map(fitting_line, reversed(self.one.fittings)))

    @property
    def listen_for(self) -> str:
        """What to listen for in both sounds, by the verdict; of a watched string by the larger of its scores."""
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
        heard = [pool.submit(_sounds, one) for one in strings]
        pictures = [_pictures(one, sketch) for one in strings]
    return tuple(Panel(one, drawn, *future.result()) for one, drawn, future in zip(strings, pictures, heard, strict=True))


def anchor(one: StringView) -> str:
    """A name for links that is unique on the page and harmless, whatever the string is called."""
    return f"s{one.place}-{re.sub('[^A-Za-z0-9]', '', one.name)[:12]}"


def _pictures(one: StringView, sketch: Sketcher) -> tuple[Picture, ...]:
    made = []
    for kind, (title_of, words_of) in PICTURES.items():
        title, words = title_of(one), words_of(one)
        made.append(Picture(title, sketch(one, kind, f"{title}, string {one.name}. {words}", f"{anchor(one)}-{kind}"), words))
    return tuple(made)


def _sounds(one: StringView) -> tuple[tuple[Sound, ...], tuple[str, ...]]:
    """The string's sounds, and the labels of those that the book has lost."""
    clips, lost = [], []
    for label, source in (("fresh", one.clip_fresh), ("now", one.clip_now)):
        try:
            clips.append(source() if source else None)
        except BookError:
            clips.append(None)
            lost.append(label)
    pair = page_clips(*clips, pitch_hz=one.spec.expected_hz)
    return tuple(Sound(label, f"data:audio/mpeg;base64,{base64.b64encode(mp3).decode()}")
                 for label, mp3 in zip(("fresh", "now"), pair, strict=True) if mp3), tuple(lost)
