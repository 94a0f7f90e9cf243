"""The four lines of a quadrilateral: making, moving and meeting."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from digitise.tone import FloatArray

_SETTLED_PX = 1e-3


@dataclass(frozen=True, eq=False)
class SideLine:
    """A side's line: its sharp ends ``start``, ``end`` (2,) in px and the unit normal away from the card."""

    start: FloatArray
    end: FloatArray
    outward: FloatArray

    @property
    def length(self) -> float:
        """Distance of the ends in px."""
        return math.hypot(*(self.end - self.start))

    @property
    def direction(self) -> FloatArray:
        """Unit vector from start to end."""
        return np.asarray((self.end - self.start) / self.length)

    def shifted(self, at_start: float, at_end: float) -> SideLine:
        """The line with its ends moved outward; the normal follows."""
        start, end = self.start + at_start * self.outward, self.end + at_end * self.outward
        along = (end - start) / math.hypot(*(end - start))
        normal = np.array([along[1], -along[0]])
        return SideLine(start, end, normal if normal @ self.outward > 0 else -normal)


def outlines(corners_px: FloatArray) -> list[SideLine]:
    """The four sides of a quadrilateral (4, 2); side i runs from corner i to i + 1."""
    middle = corners_px.mean(axis=0)
    lines = []
    for start, end in zip(corners_px, np.roll(corners_px, -1, axis=0), strict=True):
        along = (end - start) / max(math.hypot(*(end - start)), 1e-9)
        normal = np.array([along[1], -along[0]])
        if normal @ ((start + end) / 2 - middle) < 0:
            normal = -normal
        lines.append(SideLine(start, end, normal))
    return lines


def crossings(lines: list[SideLine]) -> FloatArray | None:
    """Corners (4, 2): corner i is where side i-1 meets side i; None where neighbours run parallel."""
    corners = []
    for index in range(len(lines)):
        before, here = lines[index - 1], lines[index]
        d, e = before.direction, here.direction
        cross = d[0] * e[1] - d[1] * e[0]
        if not abs(cross) > 1e-3:
            return None
        gap = here.start - before.start
        corners.append(before.start + (gap[0] * e[1] - gap[1] * e[0]) / cross * d)
    return np.array(corners)


def closed(lines: list[SideLine]) -> list[SideLine] | None:
    """The same lines with their ends moved to where neighbours meet; None where they do not."""
    corners = crossings(lines)
    if corners is None:
        return None
    return [SideLine(corners[i], corners[(i + 1) % 4], line.outward) for i, line in enumerate(lines)]


def median(values: FloatArray) -> FloatArray:
    """Median over the first axis; numpy's own loads its masked arrays only to look for one."""
    ordered = np.sort(values, axis=0)
    return np.asarray((ordered[(len(values) - 1) // 2] + ordered[len(values) // 2]) / 2)


def robust_line(along: FloatArray, shift: FloatArray, base: FloatArray) -> tuple[float, float, FloatArray]:
    """Level and slope about the mean of ``along``, with Tukey's weights times ``base``; and the weights."""
    centred = along - along.mean()
    span = float(np.ptp(along))
    known = slice(None) if (base > 0).all() else np.flatnonzero(base > 0)
    weight = base.copy()
    level = slope = 0.0
    for _ in range(12):
        before = level, slope
        total = float(weight.sum())
        if total <= 0:
            break
        middle = float(weight @ centred) / total
        apart = centred - middle
        turning = weight * apart
        spread = float(turning @ apart)
        slope = float(turning @ shift) / spread if spread > 0 else 0.0
        level = float(weight @ shift) / total - slope * middle
        residual = shift - level - slope * centred
        scale = max(0.03, 1.4826 * float(median(np.abs(residual[known]))))
        weight = base * np.maximum(1 - (residual / (4.685 * scale)) ** 2, 0) ** 2
        if abs(level - before[0]) + abs(slope - before[1]) * span < _SETTLED_PX:
            break
    return level, slope, weight
