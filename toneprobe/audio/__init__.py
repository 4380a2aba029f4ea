"""Recordings: any file that a phone or recorder makes, read at its own rate, in pieces, with a statement of its quality."""

from __future__ import annotations

from toneprobe.audio.coarse import coarse_codec
from toneprobe.audio.gain_again import without_foreign_gain
from toneprobe.audio.hum_removal import without_hum
from toneprobe.audio.opening import open_recording, recording_from_samples, stored_codec_kbit_s
from toneprobe.audio.recording import Quality, Recording
from toneprobe.audio.remark import Remark

__all__ = ["Quality", "Recording", "Remark", "coarse_codec", "open_recording", "recording_from_samples", "stored_codec_kbit_s",
           "without_foreign_gain", "without_hum"]
