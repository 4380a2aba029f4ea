"""Plain sentences for the player: what a recording has lost, what that means, and what to do about it."""

from collections.abc import Sequence

from toneprobe.audio.failing import Failing
from toneprobe.audio.remark import CRUSHED, EIGHT_BITS, GAIN_MOVES, TOO_NOISY, Remark
from toneprobe.audio.survey import FRAME_S
from toneprobe.limits import LEAST_KBIT_S, LEAST_REACH_HZ

LEAST_RANGE_DB = 30.0
FEW_BITS = "few bits a sample"  # to which a recording is compressed
AS_PCM = "Set the recorder to PCM (WAV or FLAC) of 16 or 24 bits"
WITHOUT_LOSS = "Record without loss (WAV or FLAC), or at 128 kbit/s and more"
HARMLESS_CUT_HZ = 18_000.0  # what lies above is heard by few and no use for judging a string (common practice)


def remarks_on_channels(failing: Sequence[Failing], *, channel: int, n_channels: int) -> list[Remark]:
    """Which channels fail part-way, when, and whether the one in use, `channel` (0-based), holds."""
    names = ("the left channel", "the right channel") if n_channels == 2 else tuple(f"channel {n}" for n in range(1, n_channels + 1))
    told = []
    for one in failing:
        at = f"the pluck at {one.frame * FRAME_S:.0f} s"
        when, than = (f"from {at} on", "before") if one.fall_db > 0.0 else (f"until {at}", "afterwards")
        told.append(f"{names[one.channel]} fails: {when} its plucks stand {abs(one.fall_db):.0f} dB lower beside those of "
                    f"{names[one.against]} than {than} (a loose plug, a cable, a switch?).")
    if any(one.channel == channel for one in failing):
        told.append("no channel holds all through, so what was plucked meanwhile may be lost: record again.")
    elif failing:
        told.append(f"{names[channel]} is used for all of the recording.")
    return [Remark(" ".join(text[0].upper() + text[1:] for text in told))] if told else []


def remarks_on_sound(*, clipped_s: float, range_db: float | None, hum: tuple[float, float] | None, n_gaps: int) -> list[Remark]:
    """What is wrong with the sound itself and what to do. clipped_s: overload in all; hum: its frequency in Hz and level in dBFS."""
    found = []
    if clipped_s:
        found.append(Remark(f"The recording is overloaded, {clipped_s:.2g} s in all: the loudest attacks are cut flat, so their brightness "
                            "and decay cannot be trusted. Lower the input level or move the microphone away, and record again."))
    if n_gaps:
        gaps = "a gap" if n_gaps == 1 else f"{n_gaps} gaps"
        found.append(Remark(f"The recording has {gaps} (drop-outs: the recorder lost some of the sound). A pluck is measured up to the "
                            "first one in it. Try another card or cable, or close other programs, and record again."))
    if range_db is not None and range_db < LEAST_RANGE_DB:
        found.append(Remark(f"The plucks stand only {range_db:.0f} dB above the background, so decay and the upper partials are lost "
                            "early. Record nearer to the strings or in a quieter room.", TOO_NOISY))
    if hum:
        found.append(Remark(f"Mains hum at {hum[0]:.0f} Hz and its multiples stands out ({hum[1]:.0f} dBFS). It is taken out before "
                            "anything is measured, as far as it can be followed; low strings near these lines may still suffer. Move "
                            "cables and lamps away from the microphone, or run the recorder on its battery."))
    return found


def remarks_on_recorder(*, low_cut_hz: float | None, high_cut_hz: float | None, rate_hz: int, gain_riding: bool | None,
                        eight_bits: bool, codec_kbit_s: float | None, coarse: str | None) -> list[Remark]:
    """What the recorder or the file's format takes away and what to do, a sentence or two each."""
    found = []
    crushed = codec_kbit_s is not None and codec_kbit_s < LEAST_KBIT_S
    if coarse:
        found.append(Remark(f"It is compressed to {FEW_BITS} ({coarse}): a noise goes with the sound, so of each string only the loud "
                            f"partials can be trusted. {AS_PCM}.", CRUSHED))
    elif crushed:
        found.append(Remark(f"It is compressed to {codec_kbit_s:.0f} kbit/s a channel: what is quiet in the sound is left out or made up, "
                            f"so of each string only the loud partials can be trusted. {WITHOUT_LOSS}.", CRUSHED))
    if low_cut_hz:
        found.append(Remark(f"The recorder removed what lies below about {low_cut_hz:.0f} Hz: the fundamentals of the lower strings are "
                            "missing. Switch off its low cut or voice filter, or use another recorder."))
    reach_hz = high_cut_hz or rate_hz / 2.0
    if high_cut_hz and high_cut_hz < HARMLESS_CUT_HZ:
        found.append(Remark(f"There is nothing above about {high_cut_hz:.0f} Hz: brightness and the upper partials can only be judged "
                            "up to there. Record without loss (WAV or FLAC) and without a voice filter."))
    elif reach_hz < LEAST_REACH_HZ:
        found.append(Remark(f"At {rate_hz} samples a second nothing above {reach_hz:.0f} Hz is recorded: brightness and the upper partials "
                            "can only be judged up to there. Set the recorder to 44100 or 48000."))
    if eight_bits:
        found.append(Remark("It was recorded with eight bits: their steps swallow what rings on quietly, so decay cannot be trusted and "
                            "soft strings may be lost. Set the recorder to 16 or 24 bits.", EIGHT_BITS))
    elif gain_riding:
        codec = ", or its compression does" if crushed or coarse else ""
        found.append(Remark(f"The recorder changes its gain by itself, or fades or cuts the quiet parts{codec}: decay and loudness "
                            "cannot be trusted. Switch off automatic gain and noise suppression, or use another recorder.", GAIN_MOVES))
    return found
