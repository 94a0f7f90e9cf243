"""Mass truth: the six figures by summing a fine grid of unevenly dense parts.

Each part is a field of mass per area over the plan with its own mean z² (how its mass lies
through the thickness). Figures in g, mm and kg·cm²; 1 kg·cm² = 1e5 g·mm².
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from tests.render.coverage import Window, coverage, window_of
from tests.render.plans import FLARE_END_MM, Plan, profile_plan
from tests.render.racquet import RacquetSpec
from tests.render.solids import rings_of

GRID_MM = 0.5
G_MM2_PER_KG_CM2 = 1e5


@dataclass(frozen=True)
class PartMass:
    """Sums of one part at unit mass: means of y, x², y² and z² in mm and mm²."""

    name: str
    y_mm: float
    x2_mm2: float
    y2_mm2: float
    z2_mm2: float


@dataclass(frozen=True)
class MassTruth:
    """The figures of a whole racquet. Twist is about the long axis through the balance point,
    recoil about the axis in the face square to it, spin about the face's normal there."""

    weight_g: float
    balance_mm: float
    swing_50_kgcm2: float
    swing_100_kgcm2: float
    twist_kgcm2: float
    recoil_kgcm2: float
    spin_kgcm2: float
    parts_g: dict[str, float]


def spread(
    name: str,
    shape: BaseGeometry,
    z2_mm2: float,
    gradient: float = 0.0,
    patch: tuple[float, float, float] = (0.0, 0.0, 1.0),
) -> PartMass:
    """Unit-mass sums of a plan shape. ``patch`` is (gain, y of its middle, its sigma) in mm."""
    rings = [ring / GRID_MM for ring in rings_of(shape)]
    window = window_of(rings)
    x, y = _grid(window)
    low, high = shape.bounds[1], shape.bounds[3]
    density = coverage(rings, window).astype(np.float64)
    density *= 1 + gradient * ((y - low) / max(high - low, 1e-9) - 0.5)
    gain, middle, sigma = patch
    density *= 1 + gain * np.exp(-(x**2 + (y - middle) ** 2) / (2 * sigma**2))
    density /= density.sum()
    # exact coverage is the shape blurred by a cell, which adds GRID²/12 to its squares
    own = GRID_MM**2 / 12
    return PartMass(
        name,
        float((density * y).sum()),
        float((density * x**2).sum()) - own,
        float((density * y**2).sum()) - own,
        z2_mm2,
    )


def _grid(window: Window) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    x = (window.x + np.arange(window.width, dtype=np.float64)) * GRID_MM
    y = (window.y + np.arange(window.height, dtype=np.float64)) * GRID_MM
    return x[None, :], y[:, None]


def combine(parts: list[tuple[PartMass, float]]) -> MassTruth:
    """Figures of parts with their masses (g); the racquet is even about its long axis."""
    weight = sum(mass for _, mass in parts)
    balance = sum(mass * part.y_mm for part, mass in parts) / weight
    x2 = sum(mass * part.x2_mm2 for part, mass in parts)
    y2 = sum(mass * part.y2_mm2 for part, mass in parts)
    z2 = sum(mass * part.z2_mm2 for part, mass in parts)
    recoil = y2 - weight * balance**2 + z2

    def swing(axis_mm: float) -> float:
        return (recoil + weight * (balance - axis_mm) ** 2) / G_MM2_PER_KG_CM2

    return MassTruth(
        weight_g=weight,
        balance_mm=balance,
        swing_50_kgcm2=swing(50.0),
        swing_100_kgcm2=swing(100.0),
        twist_kgcm2=(x2 + z2) / G_MM2_PER_KG_CM2,
        recoil_kgcm2=recoil / G_MM2_PER_KG_CM2,
        spin_kgcm2=(x2 + y2 - weight * balance**2) / G_MM2_PER_KG_CM2,
        parts_g={part.name: mass for part, mass in parts},
    )


def mass_of(spec: RacquetSpec, plan: Plan) -> MassTruth:
    """Share the spec's weight between head and handle so that its balance comes out.

    Raises ValueError where no positive shares give that balance.
    """
    inner = spec.insides
    head_parts = _head(spec, plan)
    grip_z2 = 0.27 * (spec.handle_thickness_mm / 2) ** 2
    grip = spread("handle", profile_plan(plan.handle), grip_z2, inner.handle_gradient)
    cap_shape = profile_plan(plan.handle).intersection(box(-500, -1, 500, FLARE_END_MM))
    cap = spread("butt_cap", cap_shape, grip_z2 * 1.3)
    handle_parts = [(grip, 1 - inner.butt_share), (cap, inner.butt_share)]
    strings = [line.buffer(0.6) for line in plan.strings]
    fixed: list[tuple[PartMass, float]] = []
    if strings and inner.strings_g:
        fixed.append((spread("strings", unary_union(strings), 1.0), inner.strings_g))
    y_head = sum(share * part.y_mm for part, share in head_parts)
    y_handle = sum(share * part.y_mm for part, share in handle_parts)
    rest = spec.weight_g - sum(mass for _, mass in fixed)
    moment = spec.weight_g * spec.balance_mm - sum(mass * part.y_mm for part, mass in fixed)
    head_g = (moment - rest * y_handle) / (y_head - y_handle)
    if not 0 < head_g < rest:
        raise ValueError(f"balance {spec.balance_mm} mm is out of reach: head mass would be {head_g:.1f} g")
    shares = [(part, share * head_g) for part, share in head_parts]
    shares += [(part, share * (rest - head_g)) for part, share in handle_parts]
    return combine(fixed + shares)


def _head(spec: RacquetSpec, plan: Plan) -> list[tuple[PartMass, float]]:
    inner, half = spec.insides, spec.face_thickness_mm / 2
    low, high = spec.handle_top_mm, spec.length_mm
    patch = (inner.patch_gain, low + inner.patch_y_share * (high - low), inner.patch_mm)
    whole = plan.pierced()
    if spec.construction == "strung":
        return [(spread("frame", whole, half**2 / 2, inner.head_gradient), 1.0)]
    core = plan.head.buffer(-inner.edge_width_mm)
    edge = whole.difference(core)
    face_z2 = half**2 * (1 / 3 + inner.skin_share * 2 / 3)
    face = spread("face", whole.intersection(core), face_z2, inner.head_gradient, patch)
    rim = spread("edge", edge, half**2 / 3, inner.edge_gradient)
    return [(face, 1 - inner.edge_share), (rim, inner.edge_share)]
