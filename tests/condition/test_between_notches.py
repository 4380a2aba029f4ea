"""Which strings are said to have climbed."""

from types import SimpleNamespace

import pytest

from toneprobe.condition.between_notches import climbed
from toneprobe.instrument import load_instrument
from toneprobe.measure.figure import Figure

LEVER = load_instrument("lever-34")


@pytest.mark.parametrize(("cents", "se", "is_told"), [(34.0, 13.0, False), (34.0, 3.0, True), (15.0, 1.0, False)])
def test_a_string_climbed_only_where_its_pitch_is_known_well_enough(cents, se, is_told):
    """34 ± 13 cents are 2.6 errors, and were one pluck with a thump before it; of a healthy string a pitch is known within 1 to 4 cents
    (measured). Three others stay where they were."""
    heard = {"2C": Figure(cents, se), "3C": Figure(0.0, 1.0), "4C": Figure(0.0, 1.0), "5C": Figure(0.0, 1.0)}
    sweep = SimpleNamespace(readings={name: SimpleNamespace(figures={"cents_off": one}) for name, one in heard.items()})
    changes = {name: SimpleNamespace(series=SimpleNamespace(pitch_cents=one, astray_cents=Figure(0.0, 1.0))) for name, one in heard.items()}
    assert climbed(sweep, changes, LEVER, lambda spec: Figure(0.0, 0.5)) == ({"2C": cents} if is_told else {})
