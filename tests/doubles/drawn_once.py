"""Each picture of a page is drawn once by a run of the tests: what came of it is remembered by all that is known of its strings.

For tests of what stands on a page. Those of the drawing itself, and of whether it comes out the same each time, draw anew (`drawn_anew`).
"""

import hashlib
import pickle
from contextlib import contextmanager
from dataclasses import replace

import pytest

import toneprobe.report.page
import toneprobe.report.panels
import toneprobe.report.picture_files

SKETCHER = toneprobe.report.panels.sketcher
HARP, LANES = toneprobe.report.page._harp_pictures, toneprobe.report.page._lane_pictures
HARP_FILE = toneprobe.report.picture_files.harp_file


def put_in_place(patch, sketcher, harp, lanes, harp_file):
    patch.setattr(toneprobe.report.panels, "sketcher", sketcher)
    patch.setattr(toneprobe.report.page, "_harp_pictures", harp)
    patch.setattr(toneprobe.report.page, "_lane_pictures", lanes)
    patch.setattr(toneprobe.report.picture_files, "harp_file", harp_file)


@contextmanager
def drawn_anew():
    """Within a `with` nothing is remembered."""
    with pytest.MonkeyPatch.context() as patch:
        put_in_place(patch, SKETCHER, HARP, LANES, HARP_FILE)
        yield


class Drawn:
    """In the place of what draws the pictures of one string, of the harp and of its lanes."""

    def __init__(self, results):
        self.results = results

    def put_in_place(self, patch):
        put_in_place(patch, self.sketcher, self.harp, self.lanes, self.harp_file)

    @contextmanager
    def sketcher(self):
        with SKETCHER() as sketch:
            yield lambda one, *what: self._remembered(sketch, (silent(one), what), one, *what)

    def harp(self, view):
        return self._remembered(HARP, ("harp", whole(view)), view)

    def lanes(self, view):
        return self._remembered(LANES, ("lanes", whole(view)), view)

    def harp_file(self, view, ending):
        return self._remembered(HARP_FILE, ("harp file", whole(view), ending), view, ending)

    def _remembered(self, draw, facts, *arguments):
        return self.results.get(hashlib.sha256(pickle.dumps(facts)).digest(), lambda: draw(*arguments))


def silent(one):
    """A string without its sounds, which no picture shows."""
    return replace(one, clip_now=None, clip_fresh=None)


def whole(view):
    """A view without its sounds, and without what is but its strings once more."""
    strings = tuple(silent(one) for one in view.strings)
    return replace(view, strings=strings, attention=(), still_standing=(), steps=(), on_the_way=(), not_judged=())
