"""A rim that is lost along the shoulders is as wide there as everywhere else."""

from __future__ import annotations

import numpy as np
import pytest

from digitise.band import ACROSS_MM, Band, even_ring, ring_normals
from digitise.even_rim import REACH_MM, find_even_rim
from digitise.outer_rim import OuterRim
from digitise.tone import FloatArray
from tests.drawn_view import paddle_ring

FACE, RIM, GRIP, TABLE = (0.5, 0.12, 0.05), (0.22, 0.22, 0.22), (0.04, 0.04, 0.12), (0.3, 0.3, 0.3)
RIM_MM = 8.0
LOST_MM = (150.0, 200.0)
"""Where along the axis the outline ran along the rim's inner border."""


def base_ring() -> FloatArray:
    """The outline, begun at the butt's middle: point i mirrors point -i."""
    ring = even_ring(paddle_ring(), 0.1)
    begin = int(np.argmin(np.hypot(ring[:, 0], ring[:, 1])))
    return even_ring(np.roll(ring, -begin, axis=0), 1.0)


def found_rim(
    lost: bool,
    face: tuple[float, ...] = FACE,
    outer: bool = True,
    leaning_mm: float = 0.0,
    told: bool = True,
    rounded_mm: float = 3.6,
) -> OuterRim | None:
    """What is found of a paddle with a rim ``RIM_MM`` wide inside its outline; where it is ``lost`` the rim
    lies outside instead, ``outer``, or there is just table. At the tip it looks ``leaning_mm`` narrower."""
    base = base_ring()
    narrower_mm = leaning_mm * np.maximum(ring_normals(base)[:, 1], 0.0)
    width_mm = (RIM_MM - narrower_mm)[:, None]
    offset_mm = np.arange(-REACH_MM[0], REACH_MM[1] + ACROSS_MM / 2, ACROSS_MM)
    head = (base[:, 1] > 130)[:, None]
    apart = lost & (base[:, 1] > LOST_MM[0]) & (base[:, 1] < LOST_MM[1])
    out_mm = np.where(apart, RIM_MM, 0.0)[:, None]
    rim = (offset_mm < out_mm) & (offset_mm >= out_mm - width_mm) & (outer | (offset_mm < 0))
    inside = offset_mm < out_mm - width_mm
    light = np.empty((len(base), len(offset_mm), 3))
    light[:] = TABLE
    light[rim & head] = RIM
    light[inside & head] = face
    light[(offset_mm < 0) & ~head] = GRIP
    noise = np.random.default_rng(4).normal(1, 0.01, light.shape)
    band = Band(np.asarray(light * noise, np.float32), base, ring_normals(base), offset_mm)
    return find_even_rim(
        band, np.ones(light.shape[:2], bool), narrower_mm if told else 0 * narrower_mm, rounded_mm
    )


def test_a_lost_stretch_is_moved_out_by_the_rims_width() -> None:
    found = found_rim(lost=True)
    assert found is not None
    assert found.width_mm == pytest.approx(RIM_MM, abs=0.5)
    base = base_ring()
    out_mm = np.linalg.norm(found.ring_mm - base, axis=1)
    assert np.median(out_mm[(base[:, 1] > 160) & (base[:, 1] < 190)]) == pytest.approx(RIM_MM, abs=0.5)
    assert out_mm[(base[:, 1] > 220) | (base[:, 1] < 130)].max() < 0.5


def test_an_even_rim_stays() -> None:
    assert found_rim(lost=False) is None


def test_a_rim_that_looks_narrower_at_the_tip_is_even_all_the_same() -> None:
    assert found_rim(lost=False, leaning_mm=3.0) is None
    found = found_rim(lost=True, leaning_mm=3.0)
    assert found is not None
    assert found.width_mm == pytest.approx(RIM_MM, abs=0.5)
    base = base_ring()
    out_mm = np.linalg.norm(found.ring_mm - base, axis=1)
    assert out_mm[(base[:, 1] > 220) | (base[:, 1] < 130)].max() < 0.5
    # a finder that knows nothing of it moves the tip
    untold = found_rim(lost=False, leaning_mm=3.0, told=False)
    assert untold is not None
    assert np.linalg.norm(untold.ring_mm - base, axis=1).max() > 1.5


def test_a_border_on_the_rounded_edge_is_no_rims() -> None:
    assert found_rim(lost=True, rounded_mm=RIM_MM - 1.5) is not None
    assert found_rim(lost=True, rounded_mm=RIM_MM + 1.5) is None


def test_a_face_of_the_rims_colour_tells_nothing() -> None:
    assert found_rim(lost=True, face=RIM) is None


def test_where_no_border_lies_outside_nothing_is_moved() -> None:
    assert found_rim(lost=True, outer=False) is None


def test_what_looks_like_the_table_is_no_face() -> None:
    assert found_rim(lost=True, face=(0.29, 0.3, 0.29)) is None
