"""How many spares to hold, from the owner's own lives of strings."""

from collections.abc import Iterable

from toneprobe.harp_state import HarpState
from toneprobe.lives import foresee_demand, register_lives
from toneprobe.lives.registers import register_of
from toneprobe.practice import material_family
from toneprobe.spares import Holding, Spare, check_full_set, suggest_holding

AHEAD_DAYS = 365.0  # for so long the spares are to last


def holdings_of(state: HarpState, spares: Iterable[Spare]) -> tuple[Holding, ...]:
    """One line for each material and register; planned changes use spares too, so every removal counts."""
    lives = register_lives(state.fittings, state.instrument, today=state.today, log_began=state.settings.log_began, any_removal=True)
    strung = state.strung
    demands = foresee_demand(lives, state.fittings, state.instrument, today=state.today, ahead_days=AHEAD_DAYS)
    checks = check_full_set(spares, strung, today=state.today, habits=state.settings.habits)
    registers = {spec.name: register_of(spec, state.instrument) for spec in state.instrument.strings}
    groups = {spec.name: (material_family(spec.material) or "unknown", registers[spec.name]) for spec in strung.strings}
    return suggest_holding(demands, checks, groups)
