"""Where a file's header is wrong about how much the file holds: how that shows, what is read all the same, and the remark on it."""

import os
import re
import struct

from toneprobe.audio.beyond_header import PLAIN, find_beyond, whole_source
from toneprobe.audio.source import Source

CUT_SHORT = ("The file is cut short: its end is missing. What is there is used; "
             "record again if the last strings are missing.")
DAMAGED = ("The file is damaged or cut short: it can be read up to {there_s:.1f} s of {stated_s:.1f} s. What is there is used; "
           "copy it from the recorder again, and record again if strings are missing.")
UNFINISHED = ("The file does not say how long it is: it was never finished, as by a recorder that was switched off too early, or it was "
              "written as it went. The {there_s:.1f} s in it are used; record again if the last strings are missing.")
BREAKS_OFF = ("The file was never finished and breaks off: how long it was is not known. The {there_s:.1f} s that can be read are used; "
              "copy it from the recorder again, and record again if the last strings are missing.")
MORE = "The file holds more than its header says: "
MORE_USED = (MORE + "it states {stated_s} s, and {there_s:.1f} s of sound are there, as where a recorder lost its power. All is used; "
             "if what comes after {stated_s} s is not this sweep, cut it off and sweep again.")
MORE_UNREAD = (MORE + "something follows the {stated_s} s of sound that it states, and cannot be read. Those are used; copy the file from "
              "the recorder again, and record again if the last strings are missing.")
SECOND_FILE = (MORE + "a second recording follows the {stated_s} s that are used, as where two files were run together. Save it as a "
               "file of its own, and give both.")
UNKNOWN_SIZE = 0xFFFF_FF00  # what recorders that write as they go put in a header for a size not known yet is this or a little more
UNKNOWN_WIDE = 2**62  # so it is in a header of 64 bits, where that is less than its largest number
WIDE = re.compile(r"(?im)^\s*Length : (?P<there>\d+)(?:.*\n)+?\s*(?:Data size|data) : (?P<stated>\d+)$")  # RF64 and W64
CAF_HEAD, CAF_CHUNK = 8, struct.Struct(">4sq")


def states_more_than_it_holds(log: str) -> bool:
    """From libsndfile's log, which notes a sound chunk that ends beyond the file, an Ogg stream without its end, and both sizes of the
    64-bit formats RF64 and W64. A size of all ones states nothing: such a file was written as it went, and is whole."""
    if "lacks an end-of-stream bit" in log:
        return True
    if re.search(r"(?m)^(?:RF64|riff : .*)$", log):
        wide = WIDE.search(log)
        return wide is not None and int(wide["there"]) < int(wide["stated"]) < UNKNOWN_WIDE
    stated = re.search(r"(?im)^\s*(?:data|SSND)\s*:\s*(\d+) \(should be", log)
    return stated is not None and int(stated[1]) < UNKNOWN_SIZE


def caf_states_more_than_it_holds(path: str) -> bool:
    """The same of a Core Audio file: cut, libsndfile does not open it, and FFmpeg does not say so. Chunks of a name and a 64-bit length
    follow a head of 8 octets; a sound chunk of length −1 goes on to the end."""
    with open(path, "rb") as file:
        if file.read(CAF_HEAD)[:4] != b"caff":
            return False
        n_octets = file.seek(0, os.SEEK_END)
        at = file.seek(CAF_HEAD)
        while len(head := file.read(CAF_CHUNK.size)) == CAF_CHUNK.size:
            name, length = CAF_CHUNK.unpack(head)
            at += CAF_CHUNK.size + max(0, length)
            if name == b"data":
                return at > n_octets
            if at >= n_octets:
                return False
            file.seek(at)
    return False


def source_beyond_header(path: str, *, subtype: str, rate_hz: int, n_stated: int) -> tuple[Source | None, str]:
    """All the sound of a file that holds more than its header states, where usable, and the remark."""
    beyond = find_beyond(path, rate_hz=rate_hz, n_stated=n_stated)
    if beyond is None:
        return None, ""
    stated_s = f"{n_stated / rate_hz:.1f}"
    whole = whole_source(path, beyond, n_stated=n_stated) if subtype in PLAIN else None
    return (whole, MORE_USED.replace("{stated_s}", stated_s)) if whole else (None, MORE_UNREAD.format(stated_s=stated_s))
