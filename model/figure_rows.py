"""The figures as functions of what is added, with slopes: the rows of a linear program.

Added weight enters by six sums c = (mass, x, y, xx, yy, zz). Weight, swing and twist weight are
linear in c, and so is a limit on the balance once multiplied by the mass. Recoil and spin weight
are linear less (first moment)² / mass, a convex term: they are concave in c.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from model.figures import KGCM2_GMM2
from model.study import five_with_added

Array = NDArray[np.float64]

NAMES = ("weight", "balance", "swing", "twist", "recoil", "spin", "added")
UNITS = {"weight": "g", "balance": "mm", "added": "g"}
CURVED = ("recoil", "spin")
ONLY_GROWS = tuple(name for name in NAMES if name != "balance")  # adding mass never lowers these


def unit_of(figure: str) -> str:
    """The unit a figure is shown in."""
    return UNITS.get(figure, "kg·cm²")


def figure_at(figure: str, axis_mm: float) -> str:
    """A figure's name in a sentence: a swing weight means nothing without its axis."""
    return f"{figure} at {axis_mm:g} mm" if figure == "swing" else figure


def figure_values(body: Array, added: Array, axis_mm: float) -> dict[str, float]:
    """All of NAMES for a body's five figures (5,) with the sums ``added`` (6,)."""
    return {name: float(value) for name, value in figures_each(body, added, axis_mm).items()}


def figures_before(body: Array, axis_mm: float) -> dict[str, float]:
    """All of NAMES with nothing added."""
    return figure_values(body, np.zeros(6), axis_mm)


def figures_each(body: Array, added: Array, axis_mm: float) -> dict[str, Array]:
    """All of NAMES (m,) for many sums (m, 6), or many bodies (m, 5) with them."""
    weight, balance, recoil, twist, spin = five_with_added(body, added)
    swing = recoil + weight * (balance - axis_mm) ** 2 / KGCM2_GMM2
    return dict(zip(NAMES, (weight, balance, swing, twist, recoil, spin, added[..., 0]), strict=True))


def slope(figure: str, body: Array, added: Array, axis_mm: float) -> Array:
    """Derivative (6,) of a figure by the sums, at ``added``."""
    mass = body[0] + added[0]
    b, x = (body[0] * body[1] + added[2]) / mass, added[1] / mass
    match figure:
        case "weight" | "added":
            return np.array([1.0, 0, 0, 0, 0, 0])
        case "balance":
            return np.array([-b / mass, 0, 1 / mass, 0, 0, 0])
        case "swing":
            return np.array([axis_mm**2, 0, -2 * axis_mm, 0, 1, 1]) / KGCM2_GMM2
        case "twist":
            return np.array([0, 0, 0, 1.0, 0, 1]) / KGCM2_GMM2
        case "recoil":
            return np.array([b * b, 0, -2 * b, 0, 1, 1]) / KGCM2_GMM2
        case _:
            return np.array([b * b + x * x, -2 * x, -2 * b, 1, 1, 0]) / KGCM2_GMM2


def row_at_most(figure: str, bound: float, body: Array, axis_mm: float, around: Array) -> tuple[Array, float]:
    """(g, h) with g·c ≤ h when figure ≤ bound; curved figures by their tangent at ``around``."""
    if figure == "balance":
        return np.array([-bound, 0, 1.0, 0, 0, 0]), float(body[0] * (bound - body[1]))
    g = slope(figure, body, around, axis_mm)
    at = figure_values(body, around, axis_mm)[figure]
    return g, float(bound - at + g @ around)


def row_at_least(
    figure: str, bound: float, body: Array, axis_mm: float, around: Array
) -> tuple[Array, float]:
    """(g, h) with g·c ≤ h when figure ≥ bound."""
    g, h = row_at_most(figure, bound, body, axis_mm, around)
    return -g, -h


def loose_row_at_most(
    figure: str, bound: float, body: Array, axis_mm: float, slab: tuple[float, float], off_axis: float = 0.0
) -> tuple[Array, float]:
    """A row that every c with a curved figure ≤ bound keeps, if its moment D lies in the slab.

    D is the added first moment about the old balance point b. With M the new mass the convex
    term is M b² + 2 b D + D²/M, and D²/M is at most the chord of D²/M_before over the slab.
    ``off_axis`` is the largest first moment (g mm) across the handle, which spin weight has too.
    """
    mass, b = float(body[0]), float(body[1])
    low, high = slab
    moment = np.array([-b, 0, 1.0, 0, 0, 0])  # D as a function of c
    linear = np.array([0, 0, 0, 0, 1.0, 1]) if figure == "recoil" else np.array([0, 0, 0, 1.0, 1, 0])
    g = linear - b * b * np.array([1.0, 0, 0, 0, 0, 0]) - (2 * b + (low + high) / mass) * moment
    before = figure_values(body, np.zeros(6), axis_mm)[figure]
    chord = low * high / mass - (off_axis**2 / mass if figure == "spin" else 0.0)
    return g / KGCM2_GMM2, float(bound - before - chord / KGCM2_GMM2)


def moment_row(body: Array) -> Array:
    """g (6,) with g·c the first moment about the old balance point that c adds, g mm."""
    return np.array([-float(body[1]), 0, 1.0, 0, 0, 0])
