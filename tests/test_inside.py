"""How uneven insides move a part's means, against integrals done another way."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import LineString, Polygon

from model.inside import uneven_modes
from model.moments import Array
from tests.model_samples import rectangle

SLAB = Polygon(rectangle(-50, 100, 50, 300))


def covariance(modes: Array) -> Array:
    return modes.T @ modes


def test_a_field_that_varies_slowly_acts_as_a_gradient() -> None:
    """With a reach far above the size, f is nearly f0 + a y + b |x|, a and b of sd uneven / reach."""
    uneven, reach = 0.1, 5000.0
    got = covariance(uneven_modes(SLAB, uneven, reach))
    along = (uneven / reach * 200**2 / 12) ** 2
    assert got[0, 0] == pytest.approx(along, rel=0.02)
    assert np.sqrt(got[2, 2]) == pytest.approx(2 * 200 * np.sqrt(along), rel=0.02)


def test_against_drawn_fields() -> None:
    """Fields drawn on a rod by their covariance move its centre as the modes say."""
    uneven, reach, n = 0.2, 60.0, 400
    y = (np.arange(n) + 0.5) * 200 / n
    kernel = uneven**2 * np.exp(-((y[:, None] - y) ** 2) / (2 * reach**2))
    rng = np.random.default_rng(5)
    fields = rng.standard_normal((20000, n)) @ np.linalg.cholesky(kernel + 1e-10 * np.eye(n)).T
    centres = fields @ (y - y.mean()) / n
    got = covariance(uneven_modes(LineString([(0, 0), (0, 200)]), uneven, reach))
    assert np.sqrt(got[0, 0]) == pytest.approx(centres.std(), rel=0.03)


def test_doubling_unevenness_doubles_every_mode() -> None:
    once = covariance(uneven_modes(SLAB, 0.1, 60.0))
    assert covariance(uneven_modes(SLAB, 0.2, 60.0)) == pytest.approx(4 * once, rel=1e-9)


def test_an_even_part_has_no_modes() -> None:
    assert not uneven_modes(SLAB, 0.0, 60.0).any()
