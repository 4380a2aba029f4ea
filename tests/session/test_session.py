"""Plucks into readings: centres, errors and what is left out, on numbers worked by hand."""

from dataclasses import replace
from itertools import permutations
from statistics import stdev

import numpy as np
import pytest

from toneprobe.baseline.decay_change import decay_change
from toneprobe.baseline.fresh import Baseline
from toneprobe.baseline.pairing import pair_partials
from toneprobe.baseline.scatter import USUAL_SCATTER
from toneprobe.baseline.sinking import sinking
from toneprobe.measure.figure import BROKEN_OFF, FIGURES, GAP, Figure, OtherLine, Partial, PluckMeasurement
from toneprobe.measure.pull import squared_pull
from toneprobe.session.partial_pooling import pitch_offsets_cents
from toneprobe.session.pooling import pool, pool_values, spread_of
from toneprobe.session.reading import StringBeat
from toneprobe.session.sweep import pitch_level, read_string, read_sweep

UNKNOWN = Figure(None, None, "not drawn")


def partial(n, *, freq_hz=None, t60_s=2.0, level_db=0.0):
    return Partial(n, freq_hz or 100.0 * n, 0.02, level_db, 40.0, t60_s, 0.2 * t60_s if t60_s else None, 0.0)


def pluck(string="3A", *, cents=0.0, t60_s=2.0, partials=(), sureness=0.99, **figures):
    known = {"cents_off": Figure(cents, 0.5), "t60_s": Figure(t60_s, 0.1), "pitch_hz": Figure(440.0 * 2 ** (cents / 1200), 0.1)}
    all_figures = {name: UNKNOWN for name in FIGURES} | known | figures
    return PluckMeasurement(string, "A4", 1.0, 3.0, sureness, 40.0, **all_figures, partials=tuple(partials), flags=())


@pytest.mark.parametrize(("cents", "n_used", "off"), [
    ((-15.0, 0.0, 15.0), 3, 0.0),  # derived: the middle one lies within 20 cents of both others, and they of it
    ((-12.0, 12.0, 0.0), 3, 0.0),
    ((0.0, 1.0, 30.0, 45.0, 2.0), 3, 1.0),
    ((-31.0, -30.0, -29.0, 40.0), 3, -30.0),  # a flat string and one stray as far sharp
    ((0.0, 25.0), 2, 12.5),  # of two nobody can say which is the string
])
def test_what_counts_does_not_depend_on_the_order_of_the_plucks(cents, n_used, off):
    for order in permutations(cents):
        reading = read_string([pluck(cents=one) for one in order])
        assert reading.n_plucks == n_used and reading.figures["cents_off"].value == pytest.approx(off)


def test_plucks_without_partials_are_read_and_rank_behind_all_others():
    nothing = replace(pluck(), **dict.fromkeys(FIGURES, UNKNOWN), ring_s=None, snr_db=None)
    alone = read_string([nothing, nothing])
    assert (alone.n_plucks, alone.snr_db, alone.partials) == (2, None, ())
    assert read_string([nothing, pluck(partials=[partial(1)])]).snr_db == 40.0


def test_a_tone_that_is_held_is_no_pluck_of_a_string_that_falls():
    """A flute's long tone of the string's pitch: in 3 s a string of T60 2 s falls by 90 dB (derived), and this by 2."""
    level = replace(pluck(), t60_s=UNKNOWN, flags=("no decay could be measured: falls only 2 dB before it ends",))
    assert read_string([pluck(), pluck(), level]).n_plucks == 2
    assert read_string([pluck(), replace(level, ring_s=0.3)]).n_plucks == 2  # too short to tell: 9 dB
    assert read_string([level]).n_plucks == 1  # of nothing else it can be said to be a tone


def test_equal_errors_give_the_mean_and_its_error():
    centre, se = pool_values([1.0, 1.2], [0.2, 0.2])
    assert centre == pytest.approx(1.1)  # derived
    assert se == pytest.approx(0.2 / np.sqrt(2))  # derived; the scatter, 0.1 from the mean, is within the errors


def test_values_count_by_their_errors():
    centre, _ = pool_values([1.0, 2.0], [0.1, 0.3])
    assert centre == pytest.approx((1.0 / 0.01 + 2.0 / 0.09) / (1 / 0.01 + 1 / 0.09))  # derived: weights 1/σ²


def test_scatter_beyond_the_errors_enlarges_the_error():
    _, quiet = pool_values([1.0] * 4, [0.1] * 4)
    _, loud = pool_values([0.2, 1.8, 0.4, 1.6], [0.1] * 4)
    assert quiet == pytest.approx(0.05)  # derived
    assert loud > 4 * quiet


def test_one_bad_pluck_of_three_does_not_drag_the_figure_away():
    centre, _ = pool_values([2.0, 2.05, 4.0], [0.1] * 3)
    assert centre < 2.3
    assert np.mean([2.0, 2.05, 4.0]) > 2.6  # what the plain mean would say


def test_ratios_are_pooled_as_logarithms():
    pooled = pool([Figure(1.0, 0.1), Figure(4.0, 0.4)], as_log=True)
    assert pooled.value == pytest.approx(2.0)  # derived: geometric mean
    assert pooled.se == pytest.approx(2.0 * 0.1 / np.sqrt(2) * np.sqrt((3 + 2 * (np.log(2) / 0.1) ** 2) / 4), rel=1e-6)  # derived


@pytest.mark.parametrize("cents, errors", [((2.7, 14.2), (1.1, 4.3)), ((0.0, 15.2), (0.6, 4.6)), ((12.6, 12.2), (3.8, 3.7))])
def test_the_glide_of_a_soft_and_a_firm_pluck_lies_between_them(cents, errors):
    """Real plucks of a lever harp. Derived: the mean of two logarithms of the pull that are known nearly alike is that of their geometric
    mean; by plain 1/σ² it would be the soft one's, 3.4 and 0.3 cents. What stands after ±, two errors of
    the logarithm either way, spans as much as they lie apart."""
    glides = [Figure(*one) for one in zip(cents, errors, strict=True)]
    pooled = read_string([pluck(glide_cents=glide) for glide in glides]).figures["glide_cents"]
    pulls = [np.log(squared_pull(one)) for one in cents]
    centre, se = np.log(squared_pull(pooled.value)), pooled.se / squared_pull(pooled.value)
    assert centre == pytest.approx(np.mean(pulls), abs=0.15)
    assert abs(pulls[1] - pulls[0]) < 4.0 * se


def test_a_glide_of_one_pluck_is_kept_as_it_was_heard():
    assert read_string([pluck(glide_cents=Figure(0.0, 0.6))]).figures["glide_cents"].value == pytest.approx(0.0, abs=1e-12)


def test_a_string_does_not_sink_by_what_a_fresh_pluck_sank_too():
    """A lever harp's C#2, untouched: one firm and one soft pluck when fresh, two firm ones now."""
    now, fresh = (read_string([pluck(glide_cents=Figure(*one)) for one in side])
                  for side in (((12.6, 3.8), (12.2, 3.7)), ((2.7, 1.1), (14.2, 4.3))))
    more = sinking(now, Baseline(fresh), hand_of_sweep=0.0).log_ratio
    assert more.value < 2.0 * more.se


def test_a_value_alone_without_an_error_has_none_that_is_known():
    """0 would say that it is known beyond all doubt."""
    assert [pool([Figure(3.0)], as_log=as_log).se for as_log in (False, True)] == [None, None]


def test_the_spread_is_that_of_one_pluck_about_their_mean():
    values = [0.3, 0.7, 0.4, 1.4]
    assert spread_of(values) == pytest.approx(stdev(values)) and spread_of([0.3]) is None  # against another routine


def test_a_fall_whose_bend_is_not_known_tells_of_none():
    assert read_string([pluck(partials=[replace(partial(1), bend=0.04), partial(2)])]).bends == (0.04,)


def test_an_unknown_figure_keeps_its_usual_reason_and_is_no_number():
    pooled = pool([Figure(None, None, "too short"), Figure(None, None, "too faint"), Figure(None, None, "too short")])
    assert (pooled.value, pooled.se, pooled.reason) == (None, None, "too short")


def test_an_unknown_value_beside_a_known_one_does_not_count():
    assert pool([Figure(3.0, 0.1), Figure(None, None, "too short")]) == Figure(3.0, 0.1)


def test_partials_are_matched_by_number_and_decays_by_logarithm():
    first, second = [partial(1, t60_s=1.0), partial(2)], [partial(1, t60_s=4.0), partial(3, t60_s=None)]
    reading = read_string([pluck(partials=first), pluck(partials=second)])
    assert [p.n for p in reading.partials] == [1, 2, 3]
    first, second, third = reading.partials
    assert np.exp(first.log_decay.value) == pytest.approx(np.log(1000.0) / 2.0)  # derived: geometric mean of T60 1 s and 4 s is 2 s
    assert (first.n_plucks, second.n_plucks) == (2, 1)
    assert first.decay_spread == pytest.approx(np.log(4.0) / np.sqrt(2))  # derived: two values ±ln 2 about their mean
    assert not third.log_decay.known and third.log_decay.reason


def test_a_pluck_that_stands_higher_does_not_make_its_partials_scatter():
    """One pluck 13 cents above the other, as after a touch of the pin; partial 7 is heard in that one alone."""
    up = 2.0 ** (13.0 / 1200.0)
    low, high = ([partial(n, freq_hz=100.0 * n * by) for n in numbers] for numbers, by in ((range(1, 7), 1.0), (range(1, 8), up)))
    rows = read_sweep([pluck(partials=low), pluck(partials=high)]).readings["3A"].partials
    assert rows[0].freq_hz.value == pytest.approx(100.0 * np.sqrt(up))  # derived: the mean pitch, in cents
    assert rows[6].freq_hz.value / rows[0].freq_hz.value == pytest.approx(7.0)  # derived: partial 7 is where it belongs
    assert max(abs(one.cents) for row in rows[:6] for one in row.strays) < 1e-6


def test_a_pluck_whose_place_cannot_be_told_stays_where_it_is():
    """Three plucks, the second 12 cents up, the third with two partials only: too few to say how it stands."""
    low, high, short = ([partial(n, freq_hz=100.0 * n * 2.0 ** (cents / 1200.0)) for n in range(1, most)]
                        for cents, most in ((0.0, 7), (12.0, 7), (3.0, 3)))
    for order in ([low, high, short], [short, high, low]):
        assert dict(zip(map(len, order), pitch_offsets_cents(order), strict=True))[2] == 0.0
        assert sorted(pitch_offsets_cents(order)) == pytest.approx([-6.0, 0.0, 6.0])  # derived: about the mean of the two that can be told


@pytest.mark.parametrize(("rows", "told"), [
    ([(15.0, 0.0)], 10.6),  # as loud: half of 15², its power over both powers
    ([(15.0, 6.0)], 10.6),  # however much louder
    ([(15.0, -9.0)], 5.01),  # 0.126 of its power: 15·√(0.126/1.126)
    ([(15.0, -11.0)], 0.0), ([(26.0, 0.0)], 0.0), ([], 0.0),
    ([(15.0, 0.0), (-15.0, 0.0)], 12.2)])
def test_what_rings_as_loud_beside_a_partial_leaves_its_place_open_where_one_pluck_alone_tells_it(rows, told):
    """(cents off, dB over the partial); derived: Σ pΔ²/(1 + Σ p)."""
    others = tuple(OtherLine(200.0 * 2 ** (cents / 1200.0), -3.0 + db, 1.0, "not known") for cents, db in rows)
    one = replace(pluck(partials=[partial(n, level_db=-3.0) for n in (1, 2, 3)]), others=others)
    found = {p.n: p.beside_cents for p in read_string([one]).partials}
    assert found[2] == pytest.approx(told, abs=0.05) and found[1] == found[3] == 0.0
    assert all(p.beside_cents == 0.0 for p in read_string([one, one]).partials)


def test_hum_beside_a_partial_is_not_taken_for_it():
    hum = (OtherLine(200.2, 0.0, None, "hum"),)
    assert read_string([replace(pluck(partials=[partial(n) for n in (1, 2, 3)]), others=hum)]).partials[1].beside_cents == 0.0


def test_a_partial_that_moves_alone_scatters():
    still = [partial(n) for n in range(1, 8)]
    astray = [partial(n, freq_hz=400.0 * 2.0 ** (9.0 / 1200.0) if n == 4 else None) for n in range(1, 8)]
    rows = read_sweep([pluck(partials=still), pluck(partials=astray)]).readings["3A"].partials
    assert [one.cents for one in rows[3].strays] == pytest.approx([-4.5, 4.5], abs=0.05)  # derived: about their mean
    assert max(abs(one.cents) for one in rows[2].strays) < 1e-6


def test_a_pluck_far_fainter_than_the_strings_best_is_left_out():
    """A word before the sweep stands 20 to 37 dB less out of the noise than a pluck, a soft pluck up to 22 less than a firm one (takes)."""
    good = pluck(t60_s=2.0, partials=[partial(n) for n in range(1, 9)])
    word, soft = (replace(pluck(t60_s=0.5, partials=[partial(1)]), snr_db=good.snr_db - below) for below in (30.0, 22.0))
    both = read_string([word, good])
    assert (both.n_plucks, both.figures["t60_s"].value) == (1, pytest.approx(2.0))
    assert read_string([word]).n_plucks == 1  # where there is no other, it is the reading
    assert read_string([soft, good]).n_plucks == 2
    assert read_string([word, replace(good, partials=(), snr_db=99.0)]).snr_db == word.snr_db  # unmeasured, it makes no other faint


def test_a_pluck_into_the_strings_own_ring_is_no_faint_one():
    """The lowest wire plucked three times as hard, undamped: before all but the last it was still ringing, 27 dB over the room's noise
    (measured on a concert harp's C1). It shows all its partials each time."""
    last = pluck(t60_s=46.0, partials=[partial(n) for n in range(1, 21)])
    first = replace(last, snr_db=last.snr_db - 27.0)
    assert read_string([first, first, last]).n_plucks == 3


def test_a_pluck_that_was_not_measured_is_none_where_there_is_another():
    """Counted, each of its partials would be missing from a pluck, and a healthy string be called false."""
    good = pluck(t60_s=2.0, partials=[partial(1)])
    empty = replace(pluck(), partials=(), snr_db=0.0, t60_s=UNKNOWN, cents_off=UNKNOWN, pitch_hz=UNKNOWN)
    for plucks in ([good, empty], [empty, good]):
        assert read_string(plucks).n_plucks == 1 and read_string(plucks).snr_db == good.snr_db
    assert read_string([empty, empty]).n_plucks == 2  # where there is no other, they are the reading


def test_of_a_faint_pluck_and_one_stopped_at_once_one_is_read():
    """Neither tells much: the clear one, though the faint one rang on."""
    faint = replace(pluck(partials=[partial(1)]), snr_db=10.0)
    stopped = replace(pluck(t60_s=0.1, partials=[partial(n) for n in (1, 2, 3)]), ring_s=0.05)
    for plucks in ([faint, stopped], [stopped, faint]):
        assert read_string(plucks).snr_db == 40.0


@pytest.mark.parametrize("ring_s, counts", [(0.05, False), (0.15, True), (0.11, True)])  # derived: fifty periods of 440 Hz are 0.114 s
def test_a_pluck_stopped_at_once_is_left_out(ring_s, counts):
    good = pluck(t60_s=2.0, partials=[partial(1)])
    stopped = replace(good, ring_s=ring_s)
    assert read_string([stopped, good]).n_plucks == 1 + (ring_s > 0.114)
    assert read_string([stopped, replace(good, ring_s=0.3)]).n_plucks == 1 + counts  # not where the others ring hardly longer
    assert read_string([stopped]).n_plucks == 1


@pytest.mark.parametrize(("rings_s", "count"), [((2.0, 1.8, 0.4), 2), ((0.4, 2.0, 1.8), 2), ((2.0, 0.4), 2), ((6.0, 1.2, 1.0), 3),
                                                ((2.0, 1.8, 0.7), 3)])
def test_a_pluck_that_a_finger_touched_again_is_left_out_beside_two_that_rang_on(rings_s, count):
    """A third of the ring and resolved: of two plucks none can be told from a hand that came early, and where the next pluck cut all but
    the last there are not two that rang on."""
    good = pluck(t60_s=2.0, partials=[partial(1)])
    assert read_string([replace(good, ring_s=ring_s) for ring_s in rings_s]).n_plucks == count


@pytest.mark.parametrize("cut_by", [GAP, BROKEN_OFF])
@pytest.mark.parametrize("ring_s, counts", [(0.5, False), (0.9, False), (1.1, True), (2.0, True)])
def test_a_pluck_that_a_drop_out_or_the_file_s_end_cut_off_early_is_left_out(ring_s, counts, cut_by):
    """Of a ring of 3 s, heard for 60 dB, 20 of the 30 dB that are compared take 1 s (derived here)."""
    whole = pluck(t60_s=3.0, partials=[partial(1)])
    cut = replace(whole, ring_s=ring_s, flags=(cut_by,))
    assert read_string([cut, whole]).n_plucks == 1 + counts
    assert read_string([cut, cut]).n_plucks == 2  # where there is no other, they are the reading
    assert read_string([replace(cut, flags=()), whole]).n_plucks == 2  # a hand's damping is its string's ring


def test_only_beats_of_the_string_s_own_strong_partials_speak_of_it():
    """The fourth is the neighbour 3E's answer; the second lies 30 dB below the strongest, out of hearing beside it; from the ninth on none
    is followed (measure/beats); the third does not beat."""
    beating = {n: replace(partial(n, level_db=-3.0), beat_hz=2.0, beat_depth_db=6.0) for n in (1, 2, 3, 4, 9)}
    beating[2], beating[4] = replace(beating[2], level_db=-30.0), replace(beating[4], answered_by="3E")
    beating[3] = replace(beating[3], beat_hz=None, beat_depth_db=None)
    assert read_string([pluck(partials=beating.values())]).beats == (StringBeat(1, 2.0, 6.0),)


def test_plucks_of_many_partials_outvote_sounds_of_few():
    """Two good plucks, and four sounds of another harp 84 cents up that happened to be named so, with three partials each."""
    good = [pluck(cents=0.5, partials=[partial(n) for n in range(1, 19)])] * 2
    others = [pluck(cents=84.0, partials=[partial(n) for n in range(1, 4)])] * 4
    both = read_string([*others, *good])
    assert both.n_plucks == 2 and both.figures["cents_off"].value == pytest.approx(0.5, abs=0.1)


def test_the_pitch_level_is_that_of_most_strings():
    cents = [-15.2, -14.8, -15.1, -14.9, -15.0, 30.0, 80.0, -400.0]  # three of eight anywhere
    sweep = read_sweep([pluck(str(i), cents=c) for i, c in enumerate(cents)])
    assert sweep.pitch_level_cents.value == pytest.approx(-15.0, abs=0.2)
    assert abs(np.mean(cents) + 15.0) > 10.0  # what the mean would say


def test_two_strings_have_no_pitch_level():
    assert not read_sweep([pluck("3A"), pluck("3G")]).pitch_level_cents.known


def test_a_sweep_of_nothing_is_a_sweep():
    sweep = read_sweep([])
    assert not sweep.readings and not sweep.pitch_level_cents.known


def test_the_plucks_are_left_as_they_were():
    plucks = [pluck(partials=[partial(1)]), pluck(partials=[partial(1)])]
    before = [replace(p) for p in plucks]
    read_sweep(plucks)
    assert plucks == before


def test_a_sound_of_doubtful_name_has_no_say_beside_a_sure_pluck():
    sure, doubtful = pluck(t60_s=2.0), pluck(t60_s=0.5, sureness=0.4)
    assert read_string([doubtful, sure]).figures["t60_s"].value == pytest.approx(2.0)
    assert read_string([doubtful]).n_plucks == 1  # where there is no other, it is the reading


def test_a_value_far_off_weighs_by_how_far_beyond_one_and_a_half_errors_it_lies():
    """Huber's weight, published (1964): 1 within k errors of the middle, k/|r| beyond, with k = 1.5. Four values of 0 and one of 6, each
    with an error of 1: the fifth weighs 1.5/6, so the centre lies at (0.25·6)/(4 + 0.25) (worked by hand)."""
    centre, _ = pool_values([0.0, 0.0, 0.0, 0.0, 6.0], [1.0] * 5)
    assert centre == pytest.approx(1.5 / 4.25)


def test_the_error_of_the_pitch_level_is_what_it_errs_by():
    """Drawn here: harps of 40 strings, each 3 cents about the same place. The median errs by √(π/2) times as much as a mean would."""
    drawn = np.random.default_rng(7).normal(0.0, 3.0, (400, 40))
    one = read_string([pluck()])
    levels = [pitch_level([replace(one, figures={"cents_off": Figure(float(cents), 0.5)}) for cents in harp]) for harp in drawn]
    errs_by = np.std([level.value for level in levels])
    assert errs_by == pytest.approx(np.sqrt(np.pi / 2.0) * 3.0 / np.sqrt(40.0), rel=0.08)
    assert np.mean([level.se for level in levels]) == pytest.approx(errs_by, rel=0.1)


def test_a_partial_stands_out_as_little_as_in_the_pluck_where_it_does_least():
    """What was nearly lost in one pluck may be lost altogether in a softer one, and then the string has lost nothing."""
    clear, buried = ([replace(partial(1), snr_db=snr_db)] for snr_db in (50.0, 20.0))
    for order in ((clear, buried), (buried, clear)):
        assert read_string([pluck(partials=one) for one in order]).partials[0].snr_db == 20.0


def test_decays_are_compared_over_the_part_of_the_fall_that_both_recordings_show():
    """A fall in two stages: T60 of 1.5 s over its first 30 dB, slower below. In a quiet room the slow end is heard and the whole takes 4 s,
    in a noisy one it is not, and the whole takes 1.6 s. The string is the same, and so is the decay that verdicts rest on."""
    quiet, noisy = ([replace(partial(n, t60_s=t60_s), early_t60_s=1.5) for n in range(1, 5)] for t60_s in (4.0, 1.6))
    fresh, now = (read_string([pluck(partials=row)] * 2) for row in (quiet, noisy))
    for one in (fresh, now):
        assert [p.log_decay.value for p in one.partials] == pytest.approx([np.log(np.log(1000.0) / 1.5)] * 4)  # definition of T60
    change = decay_change(pair_partials(now, fresh), USUAL_SCATTER, n_now=2, n_fresh=2)
    assert change.all.value == pytest.approx(0.0, abs=1e-9)
    unheard = read_string([pluck(partials=[partial(1, t60_s=2.0)])])
    assert unheard.partials[0].log_decay.value == pytest.approx(np.log(np.log(1000.0) / 2.0))  # where no such part was measured: the whole


def test_a_sound_far_off_the_pitch_of_most_plucks_is_left_out():
    """Two takes agree within a cent or two; a word that passes for the string lies anywhere within a semitone."""
    word = pluck(cents=-26.0, t60_s=0.3)
    for order in ([word, pluck(cents=1.0), pluck(cents=-1.0)], [pluck(cents=-1.0), pluck(cents=1.0), word]):
        reading = read_string(order)
        assert (reading.n_plucks, reading.figures["t60_s"].value) == (2, pytest.approx(2.0))
    assert read_string([word, pluck()]).n_plucks == 2  # of two nobody can say which is the string
    few, many = ([partial(n) for n in range(1, k + 1)] for k in (9, 10))  # nor by a partial more, as any two plucks may show
    assert read_string([pluck(partials=many), pluck(cents=-40.0, partials=few)]).n_plucks == 2
    assert read_string([pluck(cents=-9.0), pluck(), pluck(cents=9.0)]).n_plucks == 3
    assert read_string([word, pluck(), replace(pluck(), cents_off=UNKNOWN), pluck()]).n_plucks == 3  # without a pitch it is not far off


def test_plucks_of_another_note_are_left_out_and_told():
    """A pedal or lever moved between the plucks: another string length. Pooled, 440 Hz and 466.2 would make a pitch that never sounded."""
    flat = [replace(pluck(t60_s=t60_s), note="Ab4", pitch_hz=Figure(415.3, 0.1)) for t60_s in (1.6, 1.62)]
    natural = [pluck(), pluck(), pluck()]
    for order in ([*flat, *natural], [*natural, *flat]):
        sweep = read_sweep([*order, pluck("3G")])
        reading = sweep.readings["3A"]
        assert (reading.note, reading.n_plucks) == ("A4", 3)
        assert reading.figures["pitch_hz"].value == pytest.approx(440.0) and reading.figures["t60_s"].value == pytest.approx(2.0)
        assert sweep.other_notes == {"3A": ("Ab4",)}


def test_of_two_notes_plucked_equally_often_the_better_heard_is_read_in_any_order():
    flat = replace(pluck(partials=[partial(1)]), note="Ab4")
    natural = pluck(partials=[partial(1), partial(2)])
    assert {read_string(order).note for order in ([flat, natural], [natural, flat])} == {"A4"}


# What else a reading or an error rests on

def test_a_held_tone_may_be_a_short_one():
    """In 1 s a string of T60 2 s falls by 30 dB (derived), and this by 2; of two plucks known the one that rings longer tells."""
    level = replace(pluck(), ring_s=1.0, t60_s=UNKNOWN, flags=("no decay could be measured: falls only 2 dB before it ends",))
    assert read_string([pluck(), level]).n_plucks == 1
    assert read_string([pluck(t60_s=2.0), pluck(t60_s=4.0), level]).n_plucks == 3  # by the longer, 15 dB


def test_a_faint_pluck_that_lacks_a_third_of_the_partials_is_none():
    last = pluck(partials=[partial(n) for n in range(1, 16)])
    poorer = replace(last, snr_db=last.snr_db - 30.0, partials=last.partials[:10])
    assert read_string([poorer, last]).n_plucks == 1


def test_of_two_notes_that_plucked_more_often_is_read_though_the_other_has_more_partials():
    flat = replace(pluck(partials=[partial(n) for n in range(1, 20)]), note="Ab4")
    natural = [pluck(partials=[partial(1)]), pluck(partials=[partial(1)])]
    assert read_string([flat, *natural]).note == "A4"


def test_a_reading_stands_out_of_the_noise_as_its_middle_pluck_does():
    one = pluck(partials=[partial(1)])
    assert read_string([replace(one, snr_db=snr_db) for snr_db in (30.0, 44.0, 41.0)]).snr_db == 41.0


def test_two_equally_likely_pitches_are_decided_by_the_middle_of_all():
    """Two others lie within 20 cents of 0 and of −15; 0 is the median of all five (worked by hand)."""
    assert read_string([pluck(cents=cents) for cents in (15.0, 0.0, -15.0, -30.0, 40.0)]).figures["cents_off"].value == pytest.approx(0.0)


def test_strings_that_agree_to_a_hair_leave_a_pitch_level_some_doubt():
    """Sixteen strings at one place: no harp is tuned so, so that the level would have no error at all; the tenth of a cent is set."""
    one = read_string([pluck()])
    level = pitch_level([replace(one, figures={"cents_off": Figure(3.0, 0.5)})] * 16)
    assert (level.value, level.se) == (3.0, pytest.approx(0.1 / 4.0))


def test_without_errors_the_scatter_tells():
    """The mean of two values errs by half of their distance: s/√2, s = distance/√2 (textbook)."""
    assert pool([Figure(1.0), Figure(3.0)]) == Figure(2.0, pytest.approx(1.0))


def test_a_value_without_an_error_counts_as_the_middle_one_of_those_that_have_one():
    """1/σ² with σ of 1, 2 and 4, and 2 for the fourth (worked by hand)."""
    centre, _ = pool_values([0.0, 0.0, 0.0, 1.0], [1.0, 2.0, 4.0, float("nan")])
    assert centre == pytest.approx(0.25 / (1.0 + 0.25 + 0.0625 + 0.25))


def test_where_all_scatter_beyond_their_errors_far_off_is_what_is_far_beyond_the_scatter():
    """The middle deviation is 10 errors, so a standard deviation 14.826 (of a normal, textbook): four count in full, and the one 200 errors
    off counts 1.5·14.826/200. Weighed by errors alone the middle one would stand alone, at 0."""
    weight = 1.5 * 14.826 / 200.0
    centre, _ = pool_values([-2.0, -1.0, 0.0, 1.0, 20.0], [0.1] * 5)
    assert centre == pytest.approx((20.0 * weight - 2.0) / (4.0 + weight), abs=1e-4)


def test_how_much_of_a_fall_was_heard_is_what_stands_over_the_noise_and_30_db_at_the_most():
    """Followed down to six times the noise, 7.8 dB (10·log 6): of 20 dB 12.2 are heard, of 60 the 30 that are compared, of 5 none."""
    plucks = [pluck(partials=[replace(partial(1), snr_db=snr_db)]) for snr_db in (20.0, 60.0, 5.0)]
    heard_db = [read_string([one]).partials[0].heard_db for one in plucks]
    assert heard_db == pytest.approx([12.218, 30.0, 0.0], abs=0.001)
    assert read_string(plucks[:2]).partials[0].heard_db == pytest.approx(21.109, abs=0.001)  # the mean


def test_a_partial_was_heard_for_as_long_as_its_plucks_rang_on_average():
    one = pluck(partials=[partial(1)])
    assert read_string([replace(one, ring_s=ring_s) for ring_s in (2.0, 3.0)]).partials[0].heard_s == 2.5


def test_the_slow_end_of_a_partial_is_that_of_the_plucks_whose_falls_bend():
    """ln(ln(1000)/T60), definition: the mean of 4 and 9 s is that of 6 s."""
    plucks = [pluck(partials=[replace(partial(1), late_t60_s=late_s)]) for late_s in (4.0, None, 9.0)]
    assert read_string(plucks).partials[0].late_log_decay == pytest.approx(np.log(np.log(1000.0) / 6.0))
    assert read_string(plucks[1:2]).partials[0].late_log_decay is None


def test_a_partial_that_decays_otherwise_alone_is_no_spread_of_the_string():
    first, second = ([partial(n, t60_s=t60_s) for n, t60_s in enumerate(row, 1)] for row in ((4.0, 2.0, 1.0), (4.0, 2.6, 1.0)))
    assert read_string([pluck(partials=first), pluck(partials=second)]).decay_spread == pytest.approx(0.0)
    both = [partial(n, t60_s=1.2 * one.t60_s) for n, one in enumerate(first, 1)]
    assert read_string([pluck(partials=first), pluck(partials=both)]).decay_spread == pytest.approx(np.log(1.2) / np.sqrt(2.0))  # derived
    assert read_string([pluck(partials=first[:2]), pluck(partials=both[:2])]).decay_spread is None  # two may be the polarisations' doing


def test_a_frequency_without_an_error_hardly_weighs_beside_one_that_has_one():
    """0.05 Hz stand for an unknown error (set): beside 0.005 Hz it weighs a hundredth (1/σ², derived)."""
    told = [replace(partial(1, freq_hz=freq_hz), freq_se_hz=se) for freq_hz, se in ((100.02, 0.005), (100.0, None))]
    pooled = read_string([pluck(partials=[one]) for one in told]).partials[0].freq_hz.value
    assert pooled == pytest.approx(100.0 + 0.02 * 100.0 / 101.0, abs=1e-5)
