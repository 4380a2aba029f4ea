"""`toneprobe measure`: every pluck of one recording, without a book."""

from pathlib import Path
from typing import Annotated

import typer

from toneprobe.cli.options import A4Option, TuningOption, refuse_overwriting
from toneprobe.cli.screen import progress, screen
from toneprobe.errors import RecordingError
from toneprobe.exchange.writing import require_targets, write_json, write_text
from toneprobe.instrument import load_instrument


def measure(
    recording: Annotated[Path, typer.Argument(metavar="RECORDING", readable=False, help="A recorded sweep: WAV, FLAC, m4a, mp3, …")],
    instrument: Annotated[str, typer.Option("--instrument", metavar="PRESET|FILE.toml", help="A preset (pedal-47) or a harp's own file.")],
    tuning: TuningOption = None,
    a4: A4Option = None,
    json: Annotated[str | None, typer.Option("--json", metavar="FILE|-", help="All figures as JSON; - is standard output.")] = None,
    csv: Annotated[str | None, typer.Option("--csv", metavar="FILE|-", help="One line a pluck as CSV; - is standard output.")] = None,
) -> None:
    """Measure every pluck of a recording; no book needed."""
    from toneprobe.cli.pluck_table import print_plucks
    from toneprobe.exchange.measurement import measurement_document
    from toneprobe.exchange.pluck_rows import pluck_csv
    from toneprobe.hearing import hear
    from toneprobe.workers import usable_cores

    refuse_overwriting([recording], json, csv)
    harp = load_instrument(instrument, tuning=tuning, a4_hz=a4)
    require_targets(json, csv)
    with progress("Measuring plucks") as step:
        heard = hear(recording, harp, progress=step, processes=usable_cores())
    if not heard.plucks:
        raise RecordingError(f"no pluck of {harp.name} was heard in {recording.name}: is it the right recording, {harp.word} and "
                             "tuning?")
    document = measurement_document(heard.recording, harp, heard.identification, heard.plucks)
    if json:
        write_json(document, json)
    if csv:
        write_text(pluck_csv(heard.plucks), csv)
    print_plucks(document, screen(machine_output="-" in (json, csv)))
