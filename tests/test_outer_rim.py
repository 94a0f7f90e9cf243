"""A rim outside the border that a rough outline followed, on a band round it."""

from __future__ import annotations

import numpy as np
import pytest

from digitise.band import ACROSS_MM, Band, even_ring, ring_normals
from digitise.outer_rim import REACH_MM, OuterRim, find_outer_rim
from digitise.tone import FloatArray
from tests.drawn_view import paddle_ring

TABLE, FACE = 0.30, 0.05


def found_rim(
    rim: float, width_mm: float, from_mm: float = 130.0, to_mm: float = 500.0, soft_mm: float = 0.0
) -> OuterRim | None:
    """What is found outside a paddle whose rim, of this light, reaches ``width_mm`` outside its outline
    between two places along the axis; a shadow's border is ``soft_mm`` wide."""
    base = even_ring(paddle_ring(), 1.0)
    offset_mm = np.arange(-REACH_MM[0], REACH_MM[1] + ACROSS_MM / 2, ACROSS_MM)
    has_rim = (base[:, 1] > from_mm) & (base[:, 1] < to_mm)
    light = np.where(offset_mm[None, :] < 0, FACE, TABLE) * np.ones((len(base), 1))
    share = np.clip((width_mm - offset_mm) / max(soft_mm, 1e-6) + 0.5, 0, 1) * (offset_mm >= 0)
    light += (rim - TABLE) * share[None, :] * has_rim[:, None]
    noise = np.random.default_rng(4).normal(1, 0.01, (*light.shape, 3))
    band = Band(np.asarray(light[..., None] * noise, np.float32), base, ring_normals(base), offset_mm)
    return find_outer_rim(band, np.ones(light.shape, bool))


@pytest.mark.parametrize("width_mm", [7.0, 10.0, 14.0])
def test_a_faint_rim_all_round_is_found(width_mm: float) -> None:
    found = found_rim(1.33 * TABLE, width_mm)
    assert found is not None
    assert found.width_mm == pytest.approx(width_mm, abs=1.0)


def test_a_brighter_rim_beside_part_of_the_head_is_found_there() -> None:
    found = found_rim(2 * TABLE, 6.0, 150.0, 230.0)
    assert found is not None
    base = even_ring(paddle_ring(), 1.0)
    out_mm = np.linalg.norm(found.ring_mm - base, axis=1)
    assert np.median(out_mm[(base[:, 1] > 165) & (base[:, 1] < 215)]) == pytest.approx(6.0, abs=1.0)
    assert out_mm[(base[:, 1] > 260) | (base[:, 1] < 120)].max() < 0.5


def test_a_dark_rim_with_a_sharp_border_is_found() -> None:
    found = found_rim(0.4 * TABLE, 6.0, 150.0, 230.0)
    assert found is not None
    assert found.width_mm == pytest.approx(6.0, abs=1.0)


def test_a_shadow_beside_part_of_the_head_is_no_rim() -> None:
    assert found_rim(0.5 * TABLE, 8.0, 150.0, 230.0, soft_mm=5.0) is None


def test_a_shadow_all_round_is_no_rim() -> None:
    assert found_rim(0.6 * TABLE, 8.0, soft_mm=4.0) is None


def test_bare_table_has_no_rim() -> None:
    assert found_rim(TABLE, 0.0) is None


def test_the_border_of_a_card_beside_it_is_no_rim() -> None:
    base = even_ring(paddle_ring(), 1.0)
    offset_mm = np.arange(-REACH_MM[0], REACH_MM[1] + ACROSS_MM / 2, ACROSS_MM)
    light = np.where(offset_mm[None, :] < 0, FACE, TABLE) * np.ones((len(base), 1))
    card = (np.abs(base[:, 1] - 200) < 40)[:, None] & (offset_mm > 6.0)
    light[card] = 3 * TABLE
    noise = np.random.default_rng(4).normal(1, 0.01, (*light.shape, 3))
    band = Band(np.asarray(light[..., None] * noise, np.float32), base, ring_normals(base), offset_mm)
    near_card = (np.abs(base[:, 1] - 200) < 44)[:, None] & (offset_mm > 2.0)
    assert find_outer_rim(band, np.ones(light.shape, bool)) is not None
    assert find_outer_rim(band, ~near_card) is None


def bordered(inside: FloatArray, to_mm: FloatArray | float) -> Band:
    """A band about a paddle, on the table, out to ``to_mm`` (n,) of this light (n,) instead."""
    base = even_ring(paddle_ring(), 1.0)
    offset_mm = np.arange(-REACH_MM[0], REACH_MM[1] + ACROSS_MM / 2, ACROSS_MM)
    light = np.where(
        offset_mm[None, :] < np.broadcast_to(to_mm, (len(base),))[:, None], inside[:, None], TABLE
    )
    light = np.where(offset_mm[None, :] < 0, FACE, light)
    noise = np.random.default_rng(4).normal(1, 0.01, (*light.shape, 3))
    return Band(np.asarray(light[..., None] * noise, np.float32), base, ring_normals(base), offset_mm)


def test_a_border_brighter_inside_here_and_outside_there_is_no_rim_s() -> None:
    """So are lines of a mat and joints of tiles, where a line runs along them from one to the next."""
    base = even_ring(paddle_ring(), 1.0)
    n_x, n_y = ring_normals(base).T
    by_turns = np.sign(n_x) * (-1.0) ** np.floor(np.arctan2(np.abs(n_x), n_y) / (np.pi / 6))
    for light, is_rim in ((np.full(len(base), 2 * TABLE), True), (TABLE * 2.0**by_turns, False)):
        band = bordered(light, 8.0)
        assert (find_outer_rim(band, np.ones(band.light.shape[:2], bool)) is not None) is is_rim


def test_a_part_that_differs_from_the_table_otherwise_on_the_other_side_is_no_rim() -> None:
    base = even_ring(paddle_ring(), 1.0)
    part = np.where((base[:, 1] > 150) & (base[:, 1] < 230), 6.0, 0.0)
    for left, is_rim in ((2.0, True), (0.5, False)):
        band = bordered(np.where(base[:, 0] > 0, 2.0, left) * TABLE, part)
        assert (find_outer_rim(band, np.ones(band.light.shape[:2], bool)) is not None) is is_rim
