"""The renderer's geometry: coverage, projection, silhouettes, rest and shadows against closed forms."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import Point, Polygon

from tests.render.body import lower_hull
from tests.render.camera import CameraSpec, Points, build_camera
from tests.render.cards import CardSpec, card_pose, card_solid
from tests.render.compose import light_picture, make, racquet_solid
from tests.render.coverage import Image, Window, coverage
from tests.render.invent import random_scene
from tests.render.lights import Canvas, LightSpec, Source, caster_of, irradiance, lit_share, sources_of
from tests.render.paint import Illumination, paint_solid
from tests.render.plans import handle_profile, plan_of
from tests.render.racquet import RacquetSpec
from tests.render.samples import club_paddle, club_strung
from tests.render.scene import Laid
from tests.render.solids import Layer, Solid, flat_pose, prism, rings_of

VIEW = CameraSpec(640, 480, 26.0, 600.0, 4.0, 30.0, 25.0, (0.0, 0.0), -0.01, (3.0, -2.0))
TOP_VIEW = replace(VIEW, tilt_deg=0.0, roll_deg=0.0, k1=0.0, centre_offset_px=(0.0, 0.0))


def even_light(spec: CameraSpec) -> Illumination:
    """Light 1 everywhere."""
    canvas = Canvas(Window(0, 0, spec.width_px, spec.height_px), 4)
    width, height = canvas.size
    sources = tuple(sources_of(LightSpec(), np.zeros(2)))
    return Illumination(np.ones((height, width, 3), np.float32), canvas, sources)


def painted(solid: Solid, spec: CameraSpec) -> Image:
    """The solid alone on black, green channel."""
    picture = np.zeros((spec.height_px, spec.width_px, 3), np.float32)
    paint_solid(picture, build_camera(spec), solid, even_light(spec))
    return np.ascontiguousarray(picture[..., 1])


def test_coverage_of_a_rectangle_is_its_overlap_with_each_pixel() -> None:
    """Pixel (0, 0) spans -0.5 .. 0.5, so the box from 0.25 to 2 covers 0.25, 1 and 0.5 along a row."""
    ring = np.array([[0.25, 0.0], [2.0, 0.0], [2.0, 1.5], [0.25, 1.5]])
    expected = np.outer([0.5, 1.0], [0.25, 1.0, 0.5])
    assert coverage([ring], Window(0, 0, 3, 2)) == pytest.approx(expected)


def test_coverage_counts_a_part_that_lies_left_of_the_window() -> None:
    """A window inside the shape is full although the shape's left side is outside it."""
    ring = np.array([[-50.0, -50.0], [50.0, -50.0], [50.0, 50.0], [-50.0, 50.0]])
    assert coverage([ring], Window(3, 4, 5, 6)) == pytest.approx(np.ones((6, 5)))


@settings(max_examples=40, deadline=None)
@given(
    st.tuples(st.floats(8, 30), st.floats(8, 30)),
    st.tuples(st.floats(3, 7), st.floats(3, 7)),  # smaller ones are nearly all border pixels
    st.floats(0, 180),
)
def test_coverage_keeps_area_and_centroid_of_a_ring_of_ellipses(
    centre: tuple[float, float], radii: tuple[float, float], turn: float
) -> None:
    """Sum of coverage is the area, its first moments the centroid: a hole counts against it."""
    outer = affinity.rotate(affinity.scale(Point(centre).buffer(1.0), *radii), turn)
    shape = outer.difference(Point(centre[0] + 0.3, centre[1]).buffer(1.2))
    rings = rings_of(shape)
    window = Window(0, 0, 40, 40)
    share = coverage(rings, window).astype(float)
    y, x = np.mgrid[0:40, 0:40]
    assert share.sum() == pytest.approx(shape.area, rel=1e-5)
    # within a pixel the area is taken at the pixel's centre: first moments are right to that
    assert (share * x).sum() / share.sum() == pytest.approx(shape.centroid.x, abs=0.02)
    assert (share * y).sum() / share.sum() == pytest.approx(shape.centroid.y, abs=0.02)


def test_the_camera_looks_straight_down_at_its_stated_height() -> None:
    """Pinhole: a point z up and x aside lands f · x / (H - z) from the centre, y runs down."""
    camera = build_camera(TOP_VIEW)
    focal = 26.0 * np.hypot(640, 480) / 43.267
    pixel = camera.project(np.array([[30.0, 20.0, 100.0]]))[0]
    assert camera.focal_px == pytest.approx(focal)
    assert pixel == pytest.approx([319.5 + focal * 30 / 500, 239.5 - focal * 20 / 500])
    assert camera.mm_per_px() == pytest.approx(600 / focal)


@given(st.floats(0, 35), st.floats(-180, 180), st.floats(-0.03, 0.02), st.floats(0, 40))
def test_pixels_of_table_points_come_back(tilt: float, roll: float, k1: float, z: float) -> None:
    """Projection and its inverse agree at any level, and tilt and height are what was asked."""
    camera = build_camera(replace(VIEW, tilt_deg=tilt, roll_deg=roll, k1=k1))
    places = np.array([[0.0, 0.0], [90.0, -70.0], [-120.0, 40.0]])
    pixels = camera.project(np.column_stack([places, np.full(3, z)]))
    assert camera.on_plane(pixels, z) == pytest.approx(places, abs=1e-6)
    assert camera.tilt_deg == pytest.approx(tilt, abs=1e-5)
    assert camera.centre_mm[2] == pytest.approx(600.0)


def edge_offsets(picture: Image, start: Points, end: Points) -> Points:
    """Signed distance (px) of the half-bright edge from the line start-end, outwards positive."""
    along = np.linspace(0.2, 0.8, 40)[:, None]
    inward = np.array([(start - end)[1], (end - start)[0]]) / np.linalg.norm(end - start)
    steps = np.linspace(-3.0, 3.0, 121)
    places = (start + (end - start) * along)[:, None] + steps[:, None] * inward
    values = cv2.remap(picture, places[..., 0].astype(np.float32), places[..., 1].astype(np.float32), 1)
    lit = np.asarray(values, float).sum(axis=1) * (steps[1] - steps[0])
    offsets: Points = lit - 3.0
    return offsets


@pytest.mark.parametrize("turn", [0.0, 17.0, 45.0])
def test_card_sides_are_painted_where_the_projected_corners_say(turn: float) -> None:
    """Every side of a white card on black lies within 0.03 px of the line through its corners."""
    card = replace(CardSpec("white", 12.0, -9.0, turn), thickness_mm=0.001)
    pose = card_pose(card, None, 0.0)
    picture = painted(card_solid(card, pose), VIEW)
    picture /= picture.max()
    corners = build_camera(VIEW).project(pose.place(np.hstack([card.corners_mm(), np.zeros((4, 1))])))
    for k in range(4):
        # the image's y runs down, so world counter-clockwise corners run clockwise
        assert abs(edge_offsets(picture, corners[(k + 1) % 4], corners[k]).mean()) < 0.03


def test_a_thin_shape_covers_exactly_its_projected_area() -> None:
    """Flat ellipse: painted light and centroid equal those of the analytic projection."""
    ellipse = affinity.scale(Point(0, 0).buffer(1.0, quad_segs=256), 80, 50)
    solid = Solid((Layer(0.5, ellipse, (1.0, 1.0, 1.0)),), flat_pose(4.0, -3.0, 20.0))
    picture = painted(solid, VIEW).astype(float)
    angle = np.linspace(0, 2 * np.pi, 4000, endpoint=False)
    flat = np.column_stack([80 * np.cos(angle), 50 * np.sin(angle), np.full(4000, 0.5)])
    truth = Polygon(build_camera(VIEW).project(solid.pose.place(flat)))
    y, x = np.mgrid[0:480, 0:640]
    assert picture.sum() == pytest.approx(truth.area, rel=1e-4)
    assert (picture * x).sum() / picture.sum() == pytest.approx(truth.centroid.x, abs=0.005)
    assert (picture * y).sum() / picture.sum() == pytest.approx(truth.centroid.y, abs=0.005)


def test_a_tall_box_shows_its_wall_away_from_the_middle() -> None:
    """Seen from above its right wall ends at the top's larger image: x · H / (H - z)."""
    block = Polygon([(60, -20), (100, -20), (100, 20), (60, 20)])
    solid = Solid(tuple(prism(block, 30.0, (1, 1, 1), (1, 1, 1))), flat_pose(0, 0, 0))
    camera = build_camera(TOP_VIEW)
    outline = paint_solid(np.zeros((480, 640, 3), np.float32), camera, solid, even_light(TOP_VIEW))
    low, _, high, _ = outline.bounds
    assert high == pytest.approx(319.5 + camera.focal_px * 100 / (600 - 30))
    assert low == pytest.approx(319.5 + camera.focal_px * 60 / 600)


def test_the_visible_outline_holds_the_projected_middle_plane() -> None:
    """A thick racquet's silhouette contains its mid-plane outline and is at most its walls larger."""
    scene = replace(random_scene(5, "solid", megapixels=0.15, extras=0), light=LightSpec("window"))
    _, camera, seen = light_picture(scene)
    made, solid = racquet_solid(scene.racquets[0])
    ring = np.asarray(made.plan.outline.exterior.coords)[:-1]
    middle = Polygon(camera.project(solid.pose.place(np.column_stack([ring, np.zeros(len(ring))]))))
    assert seen is not None
    assert middle.difference(seen.buffer(0.05)).area < 1e-3 * middle.area
    assert 1.0 < seen.area / middle.area < 1.06


@pytest.mark.parametrize("construction", ["solid", "perforated", "strung"])
def test_plans_have_exactly_the_stated_length_and_width(construction: str) -> None:
    """Bounds of the outline are length and width; openings lie inside the head and apart."""
    for seed in range(3):
        spec = random_scene(seed, construction, megapixels=0.1).racquets[0].spec  # type: ignore[arg-type]
        plan = plan_of(spec)
        low_x, low_y, high_x, high_y = plan.outline.bounds
        assert (low_y, high_y) == pytest.approx((0.0, spec.length_mm), abs=2e-3)
        assert high_x - low_x == pytest.approx(spec.width_mm, abs=2e-3)
        total = sum(ring.area for _, ring in plan.openings)
        assert plan.head.area - plan.pierced().area == pytest.approx(total, rel=1e-9, abs=1e-6)


def test_a_butt_whose_radius_squares_to_two_numbers_has_no_hole_at_its_end() -> None:
    """A radius whose square comes out a hair less as a number than in an array: the end lies a radius in."""
    spec = replace(club_paddle().racquets[0].spec, butt_radius_mm=2.8302392663506275)
    ends = handle_profile(spec).half_width_mm
    assert ends[0] == pytest.approx(
        spec.handle_width_mm / 2 + spec.butt_flare_mm - spec.butt_radius_mm, abs=1e-6
    )


def test_lower_hull_of_a_dented_profile() -> None:
    """The dent between two feet is bridged."""
    profile = [(0.0, -3.0), (1.0, -2.0), (2.0, -2.5), (4.0, -1.0), (1.5, 5.0)]
    assert lower_hull(profile) == [(0.0, -3.0), (2.0, -2.5), (4.0, -1.0)]


def test_a_paddle_rests_on_handle_top_and_tip() -> None:
    """Club paddle: feet at y = 136 (half thickness 15) and 413 (7), so its slope is 8 mm in 277."""
    spec = club_paddle().racquets[0].spec
    rest = make(spec).rest
    assert rest.contact_y_mm == pytest.approx((136.0, 417.0 - 4.0), abs=1e-3)
    assert rest.slope_deg == pytest.approx(-np.degrees(np.arctan2(15.0 - 7.0, 413.0 - 136.0)), abs=1e-6)


@pytest.mark.parametrize("scene", [club_paddle(), club_strung()])
def test_a_resting_racquet_touches_the_table_and_does_not_pierce_it(scene: object) -> None:
    """The lowest world point of all layers is at z = 0, at both feet."""
    laid: Laid = scene.racquets[0]  # type: ignore[attr-defined]
    made, solid = racquet_solid(laid)
    feet = []
    lowest = np.inf
    for layer in made.layers:
        if layer.skin or layer.z_mm > 0:
            continue
        for ring in rings_of(layer.plan):
            world = solid.pose.place(np.column_stack([ring, np.full(len(ring), layer.z_mm)]))
            lowest = min(lowest, float(world[:, 2].min()))
            feet += list(ring[world[:, 2] < 1e-6][:, 1])
    assert lowest == pytest.approx(0.0, abs=1e-6)
    assert min(feet) < made.mass.balance_mm < max(feet)


def test_an_even_racquet_lies_flat() -> None:
    """Same thickness in handle and face, no flare: no slope, lifted by half the thickness."""
    spec = RacquetSpec(
        "solid", "long", 415, 190, 28, 28, 34, 136, 230, 240, butt_flare_mm=0.0, edge_radius_mm=3.0
    )
    rest = make(spec).rest
    assert rest.slope_deg == pytest.approx(0.0, abs=1e-9)
    assert rest.lift_mm == pytest.approx(14.0)


def test_light_of_a_point_falls_with_distance_and_cosine() -> None:
    """h / (h² + r²)^1.5 against its value right below: (1 + r²/h²)^-1.5."""
    source = Source(np.array([[0.0, 0.0, 800.0]]), (1, 1, 1), 0.0)
    far = irradiance(source, np.array([[600.0, 0.0]]), np.zeros(2))
    assert far == pytest.approx([(1 + 0.75**2) ** -1.5])


def test_a_post_throws_its_shadow_away_from_the_lamp() -> None:
    """A plate at 30 mm under a point at (-300, 0, 330) throws its shadow 1.1 times as far from it."""
    plate = Solid(
        (Layer(30.0, Polygon([(-10, -10), (10, -10), (10, 10), (-10, 10)]), (1, 1, 1)),),
        flat_pose(0, 0, 0),
    )
    source = Source(np.array([[-300.0, 0.0, 330.0]]), (1, 1, 1), 0.0)
    camera = build_camera(TOP_VIEW)
    canvas = Canvas(Window(0, 0, 640, 480), 1)
    dark = 1 - lit_share(source, [caster_of(plate)], [], camera, canvas).astype(float)
    y, x = np.mgrid[0:480, 0:640]
    pixel_mm2 = camera.mm_per_px() ** 2
    middle = camera.on_plane(np.array([[(dark * x).sum() / dark.sum(), (dark * y).sum() / dark.sum()]]))[0]
    assert middle == pytest.approx([-300 + 300 * 330 / 300, 0.0], abs=0.6)
    # the fill counts touched cells too: up to half a cell more on each side
    assert 0 <= (dark.sum() * pixel_mm2) ** 0.5 - 20 * 1.1 <= camera.mm_per_px()
