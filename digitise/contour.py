"""From the rough symmetric shape to the racquet's own outline in its middle plane.

The search of ``look`` three times, closer and closer. In between rims are looked for outside what was found,
bulges are taken away, grip and cap put where all their length shows them, and the neck is drawn in the way
that shows best; at last the edge is told to a fraction of a pixel, and what no edge fits is drawn.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy.ndimage import median_filter

from digitise.band import ACROSS_MM, Band, even_ring, mirrored, ring_normals, smooth_ring
from digitise.both_sides import common_offsets
from digitise.bulge import as_wide_as_grip, bulging, drawn_over, notched, without_bulges
from digitise.butt_cap import hides_cap, with_cap
from digitise.butt_end import flat_butt, straight_butt, without_horns
from digitise.camera import Camera
from digitise.clearest import clearest, edge_share
from digitise.edge import exact_edge, exact_reach_mm
from digitise.even_rim import REACH_MM as EVEN_REACH_MM
from digitise.even_rim import find_even_rim
from digitise.flat import FlatView
from digitise.grip import has_grip
from digitise.grip_sides import Gripped, with_grip
from digitise.half_width import SymmetricShape
from digitise.handle_strip import seen_strip, strip_odds
from digitise.landmarks import half_widths
from digitise.linear import LinearPhoto
from digitise.look import (
    LARGEST_DIFFERENCE_MM,
    LOOKS,
    Both,
    Found,
    Look,
    Rows,
    Scene,
    at,
    begun_at_butt,
)
from digitise.neck import joined_otherwise, neck_rows, on_most_edge
from digitise.outer_rim import REACH_MM as RIM_REACH_MM
from digitise.outer_rim import OuterRim, find_outer_rim
from digitise.resting import Body, Resting, rest, rim_narrower_mm, seen_rim_shift_mm
from digitise.steady_rim import find_steady_rim
from digitise.table_model import Mask, TableModel
from digitise.tone import FloatArray

GRIP_SIDES_OFF_MM = 1.0
"""How far inside a grip's sides, told from all their length, its edge may lie."""
EVEN_EDGE = 0.65
"""How strong an edge a head's even course must lie on, as a share of what a bulge or a hollow lies on."""
RIMS = 2
"""How many borders are looked for outside the first: a rim may be bevelled."""
FINAL = Look((4.0, 7.0), 3.0, 1.0, ACROSS_MM, 0.75, rough=False)
"""The last search, which looks so far inside and outside at least."""
SMOOTH_ROWS = 2.0
"""Width of the Gaussian, in places 1 mm apart, that evens the outline from which offsets are taken."""
RIPPLE_ROWS = 7
"""Places, 1 mm apart, over which the exact edge's median is taken: noise and grain move single ones."""

RimFinder = Callable[[Band, Mask], OuterRim | None]


@dataclass(frozen=True, eq=False)
class Contour:
    """``ring_mm`` (n, 2), closed, counter-clockwise, about 1 mm apart, in the middle plane of ``resting``.

    Point i mirrors point -i. ``strength`` (n,) 0 to 1 of the edge found; ``apart_mm`` (n,) how far the
    edge on this side stood from the common outline; ``borrowed`` (n,) where the common one was taken.
    ``hides_cap``: whether a butt cap that hardly shows may go on below its end. ``drawn`` (n,) where no edge
    was followed, but what the rest tells of the ring; None if nowhere.
    """

    resting: Resting
    ring_mm: FloatArray
    strength: FloatArray
    apart_mm: FloatArray
    borrowed: npt.NDArray[np.bool_]
    hides_cap: bool = False
    drawn: npt.NDArray[np.bool_] | None = None


def find_contour(
    linear: LinearPhoto,
    camera: Camera,
    view: FlatView,
    table: TableModel,
    guesses: list[tuple[SymmetricShape, Body]],
    handle_sd_mm: float,
) -> tuple[Contour, Body]:
    """The outline of the racquet, and the body of that of the ``guesses``, rough shapes found on ``view``,
    from which the clearest outline was found. Their handles' thickness is known to ``handle_sd_mm``."""
    shades = [shape.shade for shape, _ in guesses if shape.shade is not None]
    scene = Scene(linear, camera, view, table, shades[0] if shades else None)
    starts = _held([scene.along(_start(scene, shape, body), LOOKS[0]) for shape, body in guesses])
    best = clearest([start.rival() for start in starts], view, table.foreign)
    found = _with_rims(scene, scene.again(starts[best].each_side(), LOOKS[1]))
    found = _without_bulge(scene, found)
    odds = strip_odds(seen_strip(linear, camera, found.resting, found.body))
    thick_mm = found.body.handle_thickness_mm, handle_sd_mm
    found = _gripped(found, with_grip(odds, found.base_mm, thick_mm))
    capped_mm = with_cap(odds, found.base_mm)
    hidden = capped_mm is found.base_mm and hides_cap(odds, capped_mm)
    found = _along_neck(scene, _without_notch(_capped(found, capped_mm))).each_side()
    # inside a piece of hoop that has the table's colour there are strings, whose edges draw every search
    finished = drawn_on if found.body.is_tube else filled
    return replace(finished(_final(scene, found)), hides_cap=hidden), found.body


def _held(starts: list[Both]) -> list[Both]:
    """Those that a hand can hold, if any are: another one may be no more than a clear head on its shaft."""
    return [start for start in starts if has_grip(*half_widths(start.ring_mm()))] or starts


def _with_rims(scene: Scene, found: Found) -> Found:
    """What was found, with the rims that run outside it."""

    def narrower_mm(band: Band) -> FloatArray:
        return rim_narrower_mm(scene.camera, found.resting, found.body, band.base_mm, band.normal)

    def find_even(band: Band, bare: Mask) -> OuterRim | None:
        return find_even_rim(band, bare, narrower_mm(band), found.body.rim_radius_mm)

    def find_outer(band: Band, bare: Mask) -> OuterRim | None:
        rim = find_outer_rim(band, bare)
        if rim is not None or found.body.is_tube:  # no band as wide all round lies outside a tube
            return rim
        return find_steady_rim(band, bare, narrower_mm(band))

    wide = _beside(scene, found)
    for _ in range(RIMS):
        outside = _with_rim(scene, found, wide.within(RIM_REACH_MM), find_outer)
        if outside is None:
            break
        found, wide = outside, _beside(scene, outside)
    if found.body.is_tube:
        return found
    return _with_rim(scene, found, wide.within(EVEN_REACH_MM), find_even) or found


def _beside(scene: Scene, found: Found) -> Band:
    """All that is looked at for rims."""
    inner_mm = smooth_ring(found.base_mm, LOOKS[1].smooth_mm)
    reach_mm = max(EVEN_REACH_MM[0], RIM_REACH_MM[0]), max(EVEN_REACH_MM[1], RIM_REACH_MM[1])
    return scene.band(found.resting, found.body, inner_mm, reach_mm)


def _with_rim(scene: Scene, found: Found, band: Band, rim_in: RimFinder) -> Found | None:
    rim = rim_in(band, scene.ground(found.resting, band).bare)
    if rim is None:
        return None
    shape = replace(found.shape, rim_mm=rim.width_mm)
    return scene.again(replace(found, base_mm=even_ring(rim.ring_mm, 1.0), shape=shape), LOOKS[1])


def _without_bulge(scene: Scene, found: Found) -> Found:
    """What was found, with the course that the rest of its head takes where that lies on an edge, too."""
    course_mm = without_bulges(found.base_mm)
    if course_mm is None:
        return found
    even, uneven = (scene.along(each, LOOKS[1]) for each in (replace(found, base_mm=course_mm), found))
    if edge_share((even.ring_mm(), even.edge()), (uneven.ring_mm(), uneven.edge())) < EVEN_EDGE:
        return found
    return even.each_side()


def _without_notch(found: Found) -> Found:
    """What was found, with a neck as wide as its grip at least, for a search that may find more of it."""
    notch = notched(found.base_mm)
    if found.body.is_tube or not notch.any():
        return found
    return replace(found, base_mm=even_ring(as_wide_as_grip(found.base_mm, notch), 1.0))


def _along_neck(scene: Scene, found: Found) -> Both:
    """The last look along what was found, with handle and head joined in the way that shows best."""
    rings, best = [found.base_mm, *joined_otherwise(found.base_mm)], 0

    def look(ring: FloatArray, rows: Rows = None) -> Both:
        return scene.along(replace(found, base_mm=ring), LOOKS[2], rows)

    if len(rings) > 1:
        looks = [look(ring, rows) for ring, rows in zip(rings, neck_rows(rings), strict=True)]
        best = on_most_edge([each.ring_mm() for each in looks], [each.edge() for each in looks])
    return look(rings[best])


def _start(scene: Scene, shape: SymmetricShape, body: Body) -> Found:
    """Lay the body down where the rough shape is; its outline in the middle plane, even and symmetric."""
    resting = rest(shape.axis, body)
    ring = even_ring(shape.ring_from_butt_mm(), 1.0)
    world = shape.axis.to_world(ring)
    seen_px = scene.camera.project(np.column_stack([world, np.full(len(world), scene.view.plane_z_mm)]))
    seen = resting.from_pixels(scene.camera, seen_px)
    normal = ring_normals(smooth_ring(seen, 3.0))
    ring = seen - seen_rim_shift_mm(scene.camera, resting, body, seen, normal)[:, None] * normal
    twin = mirrored(ring) * np.array([-1.0, 1.0])
    middle_mm = float((ring - twin)[:, 0].mean() / 2)
    return Found(resting.moved(0.0, middle_mm, 0.0), straight_butt((ring + twin) / 2), body, shape)


def _gripped(found: Found, grip: Gripped | None) -> Found:
    """What was found with the grip that shows elsewhere, if one does."""
    if grip is None:
        return found
    shape = replace(found.shape, grip_mm=grip.half_mm, grip_to_mm=grip.to_mm, grip_off_mm=GRIP_SIDES_OFF_MM)
    return replace(found, base_mm=grip.ring_mm, shape=shape)


def _capped(found: Found, ring_mm: FloatArray) -> Found:
    """What was found with ``ring_mm`` (n, 2) for its outline, that of a racquet whose butt lies elsewhere."""
    low_mm = float(ring_mm[:, 1].min())
    shape = replace(found.shape, grip_to_mm=found.shape.grip_to_mm - low_mm)
    resting, base_mm = begun_at_butt(found.resting, ring_mm)
    return replace(found, resting=resting, base_mm=base_mm, shape=shape)


def _final(scene: Scene, found: Found) -> Contour:
    """The last search, in a band wide enough to be exact, for each side."""
    least_mm = exact_reach_mm(scene.px_mm)
    reach_mm = max(FINAL.reach_mm[0], least_mm), max(FINAL.reach_mm[1], least_mm)
    both = scene.along(found, replace(FINAL, reach_mm=reach_mm))
    band, evidence, common = both.band, both.evidence, both.common
    single = both.single()
    exact = median_filter(exact_edge(band, single, scene.px_mm), RIPPLE_ROWS, mode="wrap")
    common_mm = band.offset_mm[common]
    apart_mm = exact - common_mm
    borrowed = np.abs(apart_mm) > LARGEST_DIFFERENCE_MM
    offset_mm = flat_butt(band, np.where(borrowed, common_mm, exact), evidence)
    ring_mm = without_horns(band.points_mm(offset_mm))
    return Contour(found.resting, ring_mm, at(evidence.strength, single), apart_mm, borrowed)


def drawn_on(contour: Contour) -> Contour:
    """The contour with the course of the rest where its head bends inward for all that was tried."""
    lost = bulging(contour.ring_mm)
    return _drawn(contour, drawn_over(contour.ring_mm, lost), lost) if lost.any() else contour


def filled(contour: Contour) -> Contour:
    """The contour as wide as its grip at the neck where for all that was tried it is narrower."""
    notch = notched(contour.ring_mm)
    return _drawn(contour, as_wide_as_grip(contour.ring_mm, notch), notch) if notch.any() else contour


def _drawn(contour: Contour, ring_mm: FloatArray, drawn: npt.NDArray[np.bool_]) -> Contour:
    """The contour with another ring, that lies on no edge where it is ``drawn`` (n,)."""
    strength, apart_mm = (np.where(drawn, 0.0, kept) for kept in (contour.strength, contour.apart_mm))
    return replace(contour, ring_mm=ring_mm, strength=strength, apart_mm=apart_mm, drawn=drawn)


def smooth_sides(contour: Contour) -> Contour:
    """The contour with one smooth outline for both sides, see ``both_sides``."""
    ring = contour.ring_mm
    base = smooth_ring((ring + mirrored(ring) * np.array([-1.0, 1.0])) / 2, SMOOTH_ROWS)
    normal = ring_normals(base)
    offset_mm = np.sum((ring - base) * normal, axis=1)
    even_mm = common_offsets(offset_mm, np.maximum(contour.strength, 0.05) ** 2, 1.0)
    return from_butt(replace(contour, ring_mm=base + even_mm[:, None] * normal))


def from_butt(contour: Contour) -> Contour:
    """The contour in the frame that starts at the butt end: its lowest point on the axis."""
    resting, ring_mm = begun_at_butt(contour.resting, contour.ring_mm)
    return replace(contour, resting=resting, ring_mm=ring_mm)
