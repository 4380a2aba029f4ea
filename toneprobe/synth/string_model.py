"""One string as physics sees it: pitch, stiffness, losses, and whatever makes it false."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from zlib import crc32

import numpy as np

from toneprobe.instrument import Instrument, StringSpec
from toneprobe.stiffness import linear_density, modulus_pa, section_m2, stiff_b, tension_n
from toneprobe.synth import scale
from toneprobe.synth.material import MATERIALS, Material
from toneprobe.synth.soundboard import Soundboard, soundboard


@dataclass(frozen=True)
class StringModel:
    """A string; a healthy one has no mass, no unevenness and little scatter. Fractions and factors have no unit."""

    f0_hz: float  # fundamental of the flexible string
    b: float  # inharmonicity B of f_n = n·f0·√(1 + B·n²)
    length_mm: float
    gauge_mm: float  # outside diameter
    material: str = "nylon"
    inner_loss: float = 6e-4  # loss factor at all frequencies
    bend_loss: float = 0.03  # loss factor of the bending stiffness
    air: float = 1.0  # share of the air's damping, 0 in a vacuum
    age_loss: float = 0.0  # loss factor that age has added
    highs_loss_per_s: float = 0.0  # decay rate that dirt adds at 1 kHz; grows with the square of frequency
    mass_fraction: float = 0.0  # a point mass over the string's mass
    mass_place: float = 0.5  # its place over the length
    scatter_cents: float = 0.0  # rms of each partial's own deviation, all partials alike
    uneven_cents: float = 0.0  # rms of the first partial's deviation, falling as 1/√n
    split_hz: float = 0.0  # rms spacing of the two polarisations that the board causes
    split_cents: float = 0.0  # spacing of the two polarisations that the string causes
    second_gain: float = 0.35  # how loud the second polarisation is heard
    second_board: float = 0.2  # share of the board's mobility that it meets
    sum_tones: float = 1.0  # scale of the tones forced by the tension's swing
    board: Soundboard = field(default_factory=soundboard)
    individual: int = 0  # seed of this string's own pattern of deviations and phases

    @property
    def matter(self) -> Material:
        return MATERIALS[self.material]

    @property
    def linear_density_kg_m(self) -> float:
        return linear_density(self.matter.density_kg_m3, self.gauge_mm)

    @property
    def tension_n(self) -> float:
        return tension_n(self.linear_density_kg_m, self.length_mm, self.f0_hz)

    @property
    def core_mm(self) -> float:
        return self.gauge_mm * self.matter.core_share

    @property
    def modulus_pa(self) -> float:
        """Young's modulus of the core under the string's tension."""
        return modulus_pa(self.matter.stiff_like, self.tension_n / section_m2(self.core_mm))

    @property
    def stretch_stiffness_n(self) -> float:
        """Force per strain: Young's modulus times the core's section."""
        return self.modulus_pa * section_m2(self.core_mm)

    @property
    def physical_b(self) -> float:
        """The inharmonicity that gauge, length, tension and material give; `b` may be set to another."""
        return stiff_b(self.modulus_pa, self.core_mm, self.tension_n, self.length_mm)


def string_model(spec: StringSpec, *, seed: int = 0) -> StringModel:
    """A healthy string for one position, tuned to its note; what its owner has not said is taken from a concert harp's scale. The seed is
    that of a set of strings: from it and its name each string draws its inner loss and how its partials scatter and split. Soundboard,
    scale and stiffness are the same in every set.
    """
    individual = crc32(f"{seed} {spec.name}".encode())
    rng = np.random.default_rng(individual)
    name = spec.material or scale.material_name(spec.expected_hz)
    matter = MATERIALS[name]
    rough = StringModel(
        f0_hz=spec.expected_hz, b=0.0, material=name, individual=individual, board=soundboard(),
        length_mm=spec.length_mm or scale.length_mm(spec.expected_hz),
        gauge_mm=spec.gauge_mm or scale.gauge_mm(spec.expected_hz, name),
        inner_loss=matter.inner_loss * float(np.exp(rng.normal(0.0, 0.1))), bend_loss=matter.bend_loss,
        scatter_cents=float(rng.uniform(0.15, 0.4)), split_hz=float(rng.uniform(0.05, 0.2)),
    )
    b = rough.physical_b
    return replace(rough, b=b, f0_hz=spec.expected_hz / float(np.sqrt(1.0 + b)))


def string_models(instrument: Instrument, *, seed: int) -> Mapping[str, StringModel]:
    """A healthy model for every string of the instrument, by string name."""
    return {spec.name: string_model(spec, seed=seed) for spec in instrument.strings}
