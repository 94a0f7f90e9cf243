"""A rim of one width all round a head on a printed mat, on a band round it."""

from __future__ import annotations

import numpy as np
import pytest

from digitise.band import ACROSS_MM, Band, even_ring, ring_normals
from digitise.head_sectors import agreed, courses
from digitise.outer_rim import REACH_MM
from digitise.steady_rim import find_steady_rim
from digitise.tone import FloatArray
from tests.drawn_view import paddle_ring

TABLE = np.array([0.05, 0.10, 0.30])
LINE_MM, APART_MM, TURN = 1.2, 10.0, np.radians(20)


def mat(points_mm: FloatArray) -> FloatArray:
    """Light (..., 3) of a blue mat with bright lines both ways at points (..., 2)."""
    cos, sin = np.cos(TURN), np.sin(TURN)
    turned = points_mm @ np.array([[cos, -sin], [sin, cos]])
    lined = (np.abs((turned / APART_MM) % 1 - 0.5) * APART_MM < LINE_MM / 2).any(axis=-1)
    return np.where(lined[..., None], 0.6, TABLE)


def on_mat(
    rim: FloatArray, width_mm: FloatArray | float, narrower_mm: float = 0.0
) -> tuple[Band, FloatArray]:
    """A band about a paddle on the mat whose rim, of this light (3,), is seen ``width_mm`` less
    ``narrower_mm`` wide all round, or so wide (n,) at each place; and that ``narrower_mm`` (n,)."""
    base = even_ring(paddle_ring(), 1.0)
    normal = ring_normals(base)
    offset_mm = np.arange(-REACH_MM[0], REACH_MM[1] + ACROSS_MM / 2, ACROSS_MM)
    light = mat(base[:, None] + offset_mm[None, :, None] * normal[:, None])
    to_mm = np.broadcast_to(width_mm, (len(base),)) - narrower_mm
    light = np.where((offset_mm[None] < to_mm[:, None])[..., None], rim, light)
    light = np.where((offset_mm < 0)[None, :, None], 0.5, light)
    noise = np.random.default_rng(4).normal(1, 0.03, light.shape)
    band = Band(np.asarray(light * noise, np.float32), base, normal, offset_mm)
    return band, np.full(len(base), narrower_mm)


def free(band: Band) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    return np.ones(band.light.shape[:2], bool)


@pytest.mark.parametrize(("width_mm", "narrower_mm"), [(6.0, 0.0), (9.0, 0.0), (9.0, 1.5), (15.0, 0.0)])
def test_a_rim_that_hardly_differs_is_found_among_lines(width_mm: float, narrower_mm: float) -> None:
    band, narrower = on_mat(np.full(3, 0.09), width_mm, narrower_mm)
    found = find_steady_rim(band, free(band), narrower)
    assert found is not None
    assert found.width_mm == pytest.approx(width_mm, abs=0.5)
    out_mm = np.linalg.norm(found.ring_mm - band.base_mm, axis=1)
    head = band.base_mm[:, 1] > 250
    assert np.median(out_mm[head]) == pytest.approx(width_mm - narrower_mm, abs=0.5)
    assert out_mm[band.base_mm[:, 1] < 100].max() == 0.0


def test_bare_mat_has_no_steady_rim() -> None:
    band, narrower = on_mat(np.full(3, 0.09), 0.0)
    assert find_steady_rim(band, free(band), narrower) is None


def test_a_shadow_that_falls_one_way_is_no_steady_rim() -> None:
    """Its border is as far out as the place looks the way it falls."""
    base = even_ring(paddle_ring(), 1.0)
    band, narrower = on_mat(0.4 * TABLE, np.maximum(12.0 * ring_normals(base)[:, 0], 0.0))
    assert find_steady_rim(band, free(band), narrower) is None


def test_where_too_little_of_the_head_is_free_no_rim_is_told() -> None:
    band, narrower = on_mat(np.full(3, 0.09), 9.0)
    bare = free(band) & (band.base_mm[:, :1] > 0) & (band.normal[:, 1:] < 0.5)
    assert find_steady_rim(band, bare, narrower) is None


def test_sectors_agree_on_what_most_show() -> None:
    """Nine of twelve sectors step by one sd of both ratios, the root of two in all, three do not: the lower
    quartile is 3/4 of the way from none to that, told by numpy's linear rule."""
    step = np.zeros((12, 1, 3))
    step[3:, 0] = [0.0, 0.006, 0.006]
    assert agreed(step)[0] == pytest.approx(0.75 * np.sqrt(2))
    step[2:, 0] = [0.0, 0.006, 0.006]
    assert agreed(step)[0] == pytest.approx(np.sqrt(2))


def test_lines_fall_out_of_a_sector_s_course() -> None:
    angle = np.arange(0, 2 * np.pi, 0.001)
    normal = np.column_stack([np.sin(angle), np.cos(angle)])
    colour = np.zeros((len(angle), 4, 3))
    colour[::3, 2] = 5.0
    columns = np.tile(np.arange(4), (len(angle), 1))
    seen = courses(colour, columns, normal, np.ones(len(angle), bool))
    assert seen.shape == (12, 4, 3)
    assert np.all(seen == 0)
    few = courses(colour, columns, normal, normal[:, 0] > 0.6)
    assert len(few) == 0
