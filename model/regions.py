"""Parts as regions of the outline: the shapes that the priors file names."""

from __future__ import annotations

import numpy as np
from shapely.geometry import LineString, MultiPolygon, Polygon, box
from shapely.geometry.base import BaseGeometry

from model.errors import OutlineError
from model.face import Landmarks, string_bed
from model.outline import Outline

BUTT_CAP_LENGTH_MM = 12.0  # moulded ends are 10 to 15 mm deep
BUMPER_SHARE = 0.3  # of the face's height: bumpers reach round the head to its shoulders
MIN_THROAT_MM = 1.0  # a hoop closer to the handle than this has no throat


def region(outline: Outline, landmarks: Landmarks, shape: str, depth_mm: float = 0.0) -> BaseGeometry:
    """The area (or, for ``rim``, the curve) of a part, in the racquet frame, mm.

    face: above the handle top, ``depth_mm`` inside the outline, openings taken out. rim: the
    curve ``depth_mm`` inside the face's outer edge. bumper: that curve over the head. handle: below
    the handle top. butt: its lowest 12 mm. hoop: above the throat top, openings taken out. throat:
    between handle top and throat top, openings taken out, unless that is a mere rod; shaft: that
    rod. strings: the string bed. Empty when a racquet has no such part; raises OutlineError when
    one that every racquet has is empty.
    """
    top, bottom = landmarks.handle_top_mm, landmarks.face_bottom_mm
    base, tip = float(outline.outer_mm[:, 1].min()), float(outline.outer_mm[:, 1].max())
    match shape:
        case "face":
            found = _band(outline, outline.polygon.intersection(_inside(outline, depth_mm)), top, np.inf)
        case "rim":
            found = _rim(outline, top, depth_mm)
        case "bumper":
            found = _rim(outline, tip - BUMPER_SHARE * (tip - bottom), depth_mm)
        case "handle":
            found = _band(outline, outline.polygon, base, top)
        case "butt":
            found = _band(outline, outline.polygon, base, base + BUTT_CAP_LENGTH_MM)
        case "hoop":
            found = _band(outline, outline.polygon, bottom, np.inf)
        case "throat" | "shaft":
            slender = hoop_on_rod(outline, landmarks)
            found = _between(outline, top, bottom) if slender == (shape == "shaft") else Polygon()
        case "strings":
            found = Polygon(outline.openings_mm[string_bed(outline)])
        case _:
            raise OutlineError(f"the priors file names an unknown shape {shape!r}")
    if shape not in ("throat", "shaft") and (found.is_empty or found.length == 0):
        raise OutlineError(
            f"the outline has no {shape} with these landmarks: correct the handle top or throat top"
        )
    return found


def _band(outline: Outline, shape: Polygon, low: float, high: float) -> BaseGeometry:
    x0, y0, x1, y1 = outline.filled.bounds
    cut = shape.intersection(box(x0 - 1, max(low, y0 - 1), x1 + 1, min(high, y1 + 1)))
    # An edge that lies on the cut comes along as a line: only areas belong to the part.
    areas = [piece for piece in getattr(cut, "geoms", [cut]) if piece.geom_type == "Polygon"]
    return areas[0] if len(areas) == 1 else MultiPolygon(areas)


def _between(outline: Outline, low: float, high: float) -> BaseGeometry:
    return _band(outline, outline.polygon, low, high) if high - low > MIN_THROAT_MM else Polygon()


def hoop_on_rod(outline: Outline, landmarks: Landmarks) -> bool:
    """Whether the hoop sits on one rod, on the mean narrower than the handle.

    A throat has an opening, or is closed and wide.
    """
    top, bottom = landmarks.handle_top_mm, landmarks.face_bottom_mm
    base = float(outline.outer_mm[:, 1].min())
    if len(outline.openings_mm) != 1 or bottom - top <= MIN_THROAT_MM:
        return False
    handle = _band(outline, outline.polygon, base, top)
    handle_width = handle.area / (handle.bounds[3] - handle.bounds[1])
    return bool(_between(outline, top, bottom).area < 0.9 * handle_width * (bottom - top))


def _rim(outline: Outline, low: float, depth_mm: float) -> BaseGeometry:
    """The outline moved inwards, only above ``low``: the closing line across the throat is no rim."""
    x0, _, x1, y1 = outline.filled.bounds
    ring = LineString(_inside(outline, depth_mm).exterior.coords)
    return ring.intersection(box(x0 - 1, low, x1 + 1, y1 + 1))


def _inside(outline: Outline, depth_mm: float) -> Polygon:
    """The filled outline moved inwards; its largest piece should a narrow neck part."""
    if depth_mm not in outline.insets:
        inner = outline.plain.buffer(-depth_mm, quad_segs=4) if depth_mm > 0 else outline.filled
        outline.insets[depth_mm] = max(getattr(inner, "geoms", [inner]), key=lambda piece: piece.area)
    return outline.insets[depth_mm]
