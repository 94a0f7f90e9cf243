"""From the rough symmetric shape to the racquet's own outline in its middle plane.

First one outline for both sides together: an edge counts that stands at mirrored places, as the lens
sees each side of a thick rim. Then each side for itself, held near the common one; what the sides differ
by, as a whole, corrects the axis. Three times, closer and closer; at last to a fraction of a pixel.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy.ndimage import median_filter

from digitise.band import ACROSS_MM, Band, even_ring, mirrored, ring_normals, sample_band, smooth_ring
from digitise.band_filters import highest_near
from digitise.best_line import best_closed_line, best_mirrored_line
from digitise.both_sides import common_offsets
from digitise.bulge import without_bulges
from digitise.butt_cap import with_cap
from digitise.butt_end import flat_butt, straight_butt, without_horns
from digitise.camera import Camera
from digitise.clearest import Rival, clearest, edge_share
from digitise.edge import EDGE_WORTH, MAX_STEPS, STEP_COST, Evidence, exact_edge, exact_reach_mm, weigh
from digitise.even_rim import REACH_MM as EVEN_REACH_MM
from digitise.even_rim import find_even_rim
from digitise.flat import FlatView
from digitise.grip_sides import Gripped, with_grip
from digitise.half_width import GRIP_OFF_MM, SymmetricShape
from digitise.handle_strip import seen_strip, strip_odds
from digitise.linear import LinearPhoto
from digitise.loops import without_loops
from digitise.neck import joined_otherwise, neck_rows, on_most_edge
from digitise.outer_rim import REACH_MM as RIM_REACH_MM
from digitise.outer_rim import OuterRim, find_outer_rim
from digitise.resting import Body, Resting, rest, rim_narrower_mm, seen_rim_shift_mm
from digitise.table_beside import ground_along
from digitise.table_evidence import Ground
from digitise.table_model import Mask, TableModel
from digitise.tone import FloatArray, Image


@dataclass(frozen=True)
class Look:
    """One search along the outline: how far inside and outside, from where on it is surely table, how much
    the outline is smoothed first, and by how much an edge may be off on one side. ``inward_mm`` is how far
    inside a faint rim's border its edge may lie: the strong inner one is not much farther. ``rough`` as for
    ``weigh``."""

    reach_mm: tuple[float, float]
    clear_mm: float
    smooth_mm: float
    slack_mm: float
    inward_mm: float
    rough: bool = True


Rows = npt.NDArray[np.intp] | None
RimFinder = Callable[[Band, Mask], OuterRim | None]

LOOKS = (
    Look((12.0, 14.0), 8.0, 2.0, 1.5, 2.0),
    Look((7.0, 10.0), 5.0, 1.0, 0.75, 0.75, rough=False),
    Look((5.0, 9.0), 4.0, 1.0, 0.25, 0.5, rough=False),
)
TOGETHER_WORTH, TOGETHER_MM = 2.0, 1.0
"""What it costs a side to leave the common outline, and the distance at which most of it is paid."""
LARGEST_DIFFERENCE_MM = 1.5
"""A side farther than this from the common outline is taken to have followed something else."""

LEAST_SHARE, BUTT_CAP_MM, FILLET_MM, OFF_COST = 0.65, 30.0, 15.0, 50.0
"""Least half width as a share of the rough one, where a handle may be wider than its sure width (at its butt
cap, and where it joins the head), and what it costs to be farther off."""
GRIP_SIDES_OFF_MM = 1.0
"""How far inside a grip's sides, told from all their length, its edge may lie."""
EVEN_EDGE = 0.65
"""How strong an edge a head's even course must lie on, as a share of what a bulge or a hollow lies on."""
RIMS = 2
"""How many borders are looked for outside the first: a rim may be bevelled."""
FINAL_REACH_MM = (4.0, 7.0)
"""How far inside and outside the last search looks at least."""
FINAL_INWARD_MM, END_SLACK = 0.75, 3.0
"""How far inside a faint rim's border its edge may lie in the last search, and how many times as far inside a
handle's sure end."""
SMOOTH_ROWS = 2.0
"""Width of the Gaussian, in places 1 mm apart, that evens the outline from which offsets are taken."""
RIPPLE_ROWS = 7
"""Places, 1 mm apart, over which the exact edge's median is taken: noise and grain move single ones."""


@dataclass(frozen=True, eq=False)
class Contour:
    """``ring_mm`` (n, 2), closed, counter-clockwise, about 1 mm apart, in the middle plane of ``resting``.

    Point i mirrors point -i. ``strength`` (n,) 0 to 1 of the edge found; ``apart_mm`` (n,) how far the
    edge on this side stood from the common outline; ``borrowed`` (n,) where the common one was taken.
    """

    resting: Resting
    ring_mm: FloatArray
    strength: FloatArray
    apart_mm: FloatArray
    borrowed: npt.NDArray[np.bool_]


def find_contour(
    linear: LinearPhoto,
    camera: Camera,
    view: FlatView,
    table: TableModel,
    guesses: list[tuple[SymmetricShape, Body]],
) -> tuple[Contour, Body]:
    """The outline of the racquet, and the body of that of the ``guesses``, rough shapes found on ``view``,
    from which the clearest outline was found."""
    px_mm = (camera.height_mm - view.plane_z_mm) / camera.focal_px

    def look_along(
        resting: Resting,
        base: FloatArray,
        body: Body,
        shape: SymmetricShape,
        look: Look,
        rows: Rows = None,
    ) -> _Both:
        base = smooth_ring(base, look.smooth_mm)
        band = sample_band(linear, camera, resting, body, base, look.reach_mm, rows=rows)
        evidence = weigh(band, ground_along(view, table, resting, band), px_mm, look.clear_mm, look.rough)
        evidence = _kept_to(band, evidence, shape, look.inward_mm)
        gain = _common_gain(evidence, look.slack_mm)
        common = best_mirrored_line(gain, STEP_COST, MAX_STEPS)
        return _Both(resting, band, evidence, common, look.slack_mm, body, shape)

    def look_again(found: _Found, look: Look) -> _Found:
        return _each_side(look_along(found.resting, found.base_mm, found.body, found.shape, look))

    starts = [
        look_along(*_start(camera, view, shape, body), body, shape, LOOKS[0]) for shape, body in guesses
    ]
    best = clearest([start.rival() for start in starts], view, table.foreign)
    found = look_again(_each_side(starts[best]), LOOKS[1])

    def beside(found: _Found) -> Band:
        """All that is looked at for rims."""
        inner_mm = smooth_ring(found.base_mm, LOOKS[1].smooth_mm)
        reach_mm = max(EVEN_REACH_MM[0], RIM_REACH_MM[0]), max(EVEN_REACH_MM[1], RIM_REACH_MM[1])
        return sample_band(linear, camera, found.resting, found.body, inner_mm, reach_mm)

    def with_rim(found: _Found, band: Band, rim_in: RimFinder) -> _Found | None:
        rim = rim_in(band, ground_along(view, table, found.resting, band).bare)
        if rim is None:
            return None
        shape = replace(found.shape, rim_mm=rim.width_mm)
        return look_again(replace(found, base_mm=even_ring(rim.ring_mm, 1.0), shape=shape), LOOKS[1])

    def find_even(band: Band, bare: Mask) -> OuterRim | None:
        narrower_mm = rim_narrower_mm(camera, found.resting, found.body, band.base_mm, band.normal)
        return find_even_rim(band, bare, narrower_mm, found.body.rim_radius_mm)

    def without_bulge(found: _Found) -> _Found:
        """What was found, with the course that the rest of its head takes where that lies on an edge, too."""
        course_mm = without_bulges(found.base_mm)
        if course_mm is None:
            return found
        even, bulging = (
            look_along(found.resting, ring, found.body, found.shape, LOOKS[1])
            for ring in (course_mm, found.base_mm)
        )
        if edge_share((even.ring_mm(), even.edge()), (bulging.ring_mm(), bulging.edge())) < EVEN_EDGE:
            return found
        return _each_side(even)

    def look_at_neck(found: _Found) -> _Both:
        """The last look along what was found, with handle and head joined in the way that shows best."""
        rings, best = [found.base_mm, *joined_otherwise(found.base_mm)], 0

        def look(ring: FloatArray, rows: Rows = None) -> _Both:
            return look_along(found.resting, ring, found.body, found.shape, LOOKS[2], rows)

        if len(rings) > 1:
            looks = [look(ring, rows) for ring, rows in zip(rings, neck_rows(rings), strict=True)]
            best = on_most_edge([each.ring_mm() for each in looks], [each.edge() for each in looks])
        return look(rings[best])

    wide = beside(found)
    for _ in range(RIMS):
        outside = with_rim(found, wide.within(RIM_REACH_MM), find_outer_rim)
        if outside is None:
            break
        found, wide = outside, beside(outside)
    found = with_rim(found, wide.within(EVEN_REACH_MM), find_even) or found
    found = without_bulge(found)
    odds = strip_odds(seen_strip(linear, camera, found.resting, found.body))
    found = _gripped(found, with_grip(odds, found.base_mm))
    found = _capped(found, with_cap(odds, found.base_mm))
    found = _each_side(look_at_neck(found))
    base, least_mm = smooth_ring(found.base_mm, 1.0), exact_reach_mm(px_mm)
    band = sample_band(
        linear,
        camera,
        found.resting,
        found.body,
        base,
        (max(FINAL_REACH_MM[0], least_mm), max(FINAL_REACH_MM[1], least_mm)),
    )
    ground = ground_along(view, table, found.resting, band)
    return _final(band, found.resting, ground, px_mm, found.shape), found.body


@dataclass(frozen=True, eq=False)
class _Both:
    """The outline for both sides together: columns ``common`` (n,) of a ``band``, found with edges off by up
    to ``slack_mm`` on one side."""

    resting: Resting
    band: Band
    evidence: Evidence
    common: npt.NDArray[np.int64]
    slack_mm: float
    body: Body
    shape: SymmetricShape

    def clear(self) -> FloatArray:
        """How clear it is (n,) at each of its places, to compare it with others by."""
        fair = replace(self.evidence, outside=self.evidence.fair)
        return _at(_common_gain(fair, self.slack_mm), self.common)

    def edge(self) -> FloatArray:
        """How strong an edge (n,) it lies on."""
        return _at(self.evidence.strength, self.common)

    def ring_mm(self) -> FloatArray:
        """Its points (n, 2)."""
        return self.band.points_mm(self.band.offset_mm[self.common])

    def rival(self) -> Rival:
        """It as one of several to choose from."""
        ring_mm = self.ring_mm()
        length_mm = float(np.ptp(ring_mm[:, 1]))
        world_mm = self.resting.to_world(ring_mm)[:, :2]
        return Rival(world_mm, self.edge(), length_mm, float(self.clear().mean()))


@dataclass(frozen=True, eq=False)
class _Found:
    """A symmetric outline ``base_mm`` (n, 2) on its way."""

    resting: Resting
    base_mm: FloatArray
    body: Body
    shape: SymmetricShape


def _each_side(both: _Both) -> _Found:
    """Each side for itself near the common outline, and the axis corrected by what they differ by."""
    gain = _single_gain(both.evidence, both.common)
    single = best_closed_line(gain, STEP_COST, MAX_STEPS)
    strength = _at(both.evidence.strength, single)
    together_mm = both.band.offset_mm[both.common]
    centred = _centred(both.resting, both.band, together_mm, single, strength)
    return _Found(*_begun_at_butt(*centred), both.body, both.shape)


def _gripped(found: _Found, grip: Gripped | None) -> _Found:
    """What was found with the grip that shows elsewhere, if one does."""
    if grip is None:
        return found
    shape = replace(found.shape, grip_mm=grip.half_mm, grip_to_mm=grip.to_mm, grip_off_mm=GRIP_SIDES_OFF_MM)
    return replace(found, base_mm=grip.ring_mm, shape=shape)


def _capped(found: _Found, ring_mm: FloatArray) -> _Found:
    """What was found with ``ring_mm`` (n, 2) for its outline, that of a racquet whose butt lies elsewhere."""
    low_mm = float(ring_mm[:, 1].min())
    shape = replace(found.shape, grip_to_mm=found.shape.grip_to_mm - low_mm)
    resting, base_mm = _begun_at_butt(found.resting, ring_mm)
    return replace(found, resting=resting, base_mm=base_mm, shape=shape)


def _final(band: Band, resting: Resting, ground: Ground, px_mm: float, shape: SymmetricShape) -> Contour:
    evidence = _kept_to(band, weigh(band, ground, px_mm, 3.0), shape, FINAL_INWARD_MM)
    common = best_mirrored_line(_common_gain(evidence, ACROSS_MM), STEP_COST, MAX_STEPS)
    single = best_closed_line(_single_gain(evidence, common), STEP_COST, MAX_STEPS)
    exact = median_filter(exact_edge(band, single, px_mm), RIPPLE_ROWS, mode="wrap")
    common_mm = band.offset_mm[common]
    apart_mm = exact - common_mm
    borrowed = np.abs(apart_mm) > LARGEST_DIFFERENCE_MM
    offset_mm = flat_butt(band, np.where(borrowed, common_mm, exact), evidence)
    ring_mm = without_horns(band.points_mm(offset_mm))
    return Contour(resting, ring_mm, _at(evidence.strength, single), apart_mm, borrowed)


def smooth_sides(contour: Contour) -> Contour:
    """The contour with one smooth outline for both sides, see ``both_sides``."""
    ring = contour.ring_mm
    base = smooth_ring((ring + mirrored(ring) * np.array([-1.0, 1.0])) / 2, SMOOTH_ROWS)
    normal = ring_normals(base)
    offset_mm = np.sum((ring - base) * normal, axis=1)
    even_mm = common_offsets(offset_mm, np.maximum(contour.strength, 0.05) ** 2, 1.0)
    return from_butt(replace(contour, ring_mm=base + even_mm[:, None] * normal))


def _start(camera: Camera, view: FlatView, shape: SymmetricShape, body: Body) -> tuple[Resting, FloatArray]:
    """Lay the body down where the rough shape is; its outline in the middle plane, even and symmetric."""
    resting = rest(shape.axis, body)
    ring = even_ring(shape.ring_from_butt_mm(), 1.0)
    world = shape.axis.to_world(ring)
    seen_px = camera.project(np.column_stack([world, np.full(len(world), view.plane_z_mm)]))
    seen = resting.from_pixels(camera, seen_px)
    normal = ring_normals(smooth_ring(seen, 3.0))
    ring = seen - seen_rim_shift_mm(camera, resting, body, seen, normal)[:, None] * normal
    twin = mirrored(ring) * np.array([-1.0, 1.0])
    middle_mm = float((ring - twin)[:, 0].mean() / 2)
    return resting.moved(0.0, middle_mm, 0.0), straight_butt((ring + twin) / 2)


def _common_gain(evidence: Evidence, slack_mm: float) -> FloatArray:
    """Gain (n, k) of one outline for both sides; edges off by up to ``slack_mm`` still count."""
    slack = 2 * round(slack_mm / ACROSS_MM) + 1
    strength = highest_near(evidence.strength, slack)
    gain = EDGE_WORTH * (strength + 0.1 * evidence.strength) + evidence.outside
    return np.asarray((gain + mirrored(gain)) / 2)


def _kept_to(band: Band, evidence: Evidence, shape: SymmetricShape, inward_mm: float) -> Evidence:
    """The evidence with places ruled out that are far from a handle's sure width, far inside any other
    narrow part, for the search reaches in by more than a handle is wide, or across a faint rim."""
    base_mm, y_mm = np.abs(band.base_mm[:, :1]), band.base_mm[:, 1:]
    half_mm = np.sign(band.base_mm[:, :1]) * (band.base_mm[:, :1] + band.offset_mm * band.normal[:, :1])
    out = half_mm < LEAST_SHARE * base_mm
    cap = y_mm - band.base_mm[:, 1].min() < BUTT_CAP_MM
    sure_mm = shape.grip_to_mm - BUTT_CAP_MM / 2
    out |= (y_mm < sure_mm) & (half_mm < shape.grip_mm - shape.grip_off_mm)
    out |= (y_mm < sure_mm - FILLET_MM) & ~cap & (half_mm > shape.grip_mm + GRIP_OFF_MM)
    out &= np.abs(band.normal[:, :1]) > 0.7
    if shape.grip_mm > 0:
        butt = (y_mm < shape.grip_to_mm) & (band.normal[:, 1:] < -0.7)
        out |= butt & (band.offset_mm < -END_SLACK * inward_mm)
    if shape.rim_mm > 0:
        head = y_mm > max(shape.grip_to_mm, BUTT_CAP_MM)
        out |= head & (band.offset_mm < -inward_mm)
    return replace(evidence, outside=np.where(out, evidence.outside - OFF_COST, evidence.outside))


def _single_gain(evidence: Evidence, common: npt.NDArray[np.int64]) -> FloatArray:
    columns = np.arange(evidence.strength.shape[1])
    apart = (columns[None, :] - common[:, None]) * ACROSS_MM / TOGETHER_MM
    held = TOGETHER_WORTH * apart**2 / (apart**2 + 1)
    return np.asarray(EDGE_WORTH * evidence.strength + evidence.outside - held)


def _centred(
    resting: Resting,
    band: Band,
    together_mm: FloatArray,
    single: npt.NDArray[np.int64],
    strength: FloatArray,
) -> tuple[Resting, FloatArray]:
    """The frame turned and shifted so that the two sides agree, and the common outline, evenly spaced.

    A shift t and a turn a move the edge at p with normal n by n_x t + (p_x n_y - p_y n_x) a, and at the
    mirror place by the opposite.
    """
    offset = band.offset_mm[single]
    half = (offset - mirrored(offset)) / 2
    weight = np.minimum(strength, mirrored(strength)) * (np.abs(half) < LARGEST_DIFFERENCE_MM)
    p, n = band.base_mm, band.normal
    terms = np.column_stack([n[:, 0], p[:, 0] * n[:, 1] - p[:, 1] * n[:, 0]])
    fit: FloatArray = np.zeros(2)
    for _ in range(10):
        rest_mm = half - terms @ fit
        root = np.sqrt(weight / (1 + (rest_mm / 0.3) ** 2))
        fit = np.asarray(np.linalg.lstsq(terms * root[:, None], half * root, rcond=None)[0], float)
    ring = without_horns(without_loops(band.points_mm(together_mm)))
    return resting.moved(float(fit[1]), float(fit[0]), 0.0), even_ring(ring, 1.0)


def _begun_at_butt(resting: Resting, ring_mm: FloatArray) -> tuple[Resting, FloatArray]:
    """The frame moved to where the outline begins, because the body's thickness is told from there on."""
    low = float(ring_mm[:, 1].min())
    return resting.moved(0.0, 0.0, low), ring_mm - np.array([0.0, low])


def _at(image: Image, columns: npt.NDArray[np.int64]) -> FloatArray:
    return np.asarray(image[np.arange(len(columns)), columns], float)


def from_butt(contour: Contour) -> Contour:
    """The contour in the frame that starts at the butt end: its lowest point on the axis."""
    resting, ring_mm = _begun_at_butt(contour.resting, contour.ring_mm)
    return replace(contour, resting=resting, ring_mm=ring_mm)
