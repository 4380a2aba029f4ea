"""A made-up harp over two years, for every test of the report."""

from dataclasses import replace

import pytest
from made_up_report import TODAY, condition_of, evidence_of, facts_of, fitting_of, small_view_of, sounding_view_of, whole_view

from toneprobe.audio import Remark
from toneprobe.instrument import load_instrument
from toneprobe.report.view import SweepFacts, sweep_view


@pytest.fixture(scope="session")
def facts():
    return facts_of()


@pytest.fixture(scope="session")
def view():
    """47 strings, 24 months of history, no sound."""
    return whole_view(with_clips=False)


@pytest.fixture(scope="session")
def sounding_view():
    """The same with two clips a string."""
    return sounding_view_of(facts_of())


@pytest.fixture(scope="session")
def small_view():
    """A lever harp of 22 strings with every verdict."""
    return small_view_of(load_instrument("lever-22"))


@pytest.fixture(scope="session")
def hostile_view():
    """A harp whose names and reasons try to be markup, mathematics, a formula and a script."""
    bite = '<script>window.bitten=1</script><img src="http://127.0.0.1:9/x" onerror="window.bitten=1">'
    instrument = load_instrument("lever-22")
    specs = tuple(replace(spec, name=f'{name}"><b>$x^{{2$') if place < 2 else spec
                  for place, (spec, name) in enumerate(zip(instrument.strings, ("=1+1", "[red]"), strict=False))) + instrument.strings[2:]
    instrument = replace(instrument, strings=specs)
    conditions = tuple(replace(condition_of(spec, "dead" if place < 2 else "sound"), reasons=(bite,), next_step=bite)
                       for place, spec in enumerate(specs))
    facts = SweepFacts(f"=harp {bite}", instrument, TODAY, conditions, (Remark(bite),))
    log = {spec.name: (fitting_of(spec, supplier=bite, note=bite),) for spec in specs}
    evidence = {spec.name: replace(evidence_of(spec, with_clips=False), fittings=log[spec.name]) for spec in specs}
    return sweep_view(facts, evidence)
