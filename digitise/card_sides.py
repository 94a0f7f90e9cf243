"""Where a card's four sides lie, to a small part of a pixel, from a rough quadrilateral.

Profiles are read across each side in linear light, projected on the colour that tells card from table,
and each is compared with a blurred step by linear least squares (value, step, shift and a slope on
either side). The line through the shifts is fitted robustly; the corners are where the lines meet,
because the card's own corners are round.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt
from scipy.special import ndtr

from digitise.card_shape import CardShape
from digitise.tone import FloatArray, light_of

_STEP_PX = 0.5  # spacing of samples across a side
_ALONG_PX = 1.0  # spacing of profiles along a side
_SMOOTH_ALONG = 7  # profiles averaged together, so that pixel noise does not decide
_CORNER_CLEAR_MM = 1.2  # kept clear beside the round of a corner
_BRIGHTNESS = np.array([0.299, 0.587, 0.114])  # JPEG's own weights: free of chroma's error near grey
_BRIGHTNESS_SHARE = 0.2
_MIN_PROFILES = 12
_BLOCKS = 12
_SD_FLOOR_PX = 0.02  # what no averaging removes: sampling and tone curve


@dataclass(frozen=True, eq=False)
class CardSide:
    """One straight side, from ``start_px`` to ``end_px`` (its sharp corners), ``outward`` its unit normal.

    ``points_px`` (n, 2) are the edge points that the line kept, ``used_share`` how many of all profiles
    those are, ``residual_rms_px`` their scatter. ``offset_sd_px`` is the line's standard deviation at the
    side's middle, ``turn_sd_px`` what its turning adds at the ends; the two are independent.
    ``sigma_px`` is the blur seen on this side, ``step_light`` the step between card and table in light,
    ``contrast`` that step over the noise of one edge profile.
    """

    points_px: FloatArray
    start_px: FloatArray
    end_px: FloatArray
    outward: FloatArray
    offset_sd_px: float
    turn_sd_px: float
    residual_rms_px: float
    used_share: float
    sigma_px: float
    step_light: float
    contrast: float


@dataclass(frozen=True, eq=False)
class _Strip:
    """Profiles across a side: ``along_px`` (n,), ``across_px`` (m,), ``light`` (n, m, 3)."""

    along_px: FloatArray
    across_px: FloatArray
    light: FloatArray


@dataclass(frozen=True, eq=False)
class LightWindow:
    """Part of a picture in linear light, with its place in the picture."""

    light: npt.NDArray[np.float32]
    left_px: int
    top_px: int

    def read(self, points_px: FloatArray) -> FloatArray:
        """Light at points (..., 2), bilinear, shape (..., 3); the window's border is repeated outside."""
        flat = points_px.reshape(-1, points_px.shape[-2], 2).astype(np.float32)
        values = cv2.remap(
            self.light,
            flat[..., 0] - np.float32(self.left_px),
            flat[..., 1] - np.float32(self.top_px),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
        return np.asarray(values, float).reshape(*points_px.shape[:-1], 3)


def light_window(pixels_rgb: npt.NDArray[np.uint8], corners_px: FloatArray, margin_px: float) -> LightWindow:
    """The part of the picture round the corners, in linear light."""
    height, width = pixels_rgb.shape[:2]
    low = np.floor(corners_px.min(axis=0) - margin_px).astype(int)
    high = np.ceil(corners_px.max(axis=0) + margin_px).astype(int) + 1
    left, top = max(0, int(low[0])), max(0, int(low[1]))
    right, bottom = min(width, int(high[0])), min(height, int(high[1]))
    return LightWindow(light_of(pixels_rgb[top:bottom, left:right]), left, top)


@dataclass(frozen=True, eq=False)
class _Line:
    """A side's line while it is being fitted: sharp ends (2,) each and the outward normal."""

    start: FloatArray
    end: FloatArray
    outward: FloatArray

    @property
    def length(self) -> float:
        return math.hypot(*(self.end - self.start))

    @property
    def direction(self) -> FloatArray:
        return (self.end - self.start) / self.length

    def shifted(self, at_start: float, at_end: float) -> _Line:
        """The line with its ends moved outward; the normal follows."""
        start, end = self.start + at_start * self.outward, self.end + at_end * self.outward
        along = (end - start) / math.hypot(*(end - start))
        normal = np.array([along[1], -along[0]])
        return _Line(start, end, normal if normal @ self.outward > 0 else -normal)


def _strip(window: LightWindow, line: _Line, clear_px: float, half_px: float) -> _Strip:
    count = max(2, int((line.length - 2 * clear_px) / _ALONG_PX))
    along = np.linspace(clear_px, line.length - clear_px, count)
    reach = math.ceil(half_px / _STEP_PX)
    across = np.arange(-reach, reach + 1) * _STEP_PX
    points = line.start + along[:, None, None] * line.direction + across[None, :, None] * line.outward
    return _Strip(along, np.asarray(across, float), window.read(points))


def _running_mean(values: FloatArray, width: int) -> FloatArray:
    """Mean over ``width`` neighbours along the first axis, fewer at the ends."""
    size = min(width, len(values)) | 1
    return np.asarray(cv2.blur(values.reshape(len(values), -1), (1, size)), float).reshape(values.shape)


def _steps(strip: _Strip, sigma_px: float) -> tuple[FloatArray, FloatArray]:
    """Profiles as one number each, table 0 and card 1, (n, m), and the step in light (n,).

    Brightness alone is used where it tells card from table, for JPEG keeps colour at half resolution;
    the whole colour where brightness does not.
    """
    distance = np.abs(strip.across_px)
    plateau = (distance >= 1.3 * sigma_px) & (distance <= 4.0 * sigma_px + 1.0)
    inside = strip.light[:, plateau & (strip.across_px < 0)].mean(axis=1)
    outside = strip.light[:, plateau & (strip.across_px > 0)].mean(axis=1)
    difference = _running_mean(inside - outside, 4 * _SMOOTH_ALONG)
    brightness = difference @ _BRIGHTNESS
    told_by_brightness = np.abs(brightness) > _BRIGHTNESS_SHARE * np.linalg.norm(difference, axis=1)
    if told_by_brightness.mean() > 0.4:
        direction = brightness[:, None] * _BRIGHTNESS
        power = brightness**2
    else:
        direction, power = difference, np.sum(difference**2, axis=1)
    projected = np.einsum("nmc,nc->nm", strip.light - outside[:, None, :], direction)
    smooth_power = _running_mean(power, _SMOOTH_ALONG)
    smooth = _running_mean(projected, _SMOOTH_ALONG) / np.maximum(smooth_power, 1e-9)[:, None]
    return smooth, np.sqrt(smooth_power)


def _basis(across_px: FloatArray, sigma_px: float) -> FloatArray:
    """Columns (m, 5): table, step, step moved outward by 1 px, slopes on the card and on the table."""
    card = ndtr(-across_px / sigma_px)
    bell = np.exp(-0.5 * (across_px / sigma_px) ** 2) / (sigma_px * math.sqrt(2 * math.pi))
    return np.column_stack([np.ones_like(across_px), card, bell, across_px * card, across_px * (1 - card)])


def _shifts(
    strip: _Strip, sigma_px: float
) -> tuple[FloatArray, FloatArray, FloatArray, npt.NDArray[np.bool_]]:
    """Edge shift of each profile (n,), step in light (n,), mean profile (m,), which are usable (n,)."""
    profiles, step = _steps(strip, sigma_px)
    basis = _basis(strip.across_px, sigma_px)
    fitted = profiles @ np.linalg.pinv(basis).T
    height = fitted[:, 1]
    usable = (height > 0.35) & (height < 2.5)
    shift = np.where(usable, fitted[:, 2] / np.where(usable, height, 1.0), 0.0)
    limit = 1.5 * sigma_px
    usable &= np.abs(shift) < 2 * limit
    mean = profiles[usable].mean(axis=0) if usable.any() else profiles.mean(axis=0)
    return np.clip(shift, -limit, limit), step, mean, usable


def _robust_line(along: FloatArray, shift: FloatArray, base: FloatArray) -> tuple[float, float, FloatArray]:
    """Level and slope (about the middle) of shift over ``along``, Tukey's weights; and the weights (n,)."""
    centred = along - along.mean()
    weight = base.copy()
    level = slope = 0.0
    for _ in range(12):
        total = weight.sum()
        if total <= 0:
            return 0.0, 0.0, weight
        middle = (weight @ centred) / total
        level_here = (weight @ shift) / total
        spread = weight @ (centred - middle) ** 2
        slope = float((weight @ ((centred - middle) * shift)) / spread) if spread > 0 else 0.0
        level = float(level_here - slope * middle)
        residual = shift - level - slope * centred
        scale = max(0.03, 1.4826 * float(np.median(np.abs(residual[base > 0]))))
        weight = base * np.clip(1 - (residual / (4.685 * scale)) ** 2, 0, None) ** 2
    return level, slope, weight


def _blur_of(mean_profile: FloatArray, across_px: FloatArray, start_px: float) -> float:
    """Blur (sigma, px) whose step fits the mean profile best, between 0.4 times and 2.5 times the start."""
    trials = start_px * np.geomspace(0.4, 2.5, 25)
    misfit = []
    for trial in trials:
        basis = _basis(across_px, float(trial))
        misfit.append(float(np.sum((mean_profile - basis @ np.linalg.lstsq(basis, mean_profile)[0]) ** 2)))
    return float(trials[int(np.argmin(misfit))])


@dataclass(frozen=True, eq=False)
class _Fit:
    """What the last pass over a side left behind."""

    line: _Line
    along_px: FloatArray
    shift_px: FloatArray
    residual_px: FloatArray
    weight: FloatArray
    mean_profile: FloatArray
    across_px: FloatArray
    step: FloatArray
    noise: float


def _pass(window: LightWindow, line: _Line, clear_px: float, sigma_px: float) -> _Fit | None:
    """Read the side once with the given blur and move the line to where its edge is."""
    if line.length - 2 * clear_px < _MIN_PROFILES * _ALONG_PX:
        return None
    strip = _strip(window, line, clear_px, 3.5 * sigma_px + 1.5)
    shift, step, mean, usable = _shifts(strip, sigma_px)
    level, slope, weight = _robust_line(strip.along_px, shift, usable * step**2)
    if weight.sum() <= 0:
        return None
    half = line.length / 2
    residual = shift - level - slope * (strip.along_px - strip.along_px.mean())
    far = np.abs(strip.across_px) > 2.5 * sigma_px
    noise = float(np.median(np.std(strip.light[:, far] @ _BRIGHTNESS, axis=0)))
    moved = line.shifted(level - slope * half, level + slope * half)
    return _Fit(moved, strip.along_px, shift, residual, weight, mean, strip.across_px, step, noise)


def _line_sd(fit: _Fit) -> tuple[float, float]:
    """Sd of the line's level and of its turning at the ends, from block means: neighbours hang together."""
    used = fit.weight > 0
    blocks = [b for b in np.array_split(np.flatnonzero(used), _BLOCKS) if len(b)]
    means = np.array([np.average(fit.residual_px[b], weights=fit.weight[b]) for b in blocks])
    middles = np.array([fit.along_px[b].mean() for b in blocks])
    free = max(1, len(blocks) - 2)
    variance = float(np.sum(means**2)) / free
    spread = float(np.sum((middles - middles.mean()) ** 2))
    offset_sd = math.sqrt(variance / len(blocks) + _SD_FLOOR_PX**2)
    turn = variance / spread * (fit.line.length / 2) ** 2 if spread > 0 else 1.0
    return offset_sd, math.sqrt(turn + _SD_FLOOR_PX**2)


def _finished(fit: _Fit, own_sigma_px: float) -> CardSide:
    used = fit.weight > 0
    old_along = fit.along_px[used]
    # residuals are measured from the moved line, so a point is its foot on the line plus its residual
    feet = fit.line.start + old_along[:, None] * fit.line.direction
    points = feet + fit.residual_px[used, None] * fit.line.outward
    offset_sd, turn_sd = _line_sd(fit)
    step = float(np.median(fit.step))
    return CardSide(
        points_px=points,
        start_px=fit.line.start,
        end_px=fit.line.end,
        outward=fit.line.outward,
        offset_sd_px=offset_sd,
        turn_sd_px=turn_sd,
        residual_rms_px=float(np.sqrt(np.average(fit.residual_px[used] ** 2, weights=fit.weight[used]))),
        used_share=float(used.mean()),
        sigma_px=own_sigma_px,
        step_light=step,
        contrast=step / max(fit.noise, 1e-4),
    )


def _outlines(corners_px: FloatArray) -> list[_Line]:
    """The four sides of a quadrilateral (4, 2) as lines with normals away from its middle."""
    middle = corners_px.mean(axis=0)
    lines = []
    for start, end in zip(corners_px, np.roll(corners_px, -1, axis=0), strict=True):
        along = (end - start) / math.hypot(*(end - start))
        normal = np.array([along[1], -along[0]])
        if normal @ ((start + end) / 2 - middle) < 0:
            normal = -normal
        lines.append(_Line(start, end, normal))
    return lines


def crossings(lines: list[tuple[FloatArray, FloatArray]]) -> FloatArray:
    """Corners (4, 2): corner i is where side i-1 meets side i; each side is given by two points.

    Raises ValueError where neighbouring sides run parallel.
    """
    corners = []
    for index in range(len(lines)):
        (p, q), (r, s) = lines[index - 1], lines[index]
        d, e = q - p, s - r
        cross = d[0] * e[1] - d[1] * e[0]
        if abs(cross) < 1e-6 * math.hypot(*d) * math.hypot(*e):
            raise ValueError("neighbouring sides are parallel")
        along = ((r[0] - p[0]) * e[1] - (r[1] - p[1]) * e[0]) / cross
        corners.append(p + along * d)
    return np.array(corners)


def _closed(lines: list[_Line]) -> list[_Line] | None:
    """The same lines with their ends moved to where neighbours meet."""
    try:
        corners = crossings([(line.start, line.end) for line in lines])
    except ValueError:
        return None
    return [_Line(corners[i], corners[(i + 1) % 4], line.outward) for i, line in enumerate(lines)]


def measured_sides(
    window: LightWindow, corners_px: FloatArray, shape: CardShape, rough_px: float
) -> tuple[CardSide, ...] | None:
    """The four sides near a rough quadrilateral, in its own order, or None where no edge is found.

    ``corners_px`` (4, 2): 0 to 1 is a long side; ``rough_px`` is how far off it may be. Passes start with
    a step as blurred as the start is rough, so that the edge is caught, and end with the edge's own blur:
    of each two opposite sides the smaller, because a shadow or the card's wall only ever widens an edge.
    """
    lines: list[_Line] | None = _outlines(corners_px)
    sigma = [max(1.0, rough_px)] * 4
    own = list(sigma)
    fits: list[_Fit] = []
    for turn in range(6):
        if lines is None:
            return None
        px_per_mm = sum(line.length for line in lines) / (2 * (shape.long_mm + shape.short_mm))
        clear = (shape.corner_radius_mm + _CORNER_CLEAR_MM) * px_per_mm
        fits = []
        for line, blur in zip(lines, sigma, strict=True):
            fit = _pass(window, line, clear, blur)
            if fit is None:
                return None
            fits.append(fit)
        lines = _closed([fit.line for fit in fits])
        if turn in (1, 2, 3):
            own = [_blur_of(f.mean_profile, f.across_px, s) for f, s in zip(fits, sigma, strict=True)]
            sigma = [max(0.5, min(own[i], own[(i + 2) % 4])) for i in range(4)]
            sigma = [min(s, 0.08 * line.length) for s, line in zip(sigma, lines or [], strict=False)]
    if lines is None:
        return None
    closed = [
        _Fit(
            line,
            f.along_px,
            f.shift_px,
            f.residual_px,
            f.weight,
            f.mean_profile,
            f.across_px,
            f.step,
            f.noise,
        )
        for line, f in zip(lines, fits, strict=True)
    ]
    return tuple(_finished(fit, blur) for fit, blur in zip(closed, own, strict=True))


@dataclass(frozen=True, eq=False)
class FoundCard:
    """A card in a picture.

    ``corners_px`` (4, 2) are its sharp corners (the straight sides prolonged), 0 to 1 a long side, counter-
    clockwise as seen in the picture; ``corner_cov_px2`` (8, 8) their covariance, x0, y0, x1, ...
    ``sides`` i runs from corner i to i + 1. ``edge_sigma_px`` is the blur of its sharpest sides.
    ``confidence`` is 0 to 1; ``runners_up`` holds the corners of other places that also looked like a card.
    """

    corners_px: FloatArray
    corner_cov_px2: FloatArray
    sides: tuple[CardSide, ...]
    edge_sigma_px: float
    confidence: float
    runners_up: tuple[FloatArray, ...] = ()


def corner_covariance(sides: tuple[CardSide, ...]) -> FloatArray:
    """Covariance (8, 8) in px² of the corners, from the sides' level and turn, which are independent."""
    jacobian = np.zeros((8, 8))
    for index, side in enumerate(sides):
        for column, (at_start, at_end) in enumerate(
            [(side.offset_sd_px, side.offset_sd_px), (-side.turn_sd_px, side.turn_sd_px)]
        ):
            moved = [(s.start_px, s.end_px) for s in sides]
            moved[index] = (side.start_px + at_start * side.outward, side.end_px + at_end * side.outward)
            change = crossings(moved) - crossings([(s.start_px, s.end_px) for s in sides])
            jacobian[:, 2 * index + column] = change.ravel()
    return np.asarray(jacobian @ jacobian.T)
