"""What strings are made of: density, stiffness and inner loss of each material.

Wound strings are given by their outside gauge: the density is that of the whole (core, winding and the gaps between the turns),
and only the core is stiff. Densities of wound strings and all losses are of the right order, from general knowledge.
"""

from dataclasses import dataclass

from toneprobe.stiffness import DENSITY_KG_M3


@dataclass(frozen=True)
class Material:
    density_kg_m3: float  # of the whole string
    stiff_like: str  # the core's modulus, as `stiffness.modulus_pa` knows it
    core_share: float  # diameter of the core over the outside gauge
    inner_loss: float  # loss factor at all frequencies
    bend_loss: float  # loss factor of the bending stiffness


MATERIALS = {
    "nylon": Material(DENSITY_KG_M3["nylon"], "nylon", 1.0, 6e-4, 0.03),
    "gut": Material(DENSITY_KG_M3["gut"], "gut", 1.0, 6e-4, 0.03),
    "fluorocarbon": Material(1780.0, "nylon", 1.0, 7e-4, 0.03),
    "wound nylon": Material(3800.0, "nylon", 0.55, 1e-3, 0.03),
    "wire": Material(6800.0, "steel", 0.32, 1.4e-3, 0.02),
    "steel": Material(DENSITY_KG_M3["steel"], "steel", 1.0, 3e-4, 0.005),
}
