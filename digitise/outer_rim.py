"""A rim, all round a face or along a part of it, whose border lies outside a stronger one.

The rough search looks for such rims too, on its coarse grid; here the photo's own pixels are asked. Where
the rim has the table's colour no single place of its border stands out, but it runs smoothly all round the
head, on both sides alike, and the colour changes over it alike in most directions (a line of a mat's does
not). Where a part of the outline followed a rim's inner border, the outer one is clear, on both sides.
A shadow, which two lamps may throw on both sides alike, is darker than the table beyond and has a soft
border; a rim is brighter, or its border is as sharp as the lens lets it be.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
from scipy.ndimage import gaussian_filter1d, label

from digitise.band import ACROSS_MM, ALONG_MM, Band, mirrored
from digitise.band_filters import blurred, highest_near
from digitise.best_line import best_closed_line
from digitise.border_odds import LOG_ODDS, WINDOW_MM, border_odds, of_both, steps
from digitise.head_sectors import LEAST_SD, agreed, courses, steps_outward
from digitise.quantile import median_of
from digitise.table_model import Mask
from digitise.tone import FloatArray, Image, log_colour

REACH_MM = (4.0, 30.0)
NARROWEST_MM, WIDEST_MM, TABLE_MM = 4.0, 22.0, 18.0
"""Widths of rims as they are seen; and from how far outside on it is mostly table."""
BLUR_ALONG_MM, BLUR_MM = 1.5, 0.4
SLACK = 5
"""Places across, ACROSS_MM apart, within which the two sides may find the border."""
STEP_COST, MAX_STEPS = 4.0, 2
"""Cost of a place's step across from one place along to the next, and the most steps, all round the head."""
HEAD_SHARE, BLEND_MM = 0.22, 15.0
"""Share of the largest half width from which on it is head, and over what length the rim begins."""
LEAST_ODDS = -1.4
"""Mean log odds that the second border has at least; where there is none the best line has less than -1.7."""
STEP_PLACES, LEAST_AGREED = 6, 0.4
"""Over how many places on either side of such a line colour is averaged, and by how many sds most of the
head's sectors must show one step there: lines that cross a mat or tiles from here to there show none."""
RULED_OUT = -30.0
PART_COST, PART_STEPS, BETWEEN, LEAVE = 0.3, 4, -2.0, 0.5
"""The same for a part of the head, what the places between the two borders lose, and the outer one's loss."""
PART_ODDS, PART_MM, ON_BOTH, ALIKE = 1.2, 25.0, 0.5, 0.4
"""Mean log odds and length of such a part at least, how much of it is seen on the other side, too, and how
alike (cosine) colours change on both."""
_ROUNDING = 1e-9  # of such sums, and more
BRIGHTER, OFF_MM = 0.2, 1.5
"""By how much (log) what lies inside a rim's border is brighter than what lies outside, this far from it."""
SHARP, FINE_MM, SHARP_SLACK = 0.55, 0.5, 9
"""Share of the step across a rim's border that is seen over so short a way, of shadows' borders less than
half; looked for within so many places of the border."""
PART_BLEND_MM, TIPWARDS = 3.0, 0.8
"""Over what length a part's rim begins, and how much the outline's normal points to the tip at the tip."""


@dataclass(frozen=True, eq=False)
class OuterRim:
    """The ring (n, 2) round a rim, which is ``width_mm`` wide."""

    ring_mm: FloatArray
    width_mm: float


@dataclass(frozen=True, eq=False)
class _Sight:
    """A band's ``offset_mm`` (k,) and ``normal`` (n, 2), its log colour (n, k, 3) smoothed ``along`` it, and
    (n, k) its brightness and the log odds of a border there and at the mirror place; ``head`` (n,), what of
    it is ``free`` of cards and the photo's edge, and its ``sides``: at the tip the two places are one, and
    tell no more than one."""

    offset_mm: FloatArray
    normal: FloatArray
    along: Image
    brightness: Image
    both: FloatArray
    head: Mask
    free: Mask
    sides: Mask

    @cached_property
    def rim(self) -> npt.NDArray[np.intp]:
        """The columns in which a rim's border may lie."""
        return np.flatnonzero((self.offset_mm >= NARROWEST_MM) & (self.offset_mm <= WIDEST_MM))

    @cached_property
    def most(self) -> FloatArray:
        """The log odds (n,) of a rim's border along any line, at most: by them most searches are spared."""
        return np.asarray(self.both[:, self.rim].max(axis=1))

    @cached_property
    def sharpness(self) -> FloatArray:
        """How sharp an edge is at each place (n, k): asked only where there may be a rim, which is seldom."""
        table = self.offset_mm > TABLE_MM
        fine, whole = (_above_texture(self.along, table, window_mm) for window_mm in (FINE_MM, WINDOW_MM))
        return np.asarray(fine / np.maximum(whole, 1e-6))


def find_outer_rim(band: Band, bare: Mask) -> OuterRim | None:
    """The rim that runs outside the symmetric ring of ``band``; None if none does.

    ``band`` reaches from REACH_MM[0] inside to REACH_MM[1] outside; its point i mirrors point -i. ``bare``
    (n, k): where neither card nor the photo's edge is, whose borders are none of a racquet's.
    """
    seen = _sight(band, bare)
    offset_mm = _all_round(seen, band.base_mm)
    if offset_mm is None:
        offset_mm = _in_part(seen)
    if not (offset_mm > 0).any():
        return None
    return OuterRim(band.points_mm(offset_mm), float(np.median(offset_mm[offset_mm >= NARROWEST_MM / 2])))


def _sight(band: Band, bare: Mask) -> _Sight:
    along, colour = smoothed(band)
    head = head_of(band.base_mm)
    sides = head & (band.normal[:, 1] < TIPWARDS)
    both = odds_on_both(colour, band.offset_mm, bare)
    return _Sight(band.offset_mm, band.normal, along, colour[..., 0], both, head, free_of(band, bare), sides)


def free_of(band: Band, bare: Mask) -> Mask:
    """Where (n,) the head looks onto table all the way: ``bare`` (n, k) outside it."""
    return np.asarray(bare[:, band.offset_mm >= 0].all(axis=1) & head_of(band.base_mm))


def smoothed(band: Band) -> tuple[Image, Image]:
    """The band's log colour (n, k, 3), smoothed along it, and both along and across."""
    along = blurred(log_colour(band.light), BLUR_ALONG_MM / ALONG_MM)
    return along, blurred(along, 0.0, BLUR_MM / ACROSS_MM)


def odds_on_both(colour: Image, offset_mm: FloatArray, bare: Mask) -> FloatArray:
    """Log odds (n, k) of a border at each place of ``colour`` (n, k, 3) and its mirror place; where it is not
    ``bare`` (n, k) there is none."""
    odds = np.where(bare, border_odds(colour, 1, ACROSS_MM, offset_mm > TABLE_MM), LOG_ODDS[0])
    odds = highest_near(odds, SLACK).astype(float)
    return of_both(odds, mirrored(odds))


def _above_texture(colour: Image, table: Mask, window_mm: float) -> FloatArray:
    """The largest step (n, k) near each place, less what the table's texture and noise make of it."""
    step = highest_near(steps(colour, 1, ACROSS_MM, window_mm), SHARP_SLACK)
    return np.asarray(np.maximum(step - median_of(step[:, table]), 0.0))


def _all_round(seen: _Sight, base_mm: FloatArray) -> FloatArray | None:
    """Offsets (n,) of a border round the whole head, None if none stands out or a shadow's does."""
    head = seen.head
    if float(seen.most[head].mean()) < LEAST_ODDS:
        return None
    gain = np.where(head[:, None], seen.both[:, seen.rim], 0.0)
    line = seen.rim[best_closed_line(gain, STEP_COST, MAX_STEPS)]
    here = np.flatnonzero(head)
    if float(seen.both[here, line[here]].mean()) < LEAST_ODDS:
        return None
    if not _is_rim(seen, here, line[here]) or not _one_step(seen, line):
        return None
    return np.asarray(begun_at_head(base_mm) * seen.offset_mm[line])


def _one_step(seen: _Sight, line: npt.NDArray[np.int64]) -> bool:
    """Whether the colour changes alike along columns ``line`` (n,) in most sectors of the head; so it does if
    too few of them are seen."""
    columns = np.clip(line[:, None] + np.arange(-STEP_PLACES, STEP_PLACES), 0, len(seen.offset_mm) - 1)
    parts = courses(seen.along, columns, seen.normal, seen.free)
    return len(parts) == 0 or agreed(steps_outward(parts, STEP_PLACES))[STEP_PLACES] > LEAST_AGREED


def _in_part(seen: _Sight) -> FloatArray:
    """Offsets (n,) of a clear border outside parts of the head, 0 elsewhere."""
    offset_mm = seen.offset_mm
    if not holds_run(seen.most, PART_ODDS, round(PART_MM / ALONG_MM)):
        return np.zeros(len(seen.most))
    here = np.abs(offset_mm) < ACROSS_MM
    rim = (offset_mm >= NARROWEST_MM) & (offset_mm <= WIDEST_MM)
    between = (offset_mm > 0) & (offset_mm < NARROWEST_MM)
    elsewhere = np.where(here, 0.0, np.where(between, BETWEEN, RULED_OUT))
    gain = np.where(rim & seen.sides[:, None], seen.both - LEAVE, elsewhere)
    open_to = np.flatnonzero(here | between | rim)
    line = open_to[best_closed_line(gain[:, open_to], PART_COST, PART_STEPS)]
    found = offset_mm[line]
    parts, count = label(found >= NARROWEST_MM)
    kept = np.zeros(len(line))
    for part in (np.flatnonzero(parts == k) for k in range(1, count + 1)):
        clear = float(seen.both[part, line[part]].mean()) > PART_ODDS and len(part) * ALONG_MM > PART_MM
        seen_twice = part[found[-part % len(line)] >= NARROWEST_MM]
        if not clear or len(seen_twice) < ON_BOTH * len(part):
            continue
        if _is_rim(seen, part, line[part]) and _alike(seen, line, seen_twice):
            kept[part] = found[part]
    return np.asarray(gaussian_filter1d(kept, PART_BLEND_MM / ALONG_MM, mode="wrap"))


def _alike(seen: _Sight, line: npt.NDArray[np.int64], rows: npt.NDArray[np.intp]) -> bool:
    """Whether there is a rim outside the mirror places of ``rows`` (m,), too, and the colour changes in one
    way from inside its border, at columns ``line`` (n,), to outside it on both sides."""
    twins = -rows % len(line)
    one, other = (_changes(seen, each, line[each]) for each in (rows, twins))
    size = np.linalg.norm(one, axis=1) * np.linalg.norm(other, axis=1)
    alike = np.median(np.sum(one * other, axis=1) / np.maximum(size, 1e-9)) > ALIKE
    return bool(alike) and _is_rim(seen, twins, line[twins])


def _changes(seen: _Sight, rows: npt.NDArray[np.intp], line: npt.NDArray[np.int64]) -> FloatArray:
    """By how much (m, 3), in sds, the colour changes outward over the border at columns ``line`` (m,) of
    ``rows`` (m,)."""
    strips = _strips(seen.offset_mm, seen.offset_mm[line])
    inside, outside = (np.mean(seen.along[rows], axis=1, where=strip[..., None]) for strip in strips)
    return np.asarray((outside - inside) / LEAST_SD, float)


def holds_run(values: FloatArray, over: float, rows: int) -> bool:
    """Whether ``values`` (n,) of so many neighbouring ``rows``, or of more, have a mean ``over`` this.

    >>> values = np.array([0.0, 3.0, 0.0, 2.0, 0.0])
    >>> holds_run(values, 1.6, 3), holds_run(values, 1.6, 4)
    (True, False)
    """
    above = np.concatenate([[0.0], np.cumsum(values - over)])
    least_before = np.minimum.accumulate(above)[: max(len(above) - rows, 0)]
    return bool((above[rows:] > least_before - _ROUNDING).any())


def _is_rim(seen: _Sight, rows: npt.NDArray[np.intp], line: npt.NDArray[np.int64]) -> bool:
    """Whether what lies inside a border, at columns ``line`` (m,) of ``rows`` (m,), is no shadow."""
    sharp = float(np.median(seen.sharpness[rows, line])) > SHARP
    return sharp or _brighter(seen.brightness[rows], seen.offset_mm, seen.offset_mm[line]) > BRIGHTER


def _brighter(brightness: Image, offset_mm: FloatArray, border_mm: FloatArray) -> float:
    """By how much (log) it is brighter inside a border at ``border_mm`` (n,) than outside it, the median.

    The strip inside it is all that lies between it and the inner border, but for the blur of both.
    """
    means = [np.mean(brightness, axis=1, where=strip) for strip in _strips(offset_mm, border_mm)]
    return float(np.median(means[0] - means[1]))


def _strips(offset_mm: FloatArray, border_mm: FloatArray) -> tuple[Mask, Mask]:
    """What lies (n, k) inside a border at ``border_mm`` (n,), as far as to the inner one, and outside it."""
    apart = offset_mm[None, :] - border_mm[:, None]
    inside = (apart < -OFF_MM) & (offset_mm[None, :] > 1.0)
    return inside, (apart > OFF_MM) & (apart < OFF_MM + NARROWEST_MM)


def head_of(ring_mm: FloatArray) -> Mask:
    """Which points (n,) lie beyond the place where the head begins."""
    half_mm = np.abs(ring_mm[:, 0])
    wide = half_mm > HEAD_SHARE * half_mm.max()
    return np.asarray(ring_mm[:, 1] > ring_mm[wide, 1].min())


def begun_at_head(ring_mm: FloatArray) -> FloatArray:
    """What share (n,) of a rim's width there is at each point: none on the handle, all from the head on."""
    low_mm = float(ring_mm[head_of(ring_mm), 1].min())
    return np.asarray(np.clip((ring_mm[:, 1] - low_mm) / BLEND_MM + 1, 0, 1))
