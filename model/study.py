"""What added weight does to the six figures: before, after, change, per gram, and how sure each is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from model.figures import (
    KGCM2_GMM2,
    Body,
    Figures,
    as_figures,
    six,
    slopes_by_steps,
    spread,
)

Array = NDArray[np.float64]

SURE = np.zeros((6, 6))  # pieces whose mass and place count as exact


@dataclass(frozen=True, eq=False)
class Triple:
    """Quantities (m,) before, after and their change, with sds split by where they come from.

    ``per_gram`` is the change over the grams added, which err in both: of the weight it is exactly 1.
    ``*_sd`` are whole; ``placement_sd`` is what the pieces' mass and place add to after and
    change alike, ``baseline_after_sd`` and ``baseline_change_sd`` what comes from not knowing the racquet.
    """

    before: Array
    after: Array
    change: Array
    per_gram: Array
    before_sd: Array
    after_sd: Array
    change_sd: Array
    per_gram_sd: Array
    placement_sd: Array
    baseline_after_sd: Array
    baseline_change_sd: Array


@dataclass(frozen=True, eq=False)
class Study:
    """Figures without and with the pieces, their difference, and the difference for each gram added.

    The difference is surer than either: most of what is unknown about the racquet is in both.
    ``placement_sd``, ``baseline_after_sd`` and ``baseline_change_sd`` (6,) are in the order of
    FIGURE_NAMES; see :class:`Triple`.
    """

    before: Figures
    after: Figures
    change: Figures
    per_gram: Figures
    placement_sd: Array
    baseline_after_sd: Array
    baseline_change_sd: Array


def study(
    body: Body,
    added: Array,
    axis_mm: float,
    size_cov: Array,
    placement_cov: Array = SURE,
    landmark_cov: Array = SURE,
) -> Study:
    """Add pieces with the mass integrals ``added`` (6,) of (1, x, y, xx, yy, zz) to a racquet.

    ``placement_cov`` (6, 6) is the covariance of ``added`` from the pieces' own mass and place,
    ``landmark_cov`` (6, 6) from not knowing exactly the landmarks that they are placed by; ``size_cov``
    (2, 2) that of what the outline's lengths and widths may be larger by, as shares of them. The racquet's
    own centre of mass is taken to lie on the long axis.
    """
    t = triple(lambda values, _: six(values, axis_mm), body, added, size_cov, placement_cov, landmark_cov)
    return Study(
        before=as_figures(t.before, t.before_sd, axis_mm),
        after=as_figures(t.after, t.after_sd, axis_mm),
        change=as_figures(t.change, t.change_sd, axis_mm),
        per_gram=as_figures(t.per_gram, t.per_gram_sd, axis_mm),
        placement_sd=t.placement_sd,
        baseline_after_sd=t.baseline_after_sd,
        baseline_change_sd=t.baseline_change_sd,
    )


def triple(
    quantity: Callable[[Array, float], Array],
    body: Body,
    added: Array,
    size_cov: Array,
    placement_cov: Array = SURE,
    landmark_cov: Array = SURE,
) -> Triple:
    """Any quantities (m,) of a body before and after adding ``added``, with first-order sds.

    ``quantity(values, x_mm)`` takes the body's five figures and the centre of mass's distance
    from the long axis.
    """

    def before(state: Array) -> Array:
        return quantity(state[:5], 0.0)

    def after(state: Array) -> Array:
        integrals = stretched(state[7:], state[5:7])
        return quantity(with_added(state[:5], integrals), off_axis_mm(state[:5], integrals))

    at = np.concatenate([body.values, np.zeros(2), added])
    known = np.zeros((13, 13))
    known[:5, :5] = body.cov
    known[5:7, 5:7] = size_cov
    known[7:, 7:] = landmark_cov
    placed = np.zeros((13, 13))
    placed[7:, 7:] = placement_cov
    slopes_before, slopes_after = slopes_by_steps(before, at), slopes_by_steps(after, at)
    slopes = slopes_after - slopes_before
    change = after(at) - before(at)
    share = 1 / float(added[0]) if added[0] else 0.0
    slopes_per_gram = slopes * share
    slopes_per_gram[:, 7] -= change * share**2
    return Triple(
        before=before(at),
        after=after(at),
        change=change,
        per_gram=change * share,
        before_sd=spread(slopes_before, known),
        after_sd=spread(slopes_after, known + placed),
        change_sd=spread(slopes, known + placed),
        per_gram_sd=spread(slopes_per_gram, known + placed),
        placement_sd=spread(slopes, placed),
        baseline_after_sd=spread(slopes_after, known),
        baseline_change_sd=spread(slopes, known),
    )


def with_added(values: Array, added: Array) -> Array:
    """The body's five figures (..., 5) after adding mass integrals (..., 6), by parallel axes."""
    return np.stack(five_with_added(values, added), axis=-1)


def five_with_added(values: Array, added: Array) -> tuple[Array, Array, Array, Array, Array]:
    """:func:`with_added`, each figure (...) by itself."""
    weight, balance, recoil, twist, spin = (values[..., k] for k in range(5))
    mass, x, y, xx, yy, zz = (added[..., k] for k in range(6))
    new_weight = weight + mass
    new_y, new_x = (weight * balance + y) / new_weight, x / new_weight
    about_butt = weight * balance**2 + yy - new_weight * new_y**2
    return (
        new_weight,
        new_y,
        recoil + (about_butt + zz) / KGCM2_GMM2,
        twist + (xx + zz) / KGCM2_GMM2,
        spin + (about_butt + xx - new_weight * new_x**2) / KGCM2_GMM2,
    )


def off_axis_mm(values: Array, added: Array) -> float:
    """How far right of the long axis the centre of mass lies after adding ``added``."""
    return float(added[1] / (values[0] + added[0]))


def stretched(added: Array, shares: Array) -> Array:
    """Mass integrals (..., 6) when the outline is longer and wider by ``shares`` (..., 2) of itself.

    >>> stretched(np.ones(6), np.array([0.5, 1.0]))
    array([1.  , 2.  , 1.5 , 4.  , 2.25, 1.  ])
    """
    longer, wider = (1 + np.asarray(shares)[..., k] for k in (0, 1))
    one = np.ones_like(longer)
    return np.asarray(added * np.stack([one, wider, longer, wider**2, longer**2, one], axis=-1))
