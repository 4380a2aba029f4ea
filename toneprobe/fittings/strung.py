"""The instrument as its owner strings it."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from shlex import quote

from toneprobe.fittings.fitting import Fitting
from toneprobe.instrument import Instrument, StringSpec
from toneprobe.phrases import as_strings, one_after_another
from toneprobe.practice import may_be_same, more_exact


def as_strung(instrument: Instrument, fittings: Iterable[Fitting]) -> Instrument:
    """The instrument as its owner strings it, by which spares, orders and plans go: where the log has another material for a position's
    last string of its own (no stand-in), or names it more exactly, that one; never one with a "?". The gauge of another material is known
    from the log alone."""
    own = sorted((one for one in fittings if not one.is_stand_in),
                 key=lambda one: (one.removed_on or date.max, one.fitted_on or date.min, one.id))
    last = {one.string: one for one in own}
    return replace(instrument, strings=tuple(_as_kept(spec, last.get(spec.name)) for spec in instrument.strings))


def kept_words(instrument: Instrument, strung: Instrument) -> str:
    """On which positions another material is kept than belongs there, and what to do where that is not so; "" for none."""
    pairs = [(spec, kept) for spec, kept in zip(instrument.strings, strung.strings, strict=True)
             if not may_be_same(spec.material, kept.material)]
    kinds: dict[tuple[str | None, str | None], list[str]] = {}
    for spec, kept in pairs:
        kinds.setdefault((kept.material, spec.material), []).append(spec.name)
    if not kinds:
        return ""
    told = [f"on {one_after_another(as_strings(names))} the log has {kept}, where {own} belongs" for (kept, own), names in kinds.items()]
    spec, which = pairs[0][0], "" if len(pairs) == 1 else ", for instance"
    return (f"{'; '.join(told)}: spares, orders and changes go by what the log has. Where it is wrong{which}: toneprobe log correct "
            f"{quote(spec.name)} --material {quote(spec.material or '')}")


def _as_kept(spec: StringSpec, last: Fitting | None) -> StringSpec:
    logged = last.material if last else None
    if not logged or not spec.material or "?" in logged:
        return spec
    if may_be_same(logged, spec.material):
        return replace(spec, material=more_exact(spec.material, logged))
    return replace(spec, material=logged, gauge_mm=last.gauge_mm)
