"""The butt's end of an outline on its way."""

from __future__ import annotations

import numpy as np

from digitise.band import ACROSS_MM, Band, even_ring, ring_normals
from digitise.butt_end import flat_butt, without_horns
from digitise.edge import Evidence, weigh
from digitise.table_evidence import Ground
from digitise.tone import log_colour

CAP = np.array([[0.0, 0.0], [18.0, 0.0], [18.0, 60.0], [-18.0, 60.0], [-18.0, 0.0]])


def test_horns_at_the_corners_are_cut_off_level_with_the_middle() -> None:
    horned = np.vstack([CAP[:1], [[12.0, 0.0], [16.0, -5.0], [20.0, -4.0]], CAP[2:4]])
    horned = np.vstack([horned, [[-20.0, -4.0], [-16.0, -5.0], [-12.0, 0.0]]])
    mended = without_horns(even_ring(horned, 1.0))
    assert mended[:, 1].min() == 0.0
    upper = even_ring(horned, 1.0)
    np.testing.assert_array_equal(mended[upper[:, 1] > 0], upper[upper[:, 1] > 0])


def test_a_rounded_or_a_straight_end_stays() -> None:
    straight = even_ring(CAP, 1.0)
    np.testing.assert_allclose(without_horns(straight), straight, atol=1e-9)
    angle = np.linspace(-np.pi / 2, 1.5 * np.pi, 200, endpoint=False)
    round_end = np.column_stack([18 * np.cos(angle), 60 + 60 * np.sin(angle)])
    kept = without_horns(round_end)
    assert (
        np.abs(kept - round_end).max() < 4.0
    )  # only the very end, flattened to the height of its middle half


TABLE, CAP_COLOUR, LIT_CAP = (0.45, 0.43, 0.38), (0.20, 0.20, 0.20), (0.42, 0.42, 0.40)


def _seen(lit_mm: float) -> Band:
    """A band round a cap that ends at y = 0 as ``CAP`` does, but for what lies in the light below it."""
    base = even_ring(CAP, 1.0)
    normal, offset = ring_normals(base), np.arange(-4.0, 7.0 + ACROSS_MM / 2, ACROSS_MM)
    points = base[:, None] + offset[:, None] * normal[:, None]
    x, y = points[..., 0], points[..., 1]
    light = np.where(((np.abs(x) < 18) & (y > 0))[..., None], CAP_COLOUR, TABLE)
    light = np.where(((np.abs(x) < 18) & (y <= 0) & (y > -lit_mm))[..., None], LIT_CAP, light)
    grain = np.random.default_rng(3).normal(1.0, 0.01, light.shape)
    return Band((light * grain).astype(np.float32), base, normal, offset)


def _evidence(band: Band) -> Evidence:
    ground = Ground(
        np.tile(log_colour(np.array([[TABLE]], np.float32))[0], (len(band.base_mm), 1)),
        np.ones(band.light.shape[:2], bool),
        np.array([0.02, 0.01, 0.01]),
    )
    return weigh(band, ground, 0.2, 3.0)


def _end_mm(band: Band) -> float:
    """Where the butt ends once straightened, for an outline that had it at y = 0."""
    ring_mm = band.points_mm(flat_butt(band, np.zeros(len(band.base_mm)), _evidence(band)))
    return float(np.median(ring_mm[(np.abs(ring_mm[:, 0]) < 12) & (ring_mm[:, 1] < 10), 1]))


def test_the_end_lies_outside_what_has_the_racquets_tint_though_the_step_inside_is_stronger() -> None:
    lit = _seen(2.0)
    end = (np.abs(lit.base_mm[:, 0]) < 12) & (lit.base_mm[:, 1] < 1)
    inner, outer = (_evidence(lit).strength[end][:, lit.offset_mm == at].mean() for at in (0.0, 2.0))
    assert inner > outer + 0.05
    np.testing.assert_allclose(_end_mm(lit), -2.0, atol=0.3)


def test_an_end_without_light_on_it_stays() -> None:
    np.testing.assert_allclose(_end_mm(_seen(0.0)), 0.0, atol=0.3)
