"""What strips of tape do to the six figures: before, after, change."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from model.figures import (
    KGCM2_GMM2,
    Body,
    Figures,
    as_figures,
    figures_of,
    six,
    slopes_by_steps,
    spread,
)

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Study:
    """Figures without and with the strips, and their difference with its own sd.

    The difference is surer than either: most of what is unknown about the racquet is in both.
    """

    before: Figures
    after: Figures
    change: Figures


def study(body: Body, added: Array, axis_mm: float, relative_scale_sd: float) -> Study:
    """Add strips with the mass integrals ``added`` (6,) of (1, x, y, xx, yy, zz) to a racquet.

    The strips' masses and places count as exact; lengths on the outline carry the photo's
    relative scale sd. The racquet's own centre of mass is taken to lie on the long axis.
    """
    before = six(body.values, axis_mm)

    def after(values: Array) -> Array:
        return six(_with(values[:5], _stretched(added, values[5])), axis_mm)

    def change(values: Array) -> Array:
        return after(values) - six(values[:5], axis_mm)

    at = np.append(body.values, 0.0)
    cov = np.zeros((6, 6))
    cov[:5, :5] = body.cov
    cov[5, 5] = relative_scale_sd**2
    return Study(
        before=figures_of(body, axis_mm),
        after=as_figures(after(at), spread(slopes_by_steps(after, at), cov), axis_mm),
        change=as_figures(after(at) - before, spread(slopes_by_steps(change, at), cov), axis_mm),
    )


def _with(values: Array, added: Array) -> Array:
    """The body's five figures after adding mass integrals, by parallel axes about the new balance point."""
    weight, balance, recoil, twist, spin = values
    mass, x, y, xx, yy, zz = added
    new_weight = weight + mass
    new_y, new_x = (weight * balance + y) / new_weight, x / new_weight
    about_butt = weight * balance**2 + yy - new_weight * new_y**2
    return np.array(
        [
            new_weight,
            new_y,
            recoil + (about_butt + zz) / KGCM2_GMM2,
            twist + (xx + zz) / KGCM2_GMM2,
            spin + (about_butt + xx - new_weight * new_x**2) / KGCM2_GMM2,
        ]
    )


def _stretched(added: Array, relative: float) -> Array:
    factor = 1 + relative
    return np.asarray(added * np.array([1, factor, factor, factor**2, factor**2, 1]))
