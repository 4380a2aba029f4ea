"""Codecs that round every sample to a few bits: ADPCM, µ-law, A-law, and the telephone's GSM.

Their steps grow with the sound, so the rounding makes a noise that goes with it, 25 to 40 dB below, most of it at the sums and differences
of its partials; what is softer than the least step (−66 to −73 dBFS) is gone. No rate tells of that: four bits at 44.1 kHz are 176 kbit/s.
"""

from __future__ import annotations

WORDS = {"IMA_ADPCM": "IMA ADPCM", "MS_ADPCM": "MS ADPCM", "NMS_ADPCM": "NMS ADPCM", "VOX_ADPCM": "VOX ADPCM", "G721": "G.721 ADPCM",
         "G723": "G.723 ADPCM", "ULAW": "µ-law", "ALAW": "A-law", "GSM610": "GSM"}  # how libsndfile's names for them begin …
FFMPEG_WORDS = {"adpcm_": "ADPCM", "pcm_mulaw": "µ-law", "pcm_alaw": "A-law", "gsm": "GSM"}  # … and FFmpeg's


def coarse_codec(codec: str) -> str | None:
    """What a player calls the codec, "MS ADPCM", where it is one of these. codec: "wav/MS_ADPCM", or its last part."""
    name = codec.rpartition("/")[2]
    return next((word for begins, word in (WORDS | FFMPEG_WORDS).items() if name.startswith(begins)), None)
