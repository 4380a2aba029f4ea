"""Recordings: any file that a phone or recorder makes, read at its own rate, in pieces, with a statement of its quality.

From top to bottom, a file imports only files above it:

    remark.py          what is to be said of a recording, and what later steps ask of it
    source.py          where samples come from: memory, or a file
    recording.py       the values handed on: a recording, and its quality
    codecs.py          which codecs lose something, and how much
    decoding.py        containers that PyAV knows, decoded once
    beyond_header.py   what lies behind the length that a header states
    header.py          … and where a header is wrong
    drift.py           slow drift taken out
    clipping.py        samples on one flat top
    gaps.py            drop-outs of exact zeros
    hushes.py          … and those under hiss
    breaks.py          all sound gone for good
    floor.py           the quietest stretches
    gain.py            a gain that rides, a gate
    failing.py         a channel that fails part-way
    survey.py          the first pass: all of this, and the channel in use
    spectrum.py        the second pass: power spectra of sound and quiet
    band.py            what was cut off below and above
    hum.py             mains hum told
    hum_removal.py     … and taken out
    remarks.py         all of it in sentences
    quality.py         both passes: what a recording can carry
    opening.py         from a path to a recording: the way in
    gain_again.py      the gain asked once more when it is known what else sounded
    microphone.py      from an input into a file
"""

from toneprobe.audio.codecs import coarse_codec, stored_codec_kbit_s
from toneprobe.audio.gain_again import without_foreign_gain
from toneprobe.audio.hum_removal import without_hum
from toneprobe.audio.opening import open_recording, recording_from_samples
from toneprobe.audio.recording import Quality, Recording
from toneprobe.audio.remark import Remark
