"""What codecs do to the verdicts: python tests/benchmarks/lossy_codecs.py [--quick]

Sweeps of real plucks (`heard_sweeps`), heard from files that PyAV's and libsndfile's encoders made, one channel, at so many kbit/s: a
healthy later sweep, one with six of 24 strings at half their ring, and one with six whose partials lie 8 cents astray. Each is judged
twice, as if nobody knew of the codec and with what the file tells. Counted are healthy strings called dead or false, or unsure, in all
sweeps of a row, and how many faulty ones were named (and watched). One harp, one codec's make and one drawing of each sweep; another
encoder at the same rate may be better or worse, and nothing is told of a file that was compressed once and stored again. --quick: only
none, AAC 24, Opus 16 and MP3 32. Takes six minutes, quick two.
"""

import argparse
import tempfile
from collections import Counter
from dataclasses import replace
from pathlib import Path

import av
import numpy as np
import soundfile
from sounds import heard_sweeps as sweeps
from sounds.heard_sweeps import ASTRAY, HALF_RING, NOTHING, Told

ENCODERS = {"AAC": ("aac", "m4a", 44100), "Opus": ("libopus", "opus", 48000), "MP3": ("libmp3lame", "mp3", 44100),
            "Vorbis": ("", "ogg", 44100), "WMA": ("wmav2", "wma", 44100), "MS ADPCM": ("adpcm_ms", "wav", 44100),
            "A-law": ("pcm_alaw", "wav", 44100)}
PLAIN = ("none", 0)
IN_FULL = (PLAIN, ("AAC", 24), ("Opus", 16), ("MP3", 32), ("AAC", 64), ("Opus", 64), ("MP3", 64))
ONE_SWEEP = (("Opus", 12), ("MP3", 48), ("Vorbis", 45), ("AAC", 32), ("AAC", 48), ("Opus", 24), ("Opus", 48), ("WMA", 32), ("MS ADPCM", 0),
             ("A-law", 0))
FRESH_TOO = (("AAC", 24), ("Opus", 16))
N_QUICK = 4
FAULTS = {"nothing": (NOTHING, ""), "half its ring": (HALF_RING, "dead"), "8 cents": (ASTRAY, "false")}


def encode(samples: np.ndarray, path: Path, name: str, kbit_s: int) -> None:
    """A file of one channel; kbit_s 0: the codec has one rate only. Vorbis by libsndfile, as few bits as it gives, whatever is asked."""
    codec, _, rate_hz = ENCODERS[name]
    if name == "Vorbis":
        with soundfile.SoundFile(path, "w", rate_hz, 1, format="OGG", subtype="VORBIS", compression_level=1.0) as file:
            for first in range(0, len(samples), rate_hz):  # it breaks down over many at once
                file.write(samples[first : first + rate_hz])
        return
    with av.open(str(path), "w") as container:
        stream = container.add_stream(codec, rate=rate_hz, layout="mono", **({"bit_rate": 1000 * kbit_s} if kbit_s else {}))
        to_codec = av.AudioResampler(stream.codec_context.format.name, "mono", rate_hz, stream.codec_context.frame_size or 1024)
        frame = av.AudioFrame.from_ndarray(samples[np.newaxis].astype(np.float32), format="fltp", layout="mono")
        frame.sample_rate = sweeps.RATE_HZ
        for resampled in (*to_codec.resample(frame), *to_codec.resample(None)):
            container.mux(stream.encode(resampled))
        container.mux(stream.encode(None))


def told_through(codec: tuple[str, int], samples: np.ndarray) -> Told:
    if codec == PLAIN:
        return sweeps.told(samples)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"sweep.{ENCODERS[codec[0]][1]}"
        encode(samples, path, *codec)
        return sweeps.told(path)


def not_knowing(told: Told):
    """What is known of a recording, but for its codec."""
    return replace(told.capture, quality=replace(told.recording.quality, codec_kbit_s=None, coarse_codec=None))


def row(name: str, later: dict[str, Told], fresh: Told) -> str:
    """later: sweeps by name of the fault."""
    healthy, found = {False: Counter(), True: Counter()}, {}
    for fault, told in later.items():
        bad, wanted = sweeps.faulty() if FAULTS[fault][0] else (), FAULTS[fault][1]
        for knows in (False, True):
            captures = None if knows else (not_knowing(told), not_knowing(fresh))
            of_bad, well = sweeps.counted(sweeps.judged(told, fresh, captures), bad)
            healthy[knows] += well
            found[fault, knows] = f"{of_bad[wanted]} ({of_bad['watch']})" if bad else ""
    called, unsure = ([sum(healthy[knows][one] for one in which) for knows in (False, True)]
                      for which in (("dead", "false"), ("unsure",)))
    told = [f"{found[fault, False]} → {found[fault, True]}" if fault in later else "" for fault in ("half its ring", "8 cents")]
    return f"| {name} | {called[0]} → {called[1]} of {healthy[True].total()} | {told[0]} | {told[1]} | {unsure[0]} → {unsure[1]} |"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--quick", action="store_true")
    is_quick = parser.parse_args().quick
    made = {fault: sweeps.sound(2, done, seed=seed) for seed, (fault, (done, _)) in enumerate(FAULTS.items(), start=2)}
    take_1 = sweeps.sound(1)
    fresh, later = sweeps.told(take_1), {}
    print("| codec, kbit/s | healthy called | half its ring: dead (watched) | 8 cents: false (watched) | healthy unsure |")
    print("|---|---:|---:|---:|---:|")
    for codec in IN_FULL[:N_QUICK] if is_quick else IN_FULL:
        later[codec] = {fault: told_through(codec, samples) for fault, samples in made.items()}
        print(row(f"{codec[0]} {codec[1] or ''}".strip(), later[codec], fresh), flush=True)
    for name, kbit_s in () if is_quick else ONE_SWEEP:
        told = {"nothing": told_through((name, kbit_s), made["nothing"])}
        print(row(f"{name} {kbit_s or ''}".strip() + ", one sweep", told, fresh), flush=True)
    for codec in () if is_quick else FRESH_TOO:
        fresh_so = told_through(codec, take_1)
        name = f"{codec[0]} {codec[1]}"
        print(row(f"fresh in {name}, later without loss", later[PLAIN], fresh_so), flush=True)
        print(row(f"fresh and later in {name}", later[codec], fresh_so), flush=True)


if __name__ == "__main__":
    main()
