"""What a recording can and cannot carry, from the first pass and a second one over the channel in use."""

import numpy as np

from toneprobe.audio.band import band_grid, band_levels_db, find_high_cut, find_low_cut, is_dense
from toneprobe.audio.codecs import kbit_s
from toneprobe.audio.floor import find_floor, is_steady, quiet_seconds
from toneprobe.audio.gain import rides_gain
from toneprobe.audio.gaps import lost_frames
from toneprobe.audio.hum import find_hum
from toneprobe.audio.recording import Quality
from toneprobe.audio.remark import Remark
from toneprobe.audio.remarks import remarks_on_recorder, remarks_on_sound
from toneprobe.audio.source import Source
from toneprobe.audio.spectrum import Spectra, take_spectra
from toneprobe.audio.survey import Survey, decibels

LOUD_BELOW_DB = 30.0  # frames within this of the loudest (99th percentile), and above the quiet ones, are the sound
EIGHT_BIT_STEP = 2.0**-7  # of full scale: what rings on below it is gone, dithered or not it hides the floor from the gain's signs
LOSSY_DIGITAL_DB = -150.0  # density per Hz below which decoded noise is as good as nothing


def judge_quality(survey: Survey, source: Source, source_channel: int, *, channel: int, remarks: tuple[Remark, ...],
                  coarse: str | None) -> tuple[Quality, tuple[Remark, ...]]:
    """Quality of one channel, and all remarks on it, `remarks` first. `channel`: as the survey counts, `source_channel`: as the source
    does; `coarse`: as of `coarse_codec`."""
    power, still = survey.frame_power[channel], survey.still[channel]
    level_db = decibels(power)
    floor, quiet = find_floor(power, still)
    floor_db = float(decibels(floor))
    loud_db = float(np.percentile(level_db[~still], 99)) if not still.all() else floor_db
    loud = (level_db > loud_db - LOUD_BELOW_DB) & ~still
    starts = quiet_seconds(quiet)
    steady = is_steady(level_db, starts)  # else nothing is quiet, and the floor is a bound
    spectra = take_spectra(source, source_channel, n_frame=survey.n_frame, loud=loud, quiet_starts=starts)
    hum = find_hum(spectra.quiet_freqs_hz, spectra.quiet)
    low_cut_hz, high_cut_hz = find_band_limits(spectra, source, steady=steady)
    eight_bits = source.lsb >= EIGHT_BIT_STEP
    lost = lost_frames(survey.gaps[channel], n_frame=survey.n_frame, n_frames=power.size)
    gain_riding = None if eight_bits else rides_gain(level_db, decibels(spectra.bands), floor_db=floor_db, still=still, lsb=source.lsb,
                                                     lost=lost)
    clipped_s = float(survey.n_clipped[channel]) / source.rate_hz
    codec_kbit_s = kbit_s(source.coded_bytes, survey.n_samples / source.rate_hz, survey.peak.size) if source.coded_bytes else None
    n_gaps = 0 if source.lossy else len(survey.gaps[channel])  # a codec's own zeros are none
    told = (*remarks, *remarks_on_sound(clipped_s=clipped_s, n_gaps=n_gaps, range_db=loud_db - floor_db if steady else None, hum=hum),
            *remarks_on_recorder(low_cut_hz=low_cut_hz, high_cut_hz=high_cut_hz, rate_hz=source.rate_hz, gain_riding=gain_riding,
                                 eight_bits=eight_bits, codec_kbit_s=codec_kbit_s, coarse=coarse))
    quality = Quality(float(20.0 * np.log10(survey.peak[channel])), clipped_s, floor_db, *(hum or (None, None)), low_cut_hz, high_cut_hz,
                      gain_riding, tuple(one.text for one in told), eight_bits, codec_kbit_s, n_gaps, coarse)
    return quality, told


def find_band_limits(spectra: Spectra, source: Source, *, steady: bool) -> tuple[float | None, float | None]:
    """(low_cut_hz, high_cut_hz), each None where nothing is missing or it cannot be told."""
    grid_hz = band_grid(source.rate_hz)
    sound_db = band_levels_db(spectra.freqs_hz, spectra.sound, grid_hz)
    noise_db = band_levels_db(spectra.quiet_freqs_hz, spectra.quiet.mean(axis=0), grid_hz) if steady else None
    digital_db = LOSSY_DIGITAL_DB if source.lossy else float(decibels(source.lsb**2 / 12.0 / (source.rate_hz / 2.0)))
    high_cut_hz = find_high_cut(grid_hz, noise_db, sound_db, rate_hz=source.rate_hz, digital_db=digital_db,
                                dense_at=lambda hz: is_dense(spectra.freqs_hz, spectra.sound, hz))
    return find_low_cut(grid_hz, noise_db, sound_db), high_cut_hz
