"""The gain judged again once it is known what else sounded: a word, a click, a tone from next door comes and goes by itself.

Such a sound may end as a gate shuts, or its end at a pluck may look like a gain turned down, so these moments are left out of the signs. If
too few are left, it cannot be told.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from toneprobe.audio.gain import rides_gain
from toneprobe.audio.gaps import lost_frames
from toneprobe.audio.recording import Recording
from toneprobe.audio.remark import GAIN_MOVES
from toneprobe.audio.spectrum import take_spectra
from toneprobe.audio.survey import FRAME_S, decibels, frame_blocks, frame_length, frame_levels

BESIDE_S = 0.2  # a sound may begin and end so far outside what is known of it


def without_foreign_gain(recording: Recording, foreign_s: Sequence[tuple[float, float]]) -> Recording:
    """The recording without the remark that its gain moves where only other sounds say so. foreign_s: start and end of each."""
    quality, source = recording.quality, recording.source
    if not quality.gain_riding or not foreign_s:
        return recording
    n_frame = frame_length(recording.rate_hz)
    rows = (block[:, [recording.source_channel]].T for block in frame_blocks(source, n_frame))
    powers, swings, _ = zip(*(frame_levels(row, n_frame) for row in rows), strict=True)
    power, still = np.concatenate(powers, axis=1)[0], np.concatenate(swings, axis=1)[0] == 0.0
    no_frames = np.zeros(power.size, bool)
    spectra = take_spectra(source, recording.source_channel, n_frame=n_frame, loud=no_frames, quiet_starts=np.empty(0, int))
    foreign = no_frames.copy()
    for start_s, end_s in foreign_s:
        foreign[max(0, int((start_s - BESIDE_S) / FRAME_S)): int((end_s + BESIDE_S) / FRAME_S) + 1] = True
    told = rides_gain(decibels(power), decibels(spectra.bands), floor_db=quality.noise_floor_db, still=still, lsb=source.lsb,
                      foreign=foreign, lost=lost_frames(recording.gaps_at, n_frame=n_frame, n_frames=power.size))
    if told:
        return recording
    remarks = tuple(one for one in recording.remarks if one.kind != GAIN_MOVES)
    quality = replace(quality, gain_riding=told, warnings=tuple(one.text for one in remarks))
    return replace(recording, quality=quality, remarks=remarks)
