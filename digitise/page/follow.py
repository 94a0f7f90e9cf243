"""Lines that follow edges: from click to click, and a freehand line drawn towards the strongest edge near it.

Between clicks the line is the cheapest path over edges that look like those clicked on: OpenCV's intelligent
scissors (E. N. Mortensen and W. A. Barrett, 1995), with costs of our own (``likeness``), on a coarse picture
of the neighbourhood. Then, and for freehand lines, the edge is looked for across the line in the full photo:
the best way through the band, and between its columns the vertex of a parabola.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from scipy.ndimage import gaussian_filter1d

from digitise.linear import LinearPhoto
from digitise.page.likeness import Cell, Edges, Part, edges_of
from digitise.page.tiles import Album, Surface, straightened
from digitise.tone import FloatArray

REACH_MM, CELL_MM = 60.0, 0.5
"""Half the width of the neighbourhood in which a line follows from a click, and its cells."""
FARTHEST_MM = 240.0
"""Half the width of the largest one, for clicks far apart: beyond it a line ends on its way to the click."""
TURN_WEIGHT = 0.25
"""Share of a step's cost that is for leaving the edge's direction; the rest is for leaving the edge."""
BESIDE_COST, BESIDE_MM = 0.35, 4.0
"""What it costs at most to stray from the smooth curve between two clicks, and how far that is."""
ROOM_MM, ROOM_SHARE = 15.0, 0.4
"""How far beside two clicks their line may go: so much, and so much of their distance."""
SNAP_REACH_MM, FOLLOWED_REACH_MM = 4.0, 1.2
"""How far the edge is looked for beside a freehand line, and beside one that followed it already."""
ALONG_MM, ACROSS_MM = 1.0, 0.1
SIDE_MM = 0.8
"""Width either side of a place over which the colours are compared."""
STEP_COST = 0.35
"""What it costs the edge to move by one column of ACROSS_MM from one row to the next, per column squared."""
DRIFT_COST = 0.35
"""What it costs to lie at the far end of the reach, in strengths of a full edge."""
MOST_STEP = 5


@dataclass(frozen=True, eq=False)
class Neighbourhood:
    """What lies round a click, ``anchor`` (2,) in cells, and the edges there."""

    left_top_mm: tuple[float, float]
    anchor: FloatArray
    edges: Edges

    def reaches(self, to_mm: FloatArray) -> bool:
        """Whether all that a line to ``to_mm`` (2,) may go along is in it."""
        left, top = self.left_top_mm
        reach = len(self.edges.steep) * CELL_MM / 2
        return reach >= reach_to(to_mm - np.array([left + reach, top - reach]))

    def path(self, to_mm: FloatArray) -> FloatArray:
        """Points (n, 2) from the edge clicked on along its like to the one at ``to_mm``."""
        left, top = self.left_top_mm
        size = len(self.edges.steep)
        cell = np.array([(to_mm[0] - left) / CELL_MM - 0.5, (top - to_mm[1]) / CELL_MM - 0.5])
        way = cell - self.anchor  # cut short where it leaves the picture, never bent
        cell = self.anchor + way * min(1.0, (size / 2 - 0.5) / max(float(np.abs(way).max()), 1e-9))
        ends = self.edges.clicked(self.anchor, cell)
        room = round(ROOM_MM / CELL_MM + ROOM_SHARE * float(np.hypot(*(cell - self.anchor))))
        x0, y0 = np.maximum(np.min(ends, axis=0) - room, 0)
        x1, y1 = np.minimum(np.max(ends, axis=0) + room + 1, size)
        part = slice(y0, y1), slice(x0, x1)
        cost, normal = self.edges.like(ends, part)
        total = ((cost + self._beside(ends, part)) / (1 + BESIDE_COST)).astype(np.float32)
        scissors = cv2.segmentation.IntelligentScissorsMB()
        scissors.setWeights(0.0, TURN_WEIGHT, 1.0 - TURN_WEIGHT)
        scissors.applyImageFeatures(np.zeros(total.shape, np.uint8), normal, total)
        scissors.buildMap((int(ends[0][0] - x0), int(ends[0][1] - y0)))
        found = scissors.getContour((int(ends[1][0] - x0), int(ends[1][1] - y0)))
        cells = np.asarray(found, float).reshape(-1, 2) + np.array([x0, y0])
        return np.column_stack([left + (cells[:, 0] + 0.5) * CELL_MM, top - (cells[:, 1] + 0.5) * CELL_MM])

    def _beside(self, both: tuple[Cell, Cell], part: Part) -> FloatArray:
        """What it costs (h, w) in a ``part`` of the picture to lie beside the curve that leaves one edge and
        meets the other smoothly."""
        first, last = np.array(both, float)
        chord = last - first
        ends = []
        for column, row in both:
            x, y = self.edges.across[row, column]
            along = np.array([-y, x], float)
            ends.append(along * np.sign(along @ chord or 1.0) * np.hypot(*chord))
        t = np.linspace(0, 1, 60)[:, None]
        curve = (
            (1 + 2 * t) * (1 - t) ** 2 * first
            + t * (1 - t) ** 2 * ends[0]
            + t**2 * (3 - 2 * t) * last
            + t**2 * (t - 1) * ends[1]
        )
        away = np.full(self.edges.steep[part].shape, 255, np.uint8)
        corner = np.array([part[1].start, part[0].start], np.int32)
        cv2.polylines(away, [np.round(curve).astype(np.int32) - corner], False, 0)
        away_mm = cv2.distanceTransform(away, cv2.DIST_L2, 3) * CELL_MM
        return np.asarray(BESIDE_COST * np.minimum((away_mm / BESIDE_MM) ** 2, 1.0), np.float32)


def reach_to(way_mm: FloatArray) -> float:
    """How far round a click one must look for a line that goes ``way_mm`` (2,) from there, in even steps."""
    steps = np.ceil((float(np.abs(way_mm).max()) + ROOM_MM) / REACH_MM)
    return min(float(steps) * REACH_MM, FARTHEST_MM)


def neighbourhood(
    surface: Surface, album: Album, anchor_mm: FloatArray, mm_per_px: float, reach_mm: float = REACH_MM
) -> Neighbourhood:
    """``reach_mm`` all round a click at ``anchor_mm`` (2,); ``mm_per_px`` of the photo at full size."""
    size = round(2 * reach_mm / CELL_MM)
    left_top = float(anchor_mm[0]) - reach_mm, float(anchor_mm[1]) + reach_mm
    level = max(0, int(np.floor(np.log2(max(CELL_MM / mm_per_px, 1.0)))))
    patch = straightened(surface, album, left_top, CELL_MM, (size, size), level)
    return Neighbourhood(left_top, np.full(2, size / 2 - 0.5), edges_of(patch, CELL_MM))


def snapped(surface: Surface, album: Album, line_mm: FloatArray, closed: bool, reach_mm: float) -> FloatArray:
    """The line (n, 2) of the strongest edge within ``reach_mm`` of a drawn one, about ALONG_MM apart."""
    line = evenly(line_mm, ALONG_MM, closed)
    if len(line) < 4:
        return line
    line = _smooth(line, 2.0, closed)
    normal = _normals(line, closed)
    margin = SIDE_MM + 2 * ACROSS_MM
    offset = np.arange(-reach_mm - margin, reach_mm + margin + ACROSS_MM / 2, ACROSS_MM)
    points = line[:, None, :] + offset[None, :, None] * normal[:, None, :]
    where = surface.to_px(points.reshape(-1, 2))
    light = LinearPhoto(album.page(0)).at(where).reshape(len(line), len(offset), 3)
    keep = np.abs(offset) <= reach_mm + 1e-9
    # Found in the logarithm, where a dark edge in a shadow counts too; placed in light, where blur adds up.
    strength = edge_strength(np.log(np.asarray(light, float) + 0.02))[:, keep]
    in_light = edge_strength(np.asarray(light, float))[:, keep]
    offset = offset[keep]
    gain = strength - DRIFT_COST * (offset / reach_mm) ** 2
    column = best_way(gain, closed)
    exact = _vertex(in_light, column) * ACROSS_MM + offset[column]
    exact = gaussian_filter1d(exact, 1.0, mode="wrap" if closed else "nearest")
    return np.asarray(line + exact[:, None] * normal)


def edge_strength(colour: FloatArray) -> FloatArray:
    """How much the colour differs, 0 to 1, between the two sides of each place of a band (n, k, 3)."""
    width = round(SIDE_MM / ACROSS_MM)
    total = np.cumsum(np.pad(colour, ((0, 0), (1, 0), (0, 0))), axis=1)
    k = colour.shape[1]
    strength = np.zeros(colour.shape[:2])
    middle = np.arange(width, k - width)
    before = (total[:, middle] - total[:, middle - width]) / width
    after = (total[:, middle + 1 + width] - total[:, middle + 1]) / width
    strength[:, middle] = np.linalg.norm(after - before, axis=2)
    # An edge goes on: its neighbours along the line say what is noise.
    strength = gaussian_filter1d(strength, 1.0, axis=0, mode="nearest")
    return np.asarray(strength / (strength + max(float(np.median(strength.max(axis=1))) / 2, 1e-6)))


def best_way(gain: FloatArray, closed: bool) -> np.ndarray[tuple[int, ...], np.dtype[np.intp]]:
    """The column (n,) of each row for which gain less the cost of steps is largest; closed ones meet."""
    if closed:
        lead = min(len(gain), 40)
        rows = np.arange(-lead, len(gain) + lead) % len(gain)
        return _open_way(gain[rows])[lead : lead + len(gain)]
    return _open_way(gain)


def _open_way(gain: FloatArray) -> np.ndarray[tuple[int, ...], np.dtype[np.intp]]:
    rows, columns = gain.shape
    steps = np.arange(-MOST_STEP, MOST_STEP + 1)
    cost = STEP_COST * (steps * ACROSS_MM) ** 2 / ACROSS_MM
    best = gain[0].copy()
    came = np.zeros((rows, columns), np.intp)
    for row in range(1, rows):
        padded = np.pad(best, MOST_STEP, constant_values=-np.inf)
        options = np.stack([padded[MOST_STEP + s : MOST_STEP + s + columns] for s in steps]) - cost[:, None]
        choice = np.argmax(options, axis=0)
        came[row] = np.arange(columns) + steps[choice]
        best = options[choice, np.arange(columns)] + gain[row]
    way = np.zeros(rows, np.intp)
    way[-1] = int(np.argmax(best))
    for row in range(rows - 1, 0, -1):
        way[row - 1] = came[row, way[row]]
    return way


def _vertex(strength: FloatArray, column: np.ndarray[tuple[int, ...], np.dtype[np.intp]]) -> FloatArray:
    """Offset (n,), in columns, of the parabola's vertex through the strongest place near each column."""
    rows, last = np.arange(len(column)), strength.shape[1] - 2
    near = np.clip(column, 1, last)
    for _ in range(6):  # up to half a millimetre from where the logarithm had it
        around = np.stack([strength[rows, np.clip(near + d, 1, last)] for d in (-1, 0, 1)])
        near = np.clip(near + np.argmax(around, axis=0) - 1, 1, last)
    left, middle, right = (strength[rows, near + d] for d in (-1, 0, 1))
    bend = left - 2 * middle + right
    with np.errstate(divide="ignore", invalid="ignore"):
        shift = np.where(bend < 0, (left - right) / (2 * bend), 0.0)
    return np.asarray(near - column + np.clip(shift, -0.5, 0.5))


def evenly(line_mm: FloatArray, step_mm: float, closed: bool) -> FloatArray:
    """The line at even steps of about ``step_mm``; an open one keeps both ends."""
    line = np.vstack([line_mm, line_mm[:1]]) if closed else np.asarray(line_mm, float)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    count = max(round(along[-1] / step_mm), 1)
    at = np.linspace(0, along[-1], count + (0 if closed else 1), endpoint=not closed)
    return np.column_stack([np.interp(at, along, line[:, k]) for k in range(2)])


def _smooth(line: FloatArray, sigma: float, closed: bool) -> FloatArray:
    smooth = gaussian_filter1d(line, sigma, axis=0, mode="wrap" if closed else "nearest")
    if not closed:
        smooth[[0, -1]] = line[[0, -1]]
    return np.asarray(smooth)


def _normals(line: FloatArray, closed: bool) -> FloatArray:
    ahead, behind = np.roll(line, -1, axis=0), np.roll(line, 1, axis=0)
    if not closed:
        ahead[-1], behind[0] = line[-1], line[0]
    along = ahead - behind
    along = along / np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-9)
    return np.column_stack([along[:, 1], -along[:, 0]])
