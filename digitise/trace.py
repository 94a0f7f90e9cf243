"""The whole way from a photo to an outline in millimetres, in the order in which it happens."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt
from shapely.geometry import Polygon

from digitise.axis import Axis, ComplexImage, edge_fields, find_axes
from digitise.band import sample_band
from digitise.body import body_of
from digitise.bulge import hollow_head, pinched, with_bulges
from digitise.camera import Camera, Plane
from digitise.card_pose import CameraEstimate
from digitise.contour import Contour, find_contour, from_butt, smooth_sides
from digitise.doubt import Doubt, doubtful_share, doubtful_stretches, widened
from digitise.doubt_looks import BAND_MM, looks_of
from digitise.flat import FlatView, flatten
from digitise.grip import unsuited_grip
from digitise.half_width import Sight, SymmetricShape, masked_shape, symmetric_shape
from digitise.handle_axis import axes_by_handle
from digitise.handle_search import with_handle
from digitise.handle_top import seen_top
from digitise.landmarks import HandleMarks, half_widths, handle_marks
from digitise.linear import LinearPhoto
from digitise.lined import strips_mm, tiles_left_out
from digitise.lit import without_light
from digitise.openings import find_openings
from digitise.paper import uncovered_paper
from digitise.photo import Photo
from digitise.recast import seen_px, with_body
from digitise.reference import CARD, SHEET, Asked, Reference, find_reference, lens_of
from digitise.refusal import Reason, Refused
from digitise.resting import Body
from digitise.rim_search import with_rim
from digitise.second_look import surer
from digitise.shadow_ends import without_shadow_ends
from digitise.silhouette import CUTS, MIN_LENGTH_MM, NONE_MESSAGE, ODD, find_silhouettes
from digitise.spread import OutlineSpread, other_bodies, outline_spread
from digitise.strings import by_strings
from digitise.symmetry import evened
from digitise.table_beside import table_under
from digitise.table_model import Mask, TableModel, model_table
from digitise.taped import BY_LENGTH, SERVES_FOR, at_length, by_length, height_freed, height_held
from digitise.tone import FloatArray
from digitise.whole import SHEET_MESSAGE, check_bed, check_off_card, check_on_face, check_whole

FLAT_HEIGHT_MM = 15.0
"""Height of a racquet's middle plane above the table, near enough for the rough search."""
AXIS_WEIGHTS = (0.15, 1.0)
"""How much inner edges count when the axis is sought: both ways are tried, see find_axes."""

SAME_AXIS_MM = 1.0
ROOM_MM = 75.0
"""How far about the rough shapes the photo is looked at: past an end most of all, for the handle's own."""
SETTLED_SHARES = (1.0, 0.6, 1.3, 2.0)
"""What the settled silhouette counts, of two, against the one with all that is unlike the table. At 1 the
edges alone decide where they differ, at 2 the settled one is all that counts. All are tried."""


@dataclass(frozen=True)
class Thickness:
    """Thicknesses of face and handle in mm with their sd, stated or usual for the construction."""

    face_mm: float
    face_sd_mm: float
    handle_mm: float
    handle_sd_mm: float

    def unsuited(self, contour: Contour, marks: HandleMarks) -> Mask:
        """Where (n,) the outline is that of a grip which cannot be so thick."""
        return unsuited_grip(contour.ring_mm, marks.width_mm, marks.top_mm, self.handle_mm, self.handle_sd_mm)


@dataclass(frozen=True, eq=False)
class Traced:
    """An outline with all that led to it.

    ``contour.ring_mm`` (n, 2) and ``openings_mm`` (rings) are in the racquet's frame; ``spread`` holds the
    standard deviations of length and width; ``sides_apart_mm`` is how far one side strays from the other's
    mirror image, halved (root mean square); ``doubts`` are the stretches that may be wrong;
    ``others`` are bodies it may as well have, see ``spread.other_bodies``; ``thickness`` is what it was
    traced with, None where a hand drew the outline.
    """

    reference: Reference
    estimate: CameraEstimate
    contour: Contour
    openings_mm: tuple[FloatArray, ...]
    marks: HandleMarks
    body: Body
    spread: OutlineSpread
    sides_apart_mm: float
    doubts: tuple[Doubt, ...]
    others: tuple[Body, ...] = ()
    thickness: Thickness | None = None

    @property
    def doubtful_lengths(self) -> tuple[list[tuple[str, float]], float]:
        """Reason and mm of each doubt, and the mm all round."""
        return [(doubt.reason, doubt.length_mm) for doubt in self.doubts], float(len(self.contour.ring_mm))


def trace_photo(
    photo: Photo,
    construction: str,
    thickness: Thickness,
    card_on_face: bool = False,
    asked: Asked | None = None,
    tape_length_mm: float | None = None,
) -> Traced:
    """Trace the racquet in ``photo``; ``construction`` is solid, perforated or strung.

    ``asked`` says what gives the scale, a bank card if left out; without one in the photo it comes from
    ``tape_length_mm``, the racquet's length by tape measure, if that is given.

    Raises Refused if there is no whole racquet, no whole card, or the photo is too oblique or blurred.
    """
    # With the card on the face the world's zero is the face's upper side, and the middle lies below it.
    height_mm = -thickness.face_mm / 2 if card_on_face else FLAT_HEIGHT_MM
    reference = _reference(photo, asked or Asked(), tape_length_mm, height_mm)
    if card_on_face and reference.what == SHEET:
        raise Refused(Reason.NO_CARD, SHEET_MESSAGE)

    view, table = _mapped(photo, reference, height_mm)

    def look(cuts: int) -> Traced:
        seen = _segmented(view, table, cuts)
        return _traced(photo, reference, seen, construction, thickness, card_on_face, tape_length_mm)

    def in_doubt(found: Traced) -> float:
        return doubtful_share(*found.doubtful_lengths)

    return surer(look, in_doubt, lambda found: Polygon(found.contour.ring_mm).area)


def _traced(
    photo: Photo,
    reference: Reference,
    seen: _Segmented,
    construction: str,
    thickness: Thickness,
    card_on_face: bool,
    tape_length_mm: float | None,
) -> Traced:
    """Trace the racquet in what was ``seen`` of a photo."""
    estimate = reference.estimate
    view, table = seen.view, seen.table
    roughly = _rough_shapes(seen)
    linear = LinearPhoto(photo.pixels_rgb, _room_px(estimate.camera, view, roughly))
    shapes = [without_shadow_ends(linear, estimate.camera, view, table, shape) for shape in roughly]

    def body(length_mm: float, marks: HandleMarks) -> Body:
        return body_of(construction, length_mm, marks, thickness.face_mm, thickness.handle_mm, card_on_face)

    rough = [body(shape.length_mm, handle_marks(shape.y_mm, shape.half_width_mm)) for shape in shapes]
    guesses = list(zip(shapes, rough, strict=True))
    found, used = find_contour(linear, estimate.camera, view, table, guesses, thickness.handle_sd_mm)
    contour = from_butt(found)
    marks = handle_marks(*half_widths(contour.ring_mm))
    size_px = (photo.width_px, photo.height_px)
    rim_px = seen_px(estimate.camera, contour, used)
    if card_on_face:
        check_on_face(rim_px, reference.outlines_px)
    elif reference.what == CARD:
        check_off_card(rim_px, reference.outlines_px)
    check_whole(size_px, rim_px, contour.ring_mm, marks, construction)
    exact = body(float(np.ptp(contour.ring_mm[:, 1])), marks)
    contour = with_body(estimate.camera, contour, used, exact)
    if reference.what == BY_LENGTH and tape_length_mm is not None:
        estimate, contour = at_length(estimate, contour, exact, tape_length_mm)
    sure = height_held(reference, estimate)
    if construction == "strung":
        sure, contour = by_strings(photo.pixels_rgb, linear, sure, contour, exact)
    even = evened(sure, contour, exact)
    estimate, contour = height_freed(reference, estimate, even.estimate), smooth_sides(even.contour)
    marks = handle_marks(*half_widths(contour.ring_mm))
    marks = seen_top(linear, estimate.camera, contour, exact, marks)
    under = table_under(view, table, contour.resting, contour.ring_mm)
    openings = find_openings(
        linear,
        estimate.camera,
        contour,
        exact,
        construction,
        marks.top_mm,
        np.median(under, axis=0),
    )
    if construction == "strung":
        check_bed(contour.ring_mm, openings[0])
    others = tuple(other_bodies(exact, (thickness.face_sd_mm, thickness.handle_sd_mm), construction))
    spread = outline_spread(estimate, contour, exact, others)
    band = sample_band(linear, estimate.camera, contour.resting, exact, contour.ring_mm, BAND_MM)
    hollow = with_bulges(hollow_head(contour.ring_mm)) | pinched(contour.ring_mm)
    looks, unsuited = looks_of(band, under, table.spread), thickness.unsuited(contour, marks)
    doubts = doubtful_stretches(contour, looks, marks.top_mm, hollow, unsuited)
    spread = widened(spread, contour, doubts)
    return Traced(
        reference,
        estimate,
        contour,
        openings,
        marks,
        exact,
        spread,
        even.apart_mm,
        doubts,
        others,
        thickness,
    )


def _reference(photo: Photo, asked: Asked, tape_length_mm: float | None, height_mm: float) -> Reference:
    try:
        return find_reference(photo, asked)
    except Refused as refusal:
        if tape_length_mm is None or refusal.reason not in SERVES_FOR:
            raise
        why = f"{refusal.reason} in the photo"

    def rough_length_mm(reference: Reference) -> float:
        return _rough_shapes(_segmented(*_mapped(photo, reference, height_mm), CUTS))[0].length_mm

    size_px = (photo.width_px, photo.height_px)
    return by_length(lens_of(photo, asked), size_px, tape_length_mm, rough_length_mm, why)


@dataclass(frozen=True, eq=False)
class _Segmented:
    """The photo as a map of the table, what is table in it, its sharp edges and those with the ``soft_too``,
    and the racquet's mask in two versions, see ``find_silhouettes``."""

    view: FlatView
    table: TableModel
    edges: ComplexImage
    soft_too: ComplexImage
    silhouettes: tuple[Mask, Mask]


def _mapped(photo: Photo, reference: Reference, height_mm: float) -> tuple[FlatView, TableModel]:
    try:
        view = flatten(photo.pixels_rgb, reference.estimate.camera, height_mm, half_rgb=photo.half_rgb)
    except ValueError as error:
        raise Refused(
            Reason.TOO_OBLIQUE,
            "The photo is too oblique: the camera looks along the table; take it from straight above.",
        ) from error
    table = model_table(view, _card_cells(view, reference))
    if reference.lines_px is not None:
        table = tiles_left_out(table, _cells_under(view, reference.estimate.camera, reference.lines_px))
    return view, table


def _segmented(view: FlatView, table: TableModel, cuts: int) -> _Segmented:
    try:
        return _with_silhouettes(view, table, cuts)
    except Refused as refusal:
        if refusal.reason is not Reason.RACQUET_CUT:
            raise
        try:
            return _with_silhouettes(view, without_light(table, view.inside), cuts)
        except Refused:
            raise refusal from None


def _with_silhouettes(view: FlatView, table: TableModel, cuts: int) -> _Segmented:
    soft_too, edges = edge_fields(table.unlike)
    silhouettes = find_silhouettes(table, edges, view.inside, view.cell_mm, cuts)
    return _Segmented(view, table, edges, soft_too, silhouettes)


def _card_cells(view: FlatView, reference: Reference) -> Mask:
    """Cells of the flat view that cards cover, and their shadows' width round them."""
    cells = _cells_in(view, reference, reference.outlines_px) > 0
    if reference.marks_px is not None:
        marks = cv2.dilate(_cells_in(view, reference, reference.marks_px), np.ones((3, 3), np.uint8)) > 0
        cells = uncovered_paper(view, cells, marks)
    return np.asarray(cv2.dilate(cells.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0)


def _cells_in(view: FlatView, reference: Reference, rings_px: Iterable[FloatArray]) -> npt.NDArray[np.uint8]:
    """1 in cells of the flat view that lie in any of the rings (n, 2) of pixels."""
    plane = Plane(view.plane_z_mm)
    return view.cells_in(reference.estimate.camera.to_plane(ring_px, plane) for ring_px in rings_px)


def _cells_under(view: FlatView, camera: Camera, lines_px: FloatArray) -> Mask:
    """Cells of the flat view under straight lines (n, 4) of the photo."""
    ends_mm = camera.to_plane(lines_px.reshape(-1, 2), Plane(view.plane_z_mm)).reshape(-1, 2, 2)
    return np.asarray(view.cells_in(strips_mm(ends_mm)) > 0)


def _rough_shapes(seen: _Segmented) -> list[SymmetricShape]:
    """The symmetric shapes whose two sides show the strongest edges over the greatest length.

    Where the two silhouettes differ, in a shadow or a part of the table's colour, the edges decide.
    """
    view, table, edges, silhouettes = seen.view, seen.table, seen.edges, seen.silhouettes
    odd = silhouettes[0] | silhouettes[1]
    near = cv2.dilate(odd.astype(np.uint8), np.ones((25, 25), np.uint8)) > 0
    sight = Sight(
        np.abs(edges).astype(np.float32) * near,
        table.foreign * odd,
        np.where(odd & (table.oddness < ODD), 0, table.bare).astype(np.float32),
        odd.astype(np.float32),
        np.asarray(cv2.erode(table.usable.astype(np.float32), np.ones((3, 3), np.uint8)), np.float32),
        np.asarray(cv2.GaussianBlur(view.colour, (0, 0), 1.5), np.float32),
    )
    axes = _axes(view, edges, silhouettes)
    best = symmetric_shape(view, sight, axes)
    settled, anything = (mask.astype(np.float32) for mask in silhouettes)
    all_edges = np.abs(seen.soft_too).astype(np.float32)

    def masked(about: list[Axis], shares: tuple[float, ...]) -> SymmetricShape:
        votes = [share * settled + (2 - share) * anything - 1 for share in shares]
        return masked_shape(view, all_edges, votes, about)

    axis = masked(axes, SETTLED_SHARES[:1]).axis
    shapes = [shape for shape in (best, masked([axis], SETTLED_SHARES)) if _long_enough(shape)]
    if not shapes:
        raise Refused(Reason.NO_RACQUET, NONE_MESSAGE)
    held = [with_handle(view, edges, shape) for shape in shapes]
    for shape in _with_own_axes(held):
        beside = axes_by_handle(view, edges, shape)
        if beside:
            again = symmetric_shape(view, sight, beside), masked(beside, SETTLED_SHARES)
            held += [with_handle(view, edges, each) for each in again if _long_enough(each)]
    rimmed = [with_rim(view, seen.soft_too, shape) for shape in held]
    return held + [shape for shape in rimmed if shape is not None]


def _with_own_axes(shapes: list[SymmetricShape]) -> list[SymmetricShape]:
    """The shapes whose axis no shape before them has."""
    return [shape for k, shape in enumerate(shapes) if not any(_same(shape.axis, o.axis) for o in shapes[:k])]


def _room_px(camera: Camera, view: FlatView, shapes: list[SymmetricShape]) -> FloatArray:
    """Two corners (2, 2) of the part of the photo in which ``shapes`` lie, and ROOM_MM about them."""
    world_mm = np.vstack([shape.axis.to_world(shape.ring_mm()) for shape in shapes])
    seen_px = camera.project(np.column_stack([world_mm, np.full(len(world_mm), view.plane_z_mm)]))
    room_px = ROOM_MM * camera.focal_px / (camera.height_mm - view.plane_z_mm)
    return np.vstack([seen_px.min(axis=0) - room_px, seen_px.max(axis=0) + room_px])


def _long_enough(shape: SymmetricShape) -> bool:
    return shape.length_mm > 0.9 * MIN_LENGTH_MM


def _axes(view: FlatView, edges: ComplexImage, silhouettes: tuple[Mask, Mask]) -> list[Axis]:
    """Candidates for the mirror axis, each once."""
    axes: list[Axis] = []
    for mask in silhouettes:
        for weight in AXIS_WEIGHTS:
            for axis in find_axes(view, edges, mask, weight):
                if not any(_same(axis, other) for other in axes):
                    axes.append(axis)
    return axes


def _same(axis: Axis, other: Axis) -> bool:
    """Whether two axes are one line, as far as the rough search can tell."""
    apart_mm = other.to_racquet(axis.to_world(np.array([[0.0, -150.0], [0.0, 150.0]])))[:, 0]
    return bool(np.abs(apart_mm).max() < SAME_AXIS_MM)
