"""What a codec does to the samples: whether it loses anything, rounds every sample to a few bits, or spends few bits on a second.

Codecs that round every sample are ADPCM, µ-law, A-law, and the telephone's GSM. Their steps grow with the sound, so the rounding makes a
noise that goes with it, 25 to 40 dB below, most of it at the sums and differences of its partials; what is softer than the least step (−66
to −73 dBFS) is gone. No rate shows that: four bits at 44.1 kHz are 176 kbit/s.

A codec is given as `Recording` has it, "wav/MS_ADPCM", or by its last part alone: libsndfile's names are upper case, FFmpeg's lower.
"""

COARSE = {"IMA_ADPCM": "IMA ADPCM", "MS_ADPCM": "MS ADPCM", "NMS_ADPCM": "NMS ADPCM", "VOX_ADPCM": "VOX ADPCM", "G721": "G.721 ADPCM",
          "G723": "G.723 ADPCM", "ULAW": "µ-law", "ALAW": "A-law", "GSM610": "GSM",
          "adpcm_": "ADPCM", "pcm_mulaw": "µ-law", "pcm_alaw": "A-law", "gsm": "GSM"}  # how their names begin, and a player's word
LOSSY = ("VORBIS", "OPUS", "MPEG_LAYER_I", "MPEG_LAYER_II", "MPEG_LAYER_III")  # names of libsndfile's lossy formats
LOSSLESS = ("pcm_", "alac", "flac", "wavpack", "tta", "ape", "truehd", "mlp")  # how the names of FFmpeg's lossless codecs begin


def coarse_codec(codec: str) -> str | None:
    """What a player calls a codec that rounds every sample to a few bits, "MS ADPCM"; None for others."""
    name = codec.rpartition("/")[2]
    return next((word for begins, word in COARSE.items() if name.startswith(begins)), None)


def is_lossy(codec: str) -> bool:
    """Whether a codec does not give the samples back as they were."""
    name = codec.rpartition("/")[2]
    loses = name in LOSSY if name.isupper() else not name.startswith(LOSSLESS)
    return loses or coarse_codec(name) is not None


def kbit_s(n_bytes: int, duration_s: float, channels: int) -> float:
    """What a codec spent on a second of one channel, the mean of the recording, in kbit."""
    return 8e-3 * n_bytes / (duration_s * channels)


def stored_codec_kbit_s(codec: str, *, n_bytes: int, duration_s: float, channels: int) -> float | None:
    """`Quality.codec_kbit_s` of a recording measured before that was stored, from its size, a video's picture included."""
    return kbit_s(n_bytes, duration_s, channels) if is_lossy(codec) and duration_s > 0.0 else None
