"""The air that a face swung broadside carries along.

A flat plate moved square to itself in a fluid behaves as if it were heavier. For an ellipse of
half axes a ≥ b the added mass is 4/3 π ρ a b² / E(k), k² = 1 - b²/a² (Lamb, Hydrodynamics, 6th
ed., ellipsoids of vanishing thickness): 8/3 ρ r³ for a disc, the strips' sum 4/3 π ρ a b² for a long one.
Turned about a diameter a disc adds 16/45 ρ r⁵, which is 2/15 r² a unit of its added mass; an ellipse adds
2/15 to 1/5 a² about its short axis and 1/10 to 2/15 b² about its long one, for which 2/15 is taken here.
A scale does not see this mass, a pendulum swung face first does, and so does a racquet on two threads
turned for its recoil or twist weight; in its own plane a face hardly moves any air.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from model.figures import KGCM2_GMM2

AIR_G_MM3 = 1.2e-6  # 1.2 kg/m³ at 20 °C near the sea; 10 % less at 1000 m
RELATIVE_SD = 0.2  # of the added mass: the face is no ellipse and thick, the air warmer or thinner

DISC_SHARE = 2 / 15  # of r²: mean square of a disc's added mass


@dataclass(frozen=True)
class Air:
    """Added mass (g), its middle's distance from the butt (mm) and its own mean squares about it (mm²).

    ``own_mm2`` is for turns about the axis across the handle, ``across_mm2`` about the long axis.
    """

    mass_g: float
    middle_mm: float
    own_mm2: float
    across_mm2: float

    def inertia_kgcm2(self, axis_mm: float) -> float:
        """What it adds about an axis across the handle."""
        return self.mass_g * ((self.middle_mm - axis_mm) ** 2 + self.own_mm2) / KGCM2_GMM2

    @property
    def twist_kgcm2(self) -> float:
        """What it adds about the long axis."""
        return self.mass_g * self.across_mm2 / KGCM2_GMM2


NO_AIR = Air(0.0, 0.0, 0.0, 0.0)


def air_of(face_low_mm: float, tip_mm: float, width_mm: float, closed_share: float) -> Air:
    """The air with a face between two heights; ``closed_share`` of what a closed face would carry."""
    half_height, half_width = (tip_mm - face_low_mm) / 2, width_mm / 2
    long, short = max(half_height, half_width), min(half_height, half_width)
    closed = 4 / 3 * math.pi * AIR_G_MM3 * long * short**2 / _elliptic_e(1 - (short / long) ** 2)
    squares = DISC_SHARE * half_height**2, DISC_SHARE * half_width**2
    return Air(closed_share * closed, (face_low_mm + tip_mm) / 2, *squares)


def _elliptic_e(m: float) -> float:
    """Complete elliptic integral of the second kind of parameter m = k², by Gauss's means (DLMF 19.8.6).

    >>> round(_elliptic_e(0.0), 6), round(_elliptic_e(0.5), 6)
    (1.570796, 1.350644)
    """
    a, g, c, total, factor = 1.0, math.sqrt(1 - m), math.sqrt(m), 0.0, 0.5
    while factor * c * c > 1e-17:
        total += factor * c * c
        a, g, c, factor = (a + g) / 2, math.sqrt(a * g), (a - g) / 2, factor * 2
    return math.pi / (2 * a) * (1 - total)
