"""The year through the same functions as the commands: a harp into a book, four sweeps checked, a string change logged."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from toneprobe.book import read
from toneprobe.book.connect import Book
from toneprobe.book.entries import Harp, SweepRecord
from toneprobe.book.opening import create_book
from toneprobe.book.stringing import add_harp
from toneprobe.checkup import Swept, check
from toneprobe.demo.score import Score, score_sweep
from toneprobe.demo.story import BROKE_ON, BROKEN, DAYS, HARP, PLAYER, PRESET, recorder_of, story_instrument, strings_on, sweep_seed
from toneprobe.errors import ToneprobeError
from toneprobe.hearing import Heard, hear
from toneprobe.judging.fresh_choice import FreshWish
from toneprobe.synth.sweep import render_sweep
from toneprobe.upkeep.string_change import StringChange, change_string
from toneprobe.workers import shared_out, usable_cores

Told = Callable[[str], None]


@dataclass(frozen=True)
class Year:
    book: Book
    harp: Harp
    records: tuple[SweepRecord, ...]
    scores: tuple[Score, ...]  # of the sweeps after the fresh one


def live_year(folder: Path, *, tell: Told) -> Year:
    """Play, hear and judge the four sweeps. The folder must be new or empty; it gets `recordings/` and `book/`."""
    recordings = _prepare(folder)
    book = create_book(folder / "book")
    harp = add_harp(book, HARP, story_instrument(), preset=PRESET)
    with shared_out(recordings, processes=usable_cores()) as each:
        records = tuple(_check(book, harp, sweep, heard, tell) for sweep, heard in enumerate(each(_play_and_hear, range(len(DAYS)))))
    scores = tuple(score_sweep(sweep, _verdicts(book, records[sweep])) for sweep in range(1, len(DAYS)))
    return Year(book, harp, records, scores)


def _prepare(folder: Path) -> Path:
    try:
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise ToneprobeError(f"{folder} is there already: name a new or an empty folder")
        (folder / "recordings").mkdir(parents=True)
    except OSError as error:
        raise ToneprobeError(f"{folder} cannot be made: {error.strerror or error}") from error
    return folder / "recordings"


def _play_and_hear(recordings: Path, sweep: int) -> Heard:
    """Sweep 0 to 3 rendered into a FLAC file named after its day, and heard. Same sweep, same samples."""
    import soundfile

    played = render_sweep(story_instrument(), strings_on(sweep), player=PLAYER, recorder=recorder_of(sweep), seed=sweep_seed(sweep))
    path = recordings / f"{DAYS[sweep].isoformat()}.flac"
    soundfile.write(path, played.samples, played.rate_hz, subtype="PCM_24")
    return hear(path, story_instrument())


def _check(book: Book, harp: Harp, sweep: int, heard: Heard, tell: Told) -> SweepRecord:
    day = DAYS[sweep]
    changed = sweep > 0 and DAYS[sweep - 1] < BROKE_ON <= day
    if changed:
        tell(f"{BROKE_ON}: string {BROKEN} broke and was replaced")
        change_string(book, harp, StringChange(BROKEN, BROKE_ON, why="broke"))
    fresh_for = frozenset({BROKEN} if changed else ())
    swept = Swept((Path(heard.recording.path),), day, harp.instrument, FreshWish(all=sweep == 0, named=fresh_for))
    record = check(book, harp, swept, today=day, listen=lambda *_, **__: heard).record
    tell(f"{day}: sweep {record.id}, {len(heard.plucks)} plucks in {heard.recording.duration_s / 60:.1f} minutes")
    return record


def _verdicts(book: Book, record: SweepRecord) -> dict[str, str]:
    return {one.condition.string: one.condition.verdict for one in read.conditions_of(book, record.id)}
