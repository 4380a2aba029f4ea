"""What each picture shows, in sentences: beside it, and for readers who do not see it."""

import statistics
from collections.abc import Callable, Sequence

from toneprobe.condition.verdict import PartialsMoved
from toneprobe.days import day_text
from toneprobe.limits import ERRORS_TOLD
from toneprobe.phrases import as_string, count_of
from toneprobe.report.glossary import FRESH
from toneprobe.report.series import UNKNOWN, HistoryPoint, PartialPoint, decisive
from toneprobe.report.string_view import StringView
from toneprobe.report.view import SweepView
from toneprobe.report.words import told_change

LEFT_OUT = "Left out of this page, to keep it small."
ASTRAY_CENTS = 3.0  # the words name partials that lie further off; the verdict has its own measure


def harp_words(view: SweepView) -> str:
    """The strings that are not fine."""
    named = ", ".join(f"{one.name} {one.word}" for one in view.strings if one.verdict != "sound")
    return f"Every string in its place. {f'Not fine: {named}.' if named else 'All are fine.'}"


def picture_title(view: SweepView, string: str = "") -> str:
    """The title of a picture file: "Wren, 1 March 2025", "Wren, string 3E, 1 March 2025"."""
    return f"{view.harp}, {f'string {string}, ' if string else ''}{view.day}"


def string_words(one: StringView) -> str:
    """The four pictures of one string, after each other."""
    return " ".join((f"{as_string(one.name, at_start=True)} is {one.word}.", *(words_of(one) for _, words_of in PICTURES.values())))


def lanes_words(view: SweepView) -> str:
    """Which figures the lanes show; the strings' rows have the numbers."""
    known = [name for name, of in (("ring", lambda one: one.ring), ("brightness", lambda one: one.brightness),
                                   ("how far its partials are off their places", lambda one: one.astray))
             if any(of(one).known for one in view.strings)]
    return f"Of every string against fresh: {', '.join(known)}. Each string's row below has its figures."


def levels_words(one: StringView) -> str:
    return _median_change_words(one, lambda point: point.level_db, lambda now, fresh: now - fresh,
                     lambda change: f"beside the loudest, the others start {_db(change)}")


def decays_words(one: StringView) -> str:
    """The percentage is that of the row."""
    return _median_change_words(one, lambda point: point.t60_s, lambda now, fresh: now / fresh,
                     lambda _: f"taken together they give the string’s ring, {told_change(one.verdict, one.ring)}")


def places_title(one: StringView) -> str:
    return "How far its partials moved" if one.condition.partials_moved else "How far they lie off their places"


def places_words(one: StringView) -> str:
    """Which partials moved since fresh; where that was not kept, which lie off the stiff-string series now."""
    if one.condition.partials_moved:
        return _moved_words(one.condition.partials_moved)
    is_compared = bool(one.now) and one.condition.changes.get("moved_cents", UNKNOWN).known
    not_kept = " How far each moved since fresh was not kept when this sweep was judged." if is_compared else ""
    return f"{_astray_words(one)}{not_kept}"


def _moved_words(moved: PartialsMoved) -> str:
    far = [one.n for one in moved.each if abs(one.cents) > max(ASTRAY_CENTS, ERRORS_TOLD * one.se_cents)]
    told = f"{len(far) or 'None'} of {count_of(len(moved.n), 'partial')} moved more than {ASTRAY_CENTS:g} cents against the others"
    left_out = f" The farthest, {moved.left_out}, may be another sound: the figure in cents leaves it out." if moved.left_out in far else ""
    return f"{told} since fresh, beyond what plucks alone make{': ' if far else ''}{', '.join(map(str, far))}.{left_out}"


def _astray_words(one: StringView) -> str:
    known = [point for point in one.now if point.astray_cents is not None]
    if not known:
        if all(point.freq_hz is None for point in one.now):
            return _why_no_picture(one)
        return ("Its stiffness is not known well enough to say where an even string has its partials; whether they moved is judged "
                "without it.")
    off = [str(point.n) for point in known if abs(point.astray_cents) > ASTRAY_CENTS]
    if not off:
        all_lie = f"All {len(known)} partials lie" if len(known) > 1 else "Its one partial lies"
        return f"{all_lie} within {ASTRAY_CENTS:g} cents of where an even string has them."
    told = f"{len(off)} of {len(known)} partials {'lies' if len(off) == 1 else 'lie'}"
    return f"{told} more than {ASTRAY_CENTS:g} cents from where an even string has them: {', '.join(off)}."


def history_title(one: StringView) -> str:
    shown = {"ring": "● ring, □ brightness", "moved": "partials moved", "waver": "how deep it wavers"}
    return f"Over the months: {shown[decisive(one.own_history)]}"


def history_words(one: StringView) -> str:
    """First and last ring of the string that is on, with the days; before it the figure that the picture shows in place of the ring."""
    known = [point for point in one.own_history if point.ring.known]
    if not one.history and one.condition.n_plucks:
        return LEFT_OUT
    decisive_words = _decisive_words(one)
    if not known:
        was_compared = any(point.ring.known for point in one.history)
        return decisive_words or (f"No sweep of the string that is on{_since(one)} can be compared with a baseline yet." if was_compared
                                  else "No earlier sweep can be compared with a baseline.")
    which = " of the string that is on" if len(known) < sum(point.ring.known for point in one.history) else ""
    told = f"{count_of(len(known), 'sweep')}{which} compared with fresh: {', '.join(map(_ring, _ends(known)))}."
    return " ".join(part for part in (decisive_words, told, "A broken line is a new string." if _is_restrung_within(one) else "") if part)


def _decisive_words(one: StringView) -> str:
    """The figure that made it false or watched, if not its ring; for a string that ever was false how far its partials moved in any
    case."""
    kind, was_false = decisive(one.own_history), any(point.verdict == "false" for point in one.own_history)
    waver = [(point, point.waver_db) for point in one.own_history if point.waver_db.known] if kind == "waver" else []
    moved = [(point, point.moved_cents) for point in one.own_history if point.moved_cents.known] if kind == "moved" or was_false else []
    told = (("Partials waver together deeper than fresh", "dB", waver), ("Partials moved since fresh", "cents", moved))
    return " ".join(f"{what}: {', '.join(f'{figure.value:.1f} {unit} on {day_text(point.date)}' for point, figure in _ends(known))}."
                    for what, unit, known in told if known)


def _ends(known: Sequence) -> Sequence:
    """The first and the last, or the only one."""
    return known[:1] if len(known) == 1 else [known[0], known[-1]]


def _is_restrung_within(one: StringView) -> bool:
    """Whether the picture shows the day of a new string."""
    days = [point.date for point in one.history if point.ring.known or point.brightness.known]
    return any(fitting.fitted_on and days[0] <= fitting.fitted_on <= days[-1] for fitting in one.fittings)


def _since(one: StringView) -> str:
    return f" since {day_text(one.newest.fitted_on)}" if one.newest and one.newest.fitted_on else ""


def _ring(point: HistoryPoint) -> str:
    return f"ring {told_change(point.verdict, point.ring)} on {day_text(point.date)}"


def _median_change_words(one: StringView, value: Callable[[PartialPoint], float | None], change: Callable[[float, float], float],
              words: Callable[[float], str]) -> str:
    """The median change over the partials that are known now and fresh."""
    fresh = {point.n: value(point) for point in one.fresh if value(point) is not None}
    known = [point for point in one.now if value(point) is not None]
    if not known:
        return _why_no_picture(one)
    if not one.fresh:
        why = "this sweep is the baseline that later ones are compared with" if one.state == FRESH else "there is no fresh baseline"
        return f"{count_of(len(known), 'partial')}; {why}."
    pairs = [(value(point), fresh[point.n]) for point in known if point.n in fresh]
    if not pairs:
        return f"{count_of(len(known), 'partial')} now; none of them was measured when fresh."
    return f"{count_of(len(pairs), 'partial')} now and fresh; {words(statistics.median(change(*pair) for pair in pairs))}."


def _why_no_picture(one: StringView) -> str:
    """Why there is no picture. Of a string that was heard the view's maker may have left out the partials."""
    if one.now:
        return "No partial could be measured well enough."
    return LEFT_OUT if one.condition.n_plucks else "Nothing was measured of this string in this sweep."


def _db(change: float) -> str:
    return "as loud as when fresh" if abs(change) < 1 else f"{abs(change):.0f} dB {'quieter' if change < 0 else 'louder'} than when fresh"


PICTURES = {  # title and words of each small picture of a string, by the keys of `figures.small.DRAWERS`
    "levels": (lambda _: "How loud its partials start", levels_words),
    "decays": (lambda _: "How long its partials ring", decays_words),
    "astray": (places_title, places_words),
    "history": (history_title, history_words),
}
