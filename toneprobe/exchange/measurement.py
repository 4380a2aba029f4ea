"""`toneprobe.measure/1`: what one recording told, as one JSON object.

{"schema", "recording": {"path", "duration_s", "sample_rate_hz", "channels", "codec", …}, "instrument": {"name", "a4_hz", "tuning"},
 "plucks": [{"string", "note", "onset_s", …}], "unheard": [{"string", "note"}], "warnings": [sentence, …]}

Times in s from the start of the recording, frequencies in Hz, levels in dB (a partial's: relative to the strongest of its pluck).
A pluck's `others` are the lines that were not taken for partials, and what each is likely to be; a partial's beat that another string's
answer explains has that string in `answered_by`. Its `damping` is the smooth law of loss over frequency that its partials' decays follow,
with the decay time that the law gives each, and ln of the measured decay rate over the law's; null with fewer than four decays.
Every figure has its standard error beside it (`…_se`; in a partial before the unit, `freq_se_hz`), which covers what two plucks of one
untouched string differ by. A figure that is null has its reason in `reasons`, and among `flags`. In a partial's row null alone says that it
could not be measured, or that there is none (no beat, no knee).
"""

from collections.abc import Sequence
from dataclasses import asdict

from toneprobe.audio import Recording
from toneprobe.exchange.plain import Document, figure_fields, missing_reasons, number
from toneprobe.identify.named import Identification
from toneprobe.instrument import Instrument
from toneprobe.measure.damping import law_delta
from toneprobe.measure.figure import FIGURES, DampingLaw, Figure, OtherLine, Partial, PluckMeasurement
from toneprobe.remarks.recording import hearing_remarks
from toneprobe.session.place_spread import covering_takes
from toneprobe.typed import clean_text
from toneprobe.units import t60_of_decay

SCHEMA = "toneprobe.measure/1"


def measurement_document(recording: Recording, instrument: Instrument, identification: Identification,
                         plucks: tuple[PluckMeasurement, ...]) -> Document:
    """The whole document, as described above."""
    return {
        "schema": SCHEMA,
        "recording": recording_fields(recording),
        "instrument": {"name": clean_text(instrument.name), "a4_hz": number(instrument.a4_hz), "tuning": instrument.tuning},
        "plucks": [pluck_fields(pluck) for pluck in plucks],
        "unheard": [{"string": string.name, "note": string.note} for string in identification.unheard],
        "warnings": [clean_text(one.text) for one in hearing_remarks(recording, identification, plucks)],
    }


def recording_fields(recording: Recording) -> Document:
    quality = asdict(recording.quality)
    del quality["warnings"]
    return {
        "path": clean_text(recording.path),
        "duration_s": number(recording.duration_s),
        "sample_rate_hz": recording.rate_hz,
        "channels": recording.channels,
        "codec": recording.codec,
        "channel": recording.channel,
        "quality": {name: number(value) if isinstance(value, float) else value for name, value in quality.items()},
    }


def pluck_fields(pluck: PluckMeasurement) -> Document:
    figures = {name: getattr(pluck, name) for name in FIGURES}
    if not pluck.partials:
        figures["snr_db"] = Figure(None, None, "no partial stands out of the noise")
    if pluck.ring_s is None:
        figures["ring_s"] = Figure(None, None, pluck.pitch_hz.reason)
    reasons = missing_reasons(figures)
    fields: Document = {"string": pluck.string, "note": pluck.note, "onset_s": number(pluck.onset_s), "ring_s": number(pluck.ring_s)}
    for name in FIGURES:
        fields |= figure_fields(name, figures[name])
    return fields | {
        "snr_db": number(pluck.snr_db) if pluck.partials else None,
        "sureness": number(pluck.sureness),
        "partials": [line_fields(covering_takes(partial, pluck)) for partial in pluck.partials],
        "others": [line_fields(line) for line in pluck.others],
        "damping": law_fields(pluck.damping, pluck.partials) if pluck.damping else None,
        "flags": list(dict.fromkeys((*pluck.flags, *reasons.values()))),
        "reasons": reasons,
    }


def line_fields(line: Partial | OtherLine) -> Document:
    """A partial, or a line that was not taken for one."""
    as_they_are = ("n", "answered_by", "taken_for")
    return {name: value if name in as_they_are else number(value) for name, value in vars(line).items()}


def law_fields(law: DampingLaw, partials: Sequence[Partial]) -> Document:
    freq_hz = {partial.n: partial.freq_hz for partial in partials}
    shares = {name: number(getattr(law, name)) for name in ("board_per_s", "air_per_s", "inner_per_s", "log_misfit")}
    rows = [{"n": n, "law_t60_s": number(t60_of_decay(law_delta(law, freq_hz[n]))), "log_residual": number(residual)}
            for n, residual in zip(law.n, law.log_residual, strict=True)]
    return shares | {"partials": rows}
