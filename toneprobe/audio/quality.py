"""What a recording can and cannot carry, from the first pass and a second one over the channel in use."""

from __future__ import annotations

import numpy as np

from toneprobe.audio.recording import Quality
from toneprobe.audio.source import Source
from toneprobe.audio.survey import Survey, decibels


def judge_quality(survey: Survey, source: Source, source_channel: int, *, channel: int, remarks: tuple[str, ...]) -> Quality:
    peak_db = float(20.0 * np.log10(survey.peak[channel]))
    power = survey.frame_power[channel, ~survey.still[channel]]
    floor_db = float(np.percentile(decibels(power), 5))
    return Quality(peak_db, float(survey.n_clipped[channel]) / source.rate_hz, floor_db, None, None, None, None, None, remarks)
