"""What is left out, or given to another string, once it is measured."""

from dataclasses import replace

import pytest
from sounds.formula_sweeps import sweep_of

from toneprobe import hearing
from toneprobe.audio import recording_from_samples
from toneprobe.hearing import DROWNED, hear, with_fallen_beside, without_drowned
from toneprobe.identify.candidates import AGAIN, PART_OF_IT
from toneprobe.identify.named import LIKE_NO_STRING, NOTHING_NEW, Identification, NamedSpan, Rejected
from toneprobe.instrument import load_instrument
from toneprobe.measure.figure import FIGURES, Figure, PluckMeasurement
from toneprobe.segment import Span

NOT_ASKED = dict.fromkeys(FIGURES, Figure(None, None, "not asked here"))


@pytest.mark.parametrize(("string", "snr_db", "other_db", "is_out"), [
    ("5A", -19.4, 45.0, True),  # a word of 0.1 s before the string that it names, as a recording had it
    ("5A", 1.0, 45.0, False),  # faint, and for the sweep's reading to weigh
    ("5A", -19.4, 0.0, False),  # a noisy room: so are all
    ("5G", -19.4, 45.0, False),  # all there is of its string
])
def test_what_drowns_in_the_noise_beside_its_strings_other_plucks_is_no_pluck(string, snr_db, other_db, is_out):
    """Power of its partials below that of the noise, a negative level, is no onset of a string that stands 25 dB higher in another pluck:
    soft and firm plucks differ by 22 dB at the most (measured)."""
    harp = {spec.name: spec for spec in load_instrument("lever-34").strings}
    heard = [(string, 1.0, snr_db), ("5A", 2.0, other_db)]
    named = tuple(NamedSpan(Span(at_s, at_s + 0.9, at_s + 0.9), harp[name], 0.99, 0.0, 110.0) for name, at_s, _ in heard)
    plucks = [PluckMeasurement(name, "A2", at_s, 0.1, 0.99, db, **NOT_ASKED, partials=(), flags=()) for name, at_s, db in heard]
    identification, left = without_drowned(Identification(named, (), ()), plucks)
    assert [pluck.onset_s for pluck in left] == [one.span.onset_s for one in identification.named] == ([2.0] if is_out else [1.0, 2.0])
    assert [(one.span.onset_s, one.reason) for one in identification.rejected] == [(1.0, DROWNED)] * is_out


NATURALS = load_instrument("pedal-47", tuning="naturals")
RUN = ("3E", "3D", "3C", "3B", "3A", "3G", "3F", "4E", "4D", "4C")


def test_a_string_that_fell_to_its_neighbours_note_is_told_by_the_number_and_the_pitch_of_the_plucks():
    """A lies 185 cents below its note, so 15 above G, a whole tone being 200 (theory of music)."""
    names = [name for name in RUN for _ in range(2)]
    sweep = sweep_of(NATURALS, names, cents={"3A": -185.0})
    found = hear(recording_from_samples(sweep.samples, sweep.rate_hz), NATURALS)
    assert [one.string for one in found.plucks] == [one.string.name for one in found.identification.named] == names
    assert "3A" not in [spec.name for spec in found.identification.unheard]
    assert [one.cents_off.value for one in found.plucks if one.string == "3A"] == pytest.approx([-185.0, -185.0], abs=3.0)


def named_as(names, cents=None, se=0.5):
    """Spans a second apart and their measurements, each of a string; the pitch of each pluck by its place, in cents off."""
    harp = {spec.name: spec for spec in NATURALS.strings}
    named = [NamedSpan(Span(float(k), k + 0.9, k + 1.0), harp[name], 0.99, (cents or {}).get(k, 0.0),
                       harp[name].expected_hz * 2 ** ((cents or {}).get(k, 0.0) / 1200)) for k, name in enumerate(names)]
    plucks = [PluckMeasurement(one.string.name, one.string.note, one.span.onset_s, 0.9, 0.99, 40.0, **NOT_ASKED
                               | {"cents_off": Figure(one.offset_cents, se)}, partials=(), flags=()) for one in named]
    return named, plucks


@pytest.mark.parametrize(("above_cents", "se_cents", "down", "is_told"), [
    (15.0, 0.5, True, True), (-12.0, 0.5, False, True),
    (2.0, 0.5, True, False),  # two takes of one string differ by 5.6 cents at the most (measured)
    (15.0, 8.0, True, False),
], ids=["above", "below, upwards", "too near", "not known well"])
def test_plucks_are_given_to_the_string_beside_by_pitches_that_lie_apart_and_are_known_well(above_cents, se_cents, down, is_told):
    """3G has four plucks, and 3A beside it, a whole tone up, none; the two that the run would come to A by lie some cents off the others.
    Where all four lie at one pitch it is the same string four times."""
    names = [name for name in (RUN if down else RUN[::-1]) if name != "3A" for _ in range(4 if name == "3G" else 2)]
    four = names.index("3G")
    own = (four, four + 1) if down else (four + 2, four + 3)
    named, plucks = named_as(names, dict.fromkeys(own, above_cents), se_cents)
    unheard = tuple(spec for spec in NATURALS.strings if spec.name not in names)
    found, again = with_fallen_beside(Identification(tuple(named), unheard, ()), plucks, lambda _, of: [
        replace(plucks[own[0]], string=one.string.name, onset_s=one.span.onset_s) for one in of], NATURALS)
    told = ["3A" if is_told and place in own else name for place, name in enumerate(names)]
    assert [one.string.name for one in found.named] == [one.string for one in again] == told
    assert [one.onset_s for one in again] == [one.span.onset_s for one in named]
    assert ("3A" in [spec.name for spec in found.unheard]) is not is_told
    assert found.named[own[0]].offset_cents == pytest.approx(above_cents - 200.0 * is_told)
    together = named_as(names, dict.fromkeys(range(four, four + 4), above_cents), se_cents)[1]
    assert with_fallen_beside(Identification(tuple(named), unheard, ()), together, None, NATURALS)[1] is together


def test_what_sounded_that_was_no_pluck_nor_a_part_of_one_counts_for_the_gain_as_long_as_it_may_have_gone_on(monkeypatch):
    rejected = [Rejected(Span(float(at_s), at_s + long_s, at_s + 10.0), reason, plucked) for at_s, long_s, reason, plucked in (
        (10, 0.5, LIKE_NO_STRING, ""), (20, 9.0, LIKE_NO_STRING, ""), (30, 0.5, AGAIN, ""), (40, 0.5, PART_OF_IT, ""),
        (50, 0.5, NOTHING_NEW, ""), (60, 0.5, "4C and 4D sound at once", "4C"))]
    asked = []
    monkeypatch.setattr(hearing, "find_spans", lambda _: ())
    monkeypatch.setattr(hearing, "identify", lambda *_, **__: Identification((), (), tuple(rejected)))
    monkeypatch.setattr(hearing, "without_foreign_gain", lambda recording, foreign_s: asked.extend(foreign_s) or recording)
    hear(recording_from_samples(sweep_of(NATURALS, ("4C",)).samples, 22050), NATURALS)
    assert asked == [(10.0, 10.5), (20.0, 22.5)]  # what goes on longer is the string that rings under it (set)


def test_what_does_not_fit_its_neighbours_is_looked_at_again_and_then_what_that_changes(monkeypatch):
    """The first look mends the second pluck, whereupon the third is asked about; a look that fits no better counts for nothing."""
    named, plucks = named_as(("4C", "4B", "4A"))
    better = [replace(one, flags=("looked at again",)) for one in plucks]

    def out_of_run(now):
        return {2: 1e-3, 0: 2e-3} if now[1].flags else {1: 1e-3, 0: 2e-3}

    looks = []
    monkeypatch.setattr(hearing, "find_spans", lambda _: ())
    monkeypatch.setattr(hearing, "identify", lambda *_, **__: Identification(tuple(named), (), ()))
    monkeypatch.setattr(hearing, "measure_pluck", lambda _, one, expected_b=None: (
        looks.append((one.string.name, expected_b)) or better[named.index(one)] if expected_b else plucks[named.index(one)]))
    monkeypatch.setattr(hearing, "out_of_run", out_of_run)
    monkeypatch.setattr(hearing, "fits", lambda one, expected_b: one.string != "4C")
    monkeypatch.setattr(hearing, "with_answers", tuple)
    found = hear(recording_from_samples(sweep_of(NATURALS, ("4C",)).samples, 22050), NATURALS)
    assert [bool(one.flags) for one in found.plucks] == [False, True, True]
    assert looks == [("4B", 1e-3), ("4C", 2e-3), ("4A", 1e-3)]  # none twice with the same in mind
