"""An edited SVG drawing back into rings: units, names, closed and simple paths, landmarks left in place."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from scipy.spatial import cKDTree

from digitise.svg_write import Page, named_curves, named_lines, page_of
from digitise.tone import FloatArray
from model.errors import OutlineError
from model.racquet_file import RacquetFile
from model.recalibrate import traced_of
from model.spline import Curve, dense_ring

LARGEST_SVG_BYTES = 64 * 2**20
PX_PER_MM = 96 / 25.4  # CSS: an inch is 96 px
SAME_MM = 0.006
"""Less than this from what was written is unchanged: rounding by editors stays under 0.002 mm."""
MARK_SAME_MM = 0.05
CLOSED_MM = 0.01
FLAT_MM = 0.004
"""How far the chords of a read path may leave it."""
BACK_MM = 4.0
OPENING = "opening"
"""What the names of openings begin with."""


@dataclass(frozen=True, eq=False)
class ReadBack:
    """Rings in the racquet frame, and how much of the outline, in mm along it, is not as it was written.

    Of the openings: the names of those that are not as written, that were not in the file, and that are gone.
    """

    outer_mm: FloatArray
    openings_mm: list[FloatArray]
    changed_mm: float
    moved: tuple[str, ...]
    added: tuple[str, ...]
    removed: tuple[str, ...]

    @property
    def is_same(self) -> bool:
        """Whether nothing was edited."""
        return self.changed_mm == 0 and not (self.moved or self.added or self.removed)


def read_svg(path: Path, file: RacquetFile) -> ReadBack:
    """The rings of an edited drawing of ``file``. Raises OutlineError with one sentence."""
    outline = traced_of(file)[0]
    page = page_of(outline)
    found = _paths(path, page)
    _check_marks(found, file, page, path)
    if "outline" not in found:
        raise OutlineError(
            f"{path} has no path named outline: keep the name (id) that the outline's path had, and do not "
            "turn it into another shape"
        )
    written = named_curves(file)
    outer, changed = _restored(
        page.back(_ring(found["outline"], "outline", path)), written["outline"], outline.outer_mm
    )
    openings, moved, added = [], [], []
    for name in sorted((key for key in found if key.startswith(OPENING)), key=_number):
        old = written.get(name)
        own = outline.openings_mm[_number(name) - 1] if old is not None else None
        ring = _restored(page.back(_ring(found[name], name, path)), old, own)[0]
        openings.append(ring)
        if own is None:
            added.append(name)
        elif ring is not own:
            moved.append(name)
    removed = tuple(name for name in written if name not in found)
    return ReadBack(outer, openings, changed, tuple(moved), tuple(added), removed)


def _paths(path: Path, page: Page) -> dict[str, Any]:
    """Named paths in drawing coordinates of mm, with every transformation applied."""
    from svgelements import SVG, Shape
    from svgelements import Path as SvgPath

    try:
        if path.stat().st_size > LARGEST_SVG_BYTES:
            raise OutlineError(
                f"{path} is too large for a drawing of a racquet: save it without other pictures"
            )
        drawing = SVG.parse(str(path), ppi=96.0, reify=True)
    except OSError as error:
        raise OutlineError(f"{path} can't be read: {error.strerror or error}") from None
    except (ValueError, SyntaxError, KeyError, TypeError) as error:
        raise OutlineError(f"{path} is not a sound SVG file ({error}): save it as plain SVG") from None
    _check_size(drawing, page, path)
    found: dict[str, Any] = {}
    for element in drawing.elements():
        name = getattr(element, "id", None)
        if isinstance(element, SvgPath) and name:
            if name in found:
                raise OutlineError(f"{path} has two paths named {name}: delete one of them")
            found[name] = element
        elif isinstance(element, Shape) and name and name.startswith(OPENING):
            raise OutlineError(
                f"{name} of {path} is a {type(element).__name__.lower()} and no path: turn it into a path, "
                "which vector editors can do"
            )
    return found


def _check_size(drawing: Any, page: Page, path: Path) -> None:
    """Width and height must still be those of the page in mm: else every length would be wrong."""
    if drawing.width is None or drawing.height is None:
        raise OutlineError(f"{path} does not say its size: keep width and height of the page in mm")
    width, height = float(drawing.width) / PX_PER_MM, float(drawing.height) / PX_PER_MM
    if abs(width - page.width_mm) > 0.05 or abs(height - page.height_mm) > 0.05:
        raise OutlineError(
            f"the page of {path} is {width:.1f} × {height:.1f} mm, and it was written as "
            f"{page.width_mm:.1f} × {page.height_mm:.1f} mm: keep the page's size and units"
        )


def _check_marks(found: dict[str, Any], file: RacquetFile, page: Page, path: Path) -> None:
    for name, ends in named_lines(file, page).items():
        if name not in found:
            raise OutlineError(f"{path} has lost the line named {name}: leave the landmarks in the drawing")
        there = page.back(np.array([[p.x, p.y] for p in _ends(found[name])]) / PX_PER_MM)
        if np.abs(there - ends).max() > MARK_SAME_MM:
            raise OutlineError(
                f"the line named {name} of {path} has moved: put it back, and move landmarks with "
                "digitise correct"
            )


def _ends(path: Any) -> tuple[Any, Any]:
    return path.first_point, path.current_point


def _restored(ring: FloatArray, written: Curve | None, own_mm: FloatArray | None) -> tuple[FloatArray, float]:
    """A read ring; where it is as it was written, the file's own points stand in for it."""
    if written is None or own_mm is None:
        return ring, 0.0
    before = dense_ring(written, FLAT_MM / 4)
    same = _distance(before, ring) < SAME_MM
    if same.all() and _distance(ring, before).max() < 4 * SAME_MM:
        return own_mm, 0.0
    steps = np.hypot(*(np.roll(ring, -1, axis=0) - ring).T)
    return _merged(ring, same, np.asarray(own_mm)), float(steps[~same].sum())


def _merged(ring: FloatArray, same: np.ndarray[Any, np.dtype[np.bool_]], own: FloatArray) -> FloatArray:
    """Changed points as read; each unchanged run as the file's own points between its ends."""
    own = own if _area(own) * _area(ring) > 0 else own[::-1]
    if not same.any():
        return ring
    start = int(np.argmin(same))  # begin with a changed point, so that no run goes over the seam
    ring, same = np.roll(ring, -start, axis=0), np.roll(same, -start)
    pieces: list[FloatArray] = []
    i = 0
    while i < len(ring):
        j = i
        while j < len(ring) and same[j] == same[i]:
            j += 1
        if not same[i] or j - i < 2:
            pieces.append(ring[i:j])
        else:
            first, last = (int(np.argmin(np.sum((own - ring[k]) ** 2, axis=1))) for k in (i, j - 1))
            count = (last - first) % len(own) + 1
            far = float(np.hypot(*(ring[j - 1] - ring[i])))
            plain = count > len(own) / 2 and far < BACK_MM  # a short run whose ends came out in reverse
            pieces.append(ring[i:j] if plain else own[(first + np.arange(count)) % len(own)])
        i = j
    return np.vstack(pieces)


def _ring(path: Any, name: str, source: Path) -> FloatArray:
    """Points (n, 2), mm in the drawing, of one closed path."""
    from svgelements import Close, Move

    segments = list(path)
    if sum(isinstance(segment, Move) for segment in segments) != 1:
        raise OutlineError(
            f"the path {name} of {source} has several pieces: keep one closed line for each ring"
        )
    first, last = _ends(path)
    closed = any(isinstance(segment, Close) for segment in segments)
    if not closed and abs(complex(first.x - last.x, first.y - last.y)) > CLOSED_MM * PX_PER_MM:
        raise OutlineError(f"the path {name} of {source} is not closed: join its ends")
    points: list[FloatArray] = []
    for segment in segments:
        if isinstance(segment, Move):
            continue
        count = _steps(segment)
        at = np.arange(count) / count
        points.append(np.array([[p.x, p.y] for p in (segment.point(float(t)) for t in at)], float))
    ring = np.vstack(points) / PX_PER_MM
    apart = np.hypot(*(ring - np.roll(ring, 1, axis=0)).T) > 1e-6
    return np.asarray(ring[apart])


def _steps(segment: Any) -> int:
    """Chords for a segment: none leaves it by more than FLAT_MM."""
    from svgelements import Close, Line

    if isinstance(segment, Line | Close):
        return 1
    probe = [segment.point(float(t)) for t in np.linspace(0, 1, 9)]
    bend = np.abs(np.diff([[p.x, p.y] for p in probe], 2, axis=0)).max() * 64 / PX_PER_MM
    return int(np.clip(np.ceil(np.sqrt(bend / (8 * FLAT_MM))) + 1, 2, 400))


def _distance(ring: FloatArray, points: FloatArray) -> FloatArray:
    """Distance (m,) of points from a closed line of many points (n, 2)."""
    _, near = cKDTree(ring).query(points)
    best = np.full(len(points), np.inf)
    for first in (near, (near - 1) % len(ring)):
        start, step = ring[first], ring[(first + 1) % len(ring)] - ring[first]
        share = np.sum((points - start) * step, axis=1) / np.maximum(np.sum(step**2, axis=1), 1e-18)
        best = np.minimum(best, np.hypot(*(points - start - np.clip(share, 0, 1)[:, None] * step).T))
    return best


def _area(ring: FloatArray) -> float:
    x, y = ring.T
    return float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def _number(name: str) -> int:
    digits = "".join(c for c in name if c.isdigit())
    return int(digits) if digits else 0
