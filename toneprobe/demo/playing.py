"""One sweep of the story, played and recorded into a FLAC file."""

from __future__ import annotations

from pathlib import Path

from toneprobe.demo.story import DAYS, PLAYER, recorder_of, story_instrument, strings_on, sweep_seed
from toneprobe.synth.sweep import render_sweep


def play_sweep(sweep: int, folder: Path) -> Path:
    """Render sweep 0 to 3 into the folder; the file is named after the day. Same sweep, same samples."""
    import soundfile

    played = render_sweep(story_instrument(), strings_on(sweep), player=PLAYER, recorder=recorder_of(sweep), seed=sweep_seed(sweep))
    path = folder / f"{DAYS[sweep].isoformat()}.flac"
    soundfile.write(path, played.samples, played.rate_hz, subtype="PCM_24")
    return path
