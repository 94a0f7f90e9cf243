"""The page's parts without a browser: tiles, edges followed, lines put in, problems found, stretches told."""

from __future__ import annotations

import numpy as np
import pytest

from digitise.page.drawn import Frame, Unusable, axis_frame, drawn_on
from digitise.page.edit import EditAxis, EditStretch
from digitise.page.follow import FOLLOWED_REACH_MM, best_way, neighbourhood, reach_to, snapped
from digitise.page.mirroring import mirrored, mirrored_openings
from digitise.page.redraw import from_line, with_line
from digitise.page.rim import rim_of
from digitise.page.stretches import Line, ring_distance_mm, runs, touched
from digitise.page.tiles import TILE_PX, Album, Extent, Tiles, straightened
from digitise.tone import FloatArray
from model.errors import OutlineError
from tests.page_samples import oval, oval_edit, ring_of, said, sheet

UPRIGHT = Frame(np.zeros(2), np.array([1.0, 0.0]), np.array([0.0, 1.0]))


class Plain:
    """A sheet that is the picture itself: one mm a pixel, y up."""

    def to_px(self, points_mm: FloatArray) -> FloatArray:
        return np.asarray(points_mm, float) * [1.0, -1.0] + [0.0, 399.0]


def disc(radius: float = 120.0) -> np.ndarray[tuple[int, ...], np.dtype[np.uint8]]:
    """A dark disc on a light ground, 400 × 400, its rim smooth over a pixel, with some noise."""
    x, y = np.meshgrid(np.arange(400.0), np.arange(400.0))
    share = np.clip(radius - np.hypot(x - 200, y - 199) + 0.5, 0, 1)[..., None]
    clean = share * [40.0, 60.0, 90.0] + (1 - share) * [200.0, 180.0, 150.0]
    noise = np.random.default_rng(3).normal(0, 3, clean.shape)
    return np.asarray(np.clip(np.round(clean + noise), 0, 255), np.uint8)


def test_a_straightened_part_is_the_picture_where_nothing_is_crooked() -> None:
    picture = disc()
    patch = straightened(Plain(), Album(picture), (99.5, 300.5), 1.0, (64, 32))
    np.testing.assert_array_equal(patch, picture[99 : 99 + 32, 100 : 100 + 64])


def test_tiles_cover_the_extent_at_every_level() -> None:
    extent = Extent(0.0, 0.0, 1300.0, 600.0, 0.25)
    assert extent.levels == 5  # 5200 pixels are 10.2 tiles: 16 fit in two to the power of 4
    assert extent.tiles(0) == (11, 5)
    assert extent.tiles(extent.levels - 1) == (1, 1)
    tiles = Tiles(Plain(), Extent(0.0, 0.0, 400.0, 400.0, 1.0), Album(disc()))
    first = tiles.jpeg(0, 0, 0)
    assert first is not None
    assert tiles.jpeg(0, 0, 0) is first
    assert tiles.jpeg(0, 1, 0) is None
    assert TILE_PX == 512


def test_a_freehand_line_snaps_to_the_edge() -> None:
    """From 2.5 mm beside it to a tenth of a pixel of the disc's rim."""
    angle = np.linspace(0.2, 2.6, 40)
    rough = np.array([200.0, 200.0]) + (122.5 + np.sin(5 * angle))[:, None] * np.column_stack(
        [np.cos(angle), np.sin(angle)]
    )
    line = snapped(Plain(), Album(disc()), rough, closed=False, reach_mm=4.0)
    radius = np.hypot(*(line - [200.0, 200.0]).T)
    assert np.sqrt(np.mean((radius[3:-3] - 120.0) ** 2)) < 0.15


def test_a_closed_line_snaps_all_round() -> None:
    angle = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    rough = np.array([200.0, 200.0]) + 118.0 * np.column_stack([np.cos(angle), np.sin(angle)])
    line = snapped(Plain(), Album(disc()), rough, closed=True, reach_mm=4.0)
    radius = np.hypot(*(line - [200.0, 200.0]).T)
    assert np.sqrt(np.mean((radius - 120.0) ** 2)) < 0.15


def test_a_line_follows_the_edge_from_click_to_click() -> None:
    anchor, to = np.array([320.0, 200.0]), np.array([200.0 + 120 * np.cos(0.45), 200.0 + 120 * np.sin(0.45)])
    near = neighbourhood(Plain(), Album(disc()), anchor, 1.0)
    path = near.path(to)
    assert np.hypot(*(path[0] - anchor)) < 1.0
    assert np.hypot(*(path[-1] - to)) < 1.0
    radius = np.hypot(*(path - [200.0, 200.0]).T)
    assert np.abs(radius - 120.0).max() < 2.5


@pytest.mark.parametrize("count", [19, 7, 5])
def test_a_line_keeps_to_the_clicked_edge_beside_a_stronger_one(count: int) -> None:
    """A faint rim round a face that is far brighter: clicks 0.8 mm off the rim, 40 to 140 mm apart."""
    x, y = np.meshgrid(np.arange(400.0), np.arange(400.0))
    away = np.hypot(x - 200, y - 199)
    rim, face = (np.clip(radius - away + 0.5, 0, 1)[..., None] for radius in (120.0, 114.0))
    clean = (1 - rim) * [90.0, 85.0, 80.0] + (rim - face) * [66.0, 70.0, 78.0] + face * [220.0, 215.0, 200.0]
    noise = np.random.default_rng(3).normal(0, 1.5, clean.shape)
    album = Album(np.asarray(np.clip(np.round(clean + noise), 0, 255), np.uint8))
    angle = np.linspace(0, 2 * np.pi, count, endpoint=False)
    hand = np.random.default_rng(4).normal(0, 0.8, (count, 2))
    clicks = np.array([200.0, 200.0]) + 120 * np.column_stack([np.cos(angle), np.sin(angle)]) + hand
    line = np.vstack(
        [
            neighbourhood(Plain(), album, here, 1.0, reach_to(there - here)).path(there)
            for here, there in zip(clicks, np.roll(clicks, -1, axis=0), strict=True)
        ]
    )
    radius = np.hypot(*(snapped(Plain(), album, line, True, FOLLOWED_REACH_MM) - [200.0, 200.0]).T)
    assert np.sqrt(np.mean((radius - 120.0) ** 2)) < 0.3


def test_one_looks_as_far_as_the_next_click_needs() -> None:
    for way, reach in (
        ([30.0, -44.0], 60.0),
        ([0.0, -46.0], 120.0),
        ([-106.0, 3.0], 180.0),
        ([900.0, 0.0], 240.0),
    ):
        assert reach_to(np.array(way)) == reach
    near = neighbourhood(Plain(), Album(disc()), np.array([320.0, 200.0]), 1.0)
    assert near.reaches(np.array([280.0, 244.0]))
    assert not near.reaches(np.array([270.0, 244.0]))


def test_a_line_that_is_cut_short_ends_on_its_way() -> None:
    """The edge of a dark half runs from click to click, three times as far as is looked."""
    picture = np.full((400, 400, 3), 200, np.uint8)
    rows, columns = np.indices((400, 400))
    picture[columns < 100 + rows / 2] = 40
    anchor, to = np.array([120.0, 359.0]), np.array([210.0, 179.0])  # of x = 100 + (399 - y) / 2
    path = neighbourhood(Plain(), Album(picture), anchor, 1.0).path(to)
    assert path[-1][1] == pytest.approx(359 - 60, abs=2)
    assert np.abs(path[:, 0] - (100 + (399 - path[:, 1]) / 2)).max() < 1.5


def test_the_best_way_goes_where_the_gain_is() -> None:
    gain = np.zeros((50, 30))
    columns = np.round(15 + 6 * np.sin(np.arange(50) / 50 * 2 * np.pi)).astype(int)
    gain[np.arange(50), columns] = 5.0
    np.testing.assert_array_equal(best_way(gain, closed=True), columns)


def test_a_line_replaces_the_stretch_it_lies_along() -> None:
    """A bump drawn on the right side; the left side stays to the last digit."""
    curve = said(oval())
    angle = np.linspace(-0.4, 0.4, 30)
    bump = 6.0 * np.cos(angle / 0.4 * np.pi / 2) ** 2
    line = np.column_stack([(95 + bump) * np.cos(angle), 200 + 200 * np.sin(angle)])
    for drawn in (line, line[::-1]):
        changed, ends = with_line(curve, drawn)
        assert ring_of(changed)[:, 0].max() == pytest.approx(101.0, abs=0.2)
        assert {tuple(np.round(end, 6)) for end in ends} == {tuple(np.round(line[i], 6)) for i in (0, -1)}
        far = [point for point in curve.points if point[0] < 0]
        assert all(np.round(point, 5).tolist() in changed.points for point in far)
        assert ring_distance_mm(oval(count=2000), ring_of(changed)).max() < 7.0


@pytest.mark.parametrize("half", [0.25, 0.5])
@pytest.mark.parametrize("middle", [0.0, 1.2, np.pi / 2])
@pytest.mark.parametrize("off_mm", [0.0, 3.0])
def test_a_straight_line_of_two_clicks_is_the_outline_there(
    half: float, middle: float, off_mm: float
) -> None:
    """No point lies between the two, and the outline bends on beyond them: it must neither bow nor swing."""
    angle = middle + np.array([-half, half])
    ends = np.column_stack([(95 + off_mm) * np.cos(angle), 200 + (200 + off_mm) * np.sin(angle)])
    line = ends[0] + (ends[1] - ends[0]) * np.linspace(0, 1, 60)[:, None]
    changed, _ = with_line(said(oval()), ends)
    assert ring_distance_mm(ring_of(changed), line).max() < 0.15
    turned = middle + np.linspace(half, 2 * np.pi - half, 1000)
    rest = np.column_stack([95 * np.cos(turned), 200 + 200 * np.sin(turned)])
    rest = rest[np.linalg.norm(rest[:, None] - ends[None], axis=2).min(axis=1) > 10.0]
    assert ring_distance_mm(ring_of(changed), rest).max() < 0.3 + off_mm / 8


def test_a_dot_is_no_stretch() -> None:
    with pytest.raises(OutlineError, match="too short"):
        with_line(said(oval()), np.array([[95.0, 200.0], [95.0, 200.2]]))


def test_a_whole_line_becomes_a_curve() -> None:
    curve = from_line(oval(count=300))
    assert ring_distance_mm(oval(count=2000), ring_of(curve)).max() < 0.35


@pytest.mark.parametrize("keep_right", [True, False])
def test_mirrored_about_a_leaning_axis(keep_right: bool) -> None:
    """The result is its own mirror image, and the kept side is as it was."""
    frame = axis_frame(EditAxis(at_butt_mm=3.0, at_tip_mm=-5.0), 400.0)
    lopsided = oval() + np.where(oval()[:, :1] > 0, 4.0, 0.0) * [1.0, 0.0]
    result = mirrored(said(lopsided), None, frame, keep_right)
    ring = frame.into(ring_of(result))
    assert ring_distance_mm(ring * [-1.0, 1.0], ring).max() < 0.05
    side = 1.0 if keep_right else -1.0
    kept = [p for p in lopsided.tolist() if side * frame.into(np.array([p]))[0, 0] > 2.0]
    assert all(np.round(p, 5).tolist() in result.points for p in kept)


@pytest.mark.parametrize("first", [True, False])
@pytest.mark.parametrize("then", [True, False])
def test_what_was_mirrored_can_be_mirrored_again(first: bool, then: bool) -> None:
    """Its first point lies on the axis, on either side by rounding."""
    for wide in np.linspace(80.0, 99.0, 12):
        once = mirrored(
            said(oval(wide) + np.where(oval()[:, :1] > 0, 4.0, 0.0) * [1.0, 0.0]), None, UPRIGHT, first
        )
        again = mirrored(once, None, UPRIGHT, then)
        assert ring_distance_mm(ring_of(again), ring_of(once)).max() < 0.05


def test_mirroring_makes_the_outline_alike_not_the_sight() -> None:
    rim = rim_of(sheet(), oval(count=1200))
    seen = said(rim.seen_mm[::12])
    result = mirrored(seen, rim, UPRIGHT, True)
    outline = rim.outline_of(ring_of(result))
    apart = ring_distance_mm(outline * [-1.0, 1.0], outline)
    assert np.sqrt(np.mean(apart**2)) < 0.02
    assert apart.max() < 0.2  # at the butt's end, where the sight makes a step


def test_openings_are_mirrored_too() -> None:
    right = said(oval(8, 8, 12, 250) + np.array([40.0, 0.0]))
    left = said(oval(6, 6, 12, 220) - [40.0, 0.0])
    result = mirrored_openings([right, left], UPRIGHT, keep_right=True)
    assert len(result) == 2
    middles = sorted(np.mean(ring_of(curve), axis=0)[0] for curve in result)
    np.testing.assert_allclose(middles, [-40.0, 40.0], atol=0.01)
    assert all(np.ptp(ring_of(curve)[:, 0]) == pytest.approx(16.0, abs=0.1) for curve in result)


def problems(edit: object) -> list[str]:
    with pytest.raises(Unusable) as caught:
        drawn_on(sheet(), rim_of(sheet(), oval(count=1200)), edit)  # type: ignore[arg-type]
    assert all(problem.at_mm is not None for problem in caught.value.problems)
    return [problem.words for problem in caught.value.problems]


def test_what_is_wrong_is_said_with_the_spot() -> None:
    crossed = oval()
    crossed[0] = [-150.0, 200.0]
    assert "crosses itself" in problems(oval_edit(outer=said(crossed)))[0]
    assert "inside out" in problems(oval_edit(outer=said(oval()[::-1])))[0]
    outside = said(oval(10, 10, 12, 200) + np.array([95.0, 0.0]))
    assert "reaches outside" in problems(oval_edit(openings=[outside]))[0]
    two = [said(oval(10, 10, 12, 200)), said(oval(10, 10, 12, 212))]
    assert "Two openings meet" in problems(oval_edit(openings=two))[0]
    spot = oval()
    spot[3] = spot[4]
    assert "same spot" in problems(oval_edit(outer=said(spot)))[0]


def test_a_drawing_in_its_frame() -> None:
    """The butt is at zero, and a moved axis turns the outline under it."""
    rim = rim_of(sheet(), oval(count=1200))
    drawn = drawn_on(sheet(), rim, oval_edit(outer=said(rim.seen_mm[::40])))
    assert drawn.outline.outer_mm[:, 1].min() == pytest.approx(0.0, abs=1e-9)
    assert drawn.outline.length_mm == pytest.approx(400.0, abs=0.5)
    assert drawn.outline.width_mm == pytest.approx(190.0, abs=0.5)
    set_up = oval_edit(outer=said(rim.seen_mm[::40]), butt_mm=10.0)
    by_hand = drawn_on(sheet(), rim, set_up)
    assert by_hand.outline.outer_mm[:, 1].min() == pytest.approx(-10.0, abs=0.3)
    assert by_hand.handle_top_mm == pytest.approx(110.0)


def test_touched_stretches_with_their_kinds() -> None:
    before, now = oval(count=2000), oval(count=2000)
    high = (now[:, 0] > 0) & (now[:, 1] > 150) & (now[:, 1] < 250)
    now[high, 0] += 1.0
    declared = [EditStretch(start=[0.0, 400.0], end=[-60.0, 355.0])]
    done = touched(now, Line(before), [], declared)
    moved, right = done.stretches()
    assert (moved.how, right.how) == ("moved", "declared right")
    assert moved.length_mm == pytest.approx(102.0, abs=5.0)
    redrawn = [EditStretch(start=[90.0, 140.0], end=[90.0, 260.0])]
    kinds = [stretch.how for stretch in touched(now, Line(before), redrawn, []).stretches()]
    assert kinds == ["redrawn"]
    assert touched(before, Line(before), [], []).stretches() == []
    assert touched(before, None, [], []).any.all()


def test_runs_round_a_ring() -> None:
    flags = np.array([1, 1, 0, 0, 0, 1, 0, 1, 0, 0, 0, 1], bool)
    assert sorted(runs(flags, join=0)) == [(5, 5), (7, 7), (11, 1)]
    assert sorted(runs(flags, join=1)) == [(5, 7), (11, 1)]
    assert runs(np.zeros(5, bool), 1) == []
