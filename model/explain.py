"""Where the figures come from: each part's mass and its shares of weight, swing weight and twist weight."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from model.calibrate import Calibration
from model.figures import KGCM2_GMM2
from model.measured import Measured
from model.parts import XX, YY, ZZ, Y


@dataclass(frozen=True)
class Share:
    """A part's grams, centre (mm from the butt), and its shares of the three figures, which add up to 1."""

    name: str
    mass_g: Measured
    centre_mm: float
    weight: float
    swing: float
    twist: float
    counts: bool


def shares(found: Calibration, axis_mm: float) -> list[Share]:
    """The parts in their order; what does not count has no shares. The inertias are kg cm²."""
    parts, n = found.parts, len(found.names)
    unit = parts.unit + np.tensordot(found.state[n : n + len(parts.modes)], parts.modes, axes=1)
    mass = found.mass_g * np.array(parts.counts)
    swing = mass * (unit[:, YY] - 2 * axis_mm * unit[:, Y] + axis_mm**2 + unit[:, ZZ]) / KGCM2_GMM2
    twist = mass * (unit[:, XX] + unit[:, ZZ]) / KGCM2_GMM2
    masses = found.part_masses()
    return [
        Share(
            name,
            masses[name],
            float(unit[i, Y]),
            float(mass[i] / mass.sum()),
            float(swing[i] / swing.sum()),
            float(twist[i] / twist.sum()),
            parts.counts[i],
        )
        for i, name in enumerate(found.names)
    ]
