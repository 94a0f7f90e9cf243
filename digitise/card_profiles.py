"""Edge shifts from profiles read across a side: each is compared with a blurred step by least squares.

A profile is fitted by a value, a step, that step moved by one pixel, and a slope on either side. Brightness
and colour are fitted apart, for a JPEG keeps colour at half resolution, and put together by their precision.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
import numpy.typing as npt

from digitise.card_light import LightWindow
from digitise.card_lines import SideLine, median
from digitise.tone import FloatArray

ALONG_PX = 1.0  # spacing of profiles along a side
_STEP_PX = 0.5  # spacing of samples across it
_SMOOTH_ALONG = 7  # profiles averaged together, so that pixel noise does not decide
_COLOUR_TRUST = 0.05  # of the precision of a shift seen in colour: its planes are coarse and shifted
_COLOUR_SPREAD_PX2 = 0.85  # variance that halving and restoring the colour planes adds


@dataclass(frozen=True, eq=False)
class Strip:
    """Profiles across a side: ``along_px`` (n,), ``across_px`` (m,) outward, ``values`` (n, m, 3)."""

    along_px: FloatArray
    across_px: FloatArray
    values: FloatArray


@dataclass(frozen=True, eq=False)
class Shifts:
    """How far outward each profile's edge lies, ``shift_px`` (n,), with its ``precision`` (n,) in px⁻².

    ``step`` (n,) is card minus table in light, ``mean_profile`` (m,) the average of brightness, table 0 and
    card 1, or of colour where that tells more; ``added_px2`` is the variance its blur has beyond the lens's.
    ``noise`` is that of one averaged profile, in light.
    """

    shift_px: FloatArray
    precision: FloatArray
    step: FloatArray
    mean_profile: FloatArray
    noise: float
    added_px2: float = 0.0


def strip(
    window: LightWindow, line: SideLine, clear_px: float, sigma_px: float, along_px: float = ALONG_PX
) -> Strip:
    """Profiles along the line but for ``clear_px`` at its ends; softer edges are read at wider spacing."""
    count = max(2, int((line.length - 2 * clear_px) / max(along_px, 0.5 * sigma_px)))
    along = np.linspace(clear_px, line.length - clear_px, count)
    step = max(_STEP_PX, 0.25 * sigma_px)
    reach = math.ceil((3.5 * sigma_px + 1.5) / step)
    across = np.asarray(np.arange(-reach, reach + 1) * step, float)
    points = line.start + along[:, None, None] * line.direction + across[None, :, None] * line.outward
    return Strip(along, across, window.read(points))


def edge_shifts(read: Strip, sigma_px: float) -> Shifts:
    """Shifts of all profiles for an edge blurred by ``sigma_px``."""
    planes = np.ascontiguousarray(np.moveaxis(read.values, 2, 0))
    light = _fitted(read.across_px, planes[:1], sigma_px, sigma_px)
    colour_sigma = math.sqrt(sigma_px**2 + _COLOUR_SPREAD_PX2)
    colour = _fitted(read.across_px, planes[1:], colour_sigma, sigma_px)
    trust = light.precision + _COLOUR_TRUST * colour.precision
    both = light.precision * light.shift_px + _COLOUR_TRUST * colour.precision * colour.shift_px
    shift = np.where(trust > 0, both / np.where(trust > 0, trust, 1.0), 0.0)
    by_light = float(light.precision.sum()) > _COLOUR_TRUST * float(colour.precision.sum())
    chosen, added = (light, 0.0) if by_light else (colour, _COLOUR_SPREAD_PX2)
    return Shifts(shift, trust, light.step, chosen.mean_profile, light.noise, added)


_TAIL_STEP, _TAIL_END = 1 / 128, 6.0  # of the table, in sds; between its places it is right to 1e-5
_TAIL_PLACES = np.arange(-_TAIL_END, _TAIL_END + _TAIL_STEP, _TAIL_STEP)
_TAIL = np.array([math.erfc(place / math.sqrt(2)) / 2 for place in _TAIL_PLACES.tolist()])


def basis(across_px: FloatArray, sigma_px: float | FloatArray) -> FloatArray:
    """Columns (..., m, 5): table, step, step moved outward by 1 px, slopes on the card and on the table.

    One set of them for each of the blurs ``sigma_px`` (...).
    """
    sigma = np.asarray(sigma_px, float)[..., None]
    reduced = across_px / sigma
    card = np.interp(reduced, _TAIL_PLACES, _TAIL)  # the normal law's upper tail
    bell = np.exp(-0.5 * reduced**2) / (sigma * math.sqrt(2 * math.pi))
    out = np.empty((*reduced.shape, 5))
    out[..., 0], out[..., 1], out[..., 2] = 1.0, card, bell
    out[..., 3], out[..., 4] = across_px * card, across_px * (1 - card)
    return out


# all sides of a card are read in much the same way, again and again
@lru_cache(maxsize=32)
def _model(across_px: bytes, sigma_px: float) -> tuple[FloatArray, FloatArray]:
    """``basis`` (m, 5) at the places in these bytes, and its pseudo-inverse (5, m)."""
    columns = basis(np.frombuffer(across_px), sigma_px)
    return columns, np.asarray(np.linalg.pinv(columns), float)


@lru_cache(maxsize=32)
def _trials(across_px: bytes, start_px: float) -> tuple[FloatArray, FloatArray]:
    """Blurs (25,) about a start, and orthonormal columns (25, m, 5) of each one's basis."""
    blurs = start_px * np.geomspace(0.4, 2.5, 25)
    return blurs, np.asarray(np.linalg.qr(basis(np.frombuffer(across_px), blurs))[0], float)


def blur_of(shifts: Shifts, across_px: FloatArray, start_px: float) -> float:
    """Blur (sigma, px) whose step fits the mean profile best, between 0.4 times and 2.5 times the start."""
    # what orthonormal columns leave of the profile is the misfit
    trials, columns = _trials(across_px.tobytes(), math.sqrt(start_px**2 + shifts.added_px2))
    fitted = np.einsum("tmc,tc->tm", columns, np.einsum("tmc,m->tc", columns, shifts.mean_profile))
    misfit = np.sum((shifts.mean_profile - fitted) ** 2, axis=1)
    found = float(trials[int(np.argmin(misfit))])
    return math.sqrt(max(found**2 - shifts.added_px2, (0.4 * start_px) ** 2))


def _running_mean(values: FloatArray, width: int) -> FloatArray:
    """Mean over ``width`` neighbours along the first axis, fewer at the ends."""
    size = min(width, len(values)) | 1
    return np.asarray(cv2.blur(values.reshape(len(values), -1), (1, size)), float).reshape(values.shape)


def _steps(planes: FloatArray, across_px: FloatArray, sigma_px: float) -> tuple[FloatArray, FloatArray]:
    """Profiles (n, m) along the difference of card and table, table 0 and card 1; that difference (n, c)."""
    distance = np.abs(across_px)
    plateau = (distance >= 1.3 * sigma_px) & (distance <= 4.0 * sigma_px + 1.0)
    inside, outside = (
        planes @ (on_it / np.count_nonzero(on_it))
        for on_it in (plateau & (across_px < 0), plateau & (across_px > 0))
    )
    difference = _running_mean((inside - outside).T, 4 * _SMOOTH_ALONG)
    projected = np.einsum("cnm,nc->nm", planes - outside[..., None], difference)
    power = np.maximum(_running_mean(np.sum(difference**2, axis=1), _SMOOTH_ALONG), 1e-9)
    return _running_mean(projected, _SMOOTH_ALONG) / power[:, None], difference


def _fitted(across_px: FloatArray, planes: FloatArray, sigma_px: float, light_sigma_px: float) -> Shifts:
    """Shifts from one or two channels (c, n, m) alone."""
    profiles, difference = _steps(planes, across_px, light_sigma_px)
    columns, inverse = _model(across_px.tobytes(), sigma_px)
    fitted = profiles @ inverse.T
    height = fitted[:, 1]
    size = np.sqrt(np.sum(difference**2, axis=1))
    left = profiles - fitted @ columns.T
    noise = max(float(median(size * np.sqrt(np.einsum("nm,nm->n", left, left) / len(across_px)))), 1e-4)
    limit = 1.5 * sigma_px
    usable = (height > 0.35) & (height < 2.5)
    shift = np.where(usable, fitted[:, 2] / np.where(usable, height, 1.0), 0.0)
    usable &= np.abs(shift) < 2 * limit
    sd = noise * float(np.linalg.norm(inverse[2])) / np.maximum(size * np.abs(height), 1e-9)
    precision = np.where(usable, 1 / np.maximum(sd, 1e-3) ** 2, 0.0)
    mean = _mean_profile(profiles, usable, size)
    step = difference[:, 0] if len(planes) == 1 else size
    return Shifts(np.clip(shift, -limit, limit), precision, step, mean, noise)


def _mean_profile(profiles: FloatArray, usable: npt.NDArray[np.bool_], size: FloatArray) -> FloatArray:
    weight = size**2 * usable
    total = float(weight.sum())
    return np.asarray(weight @ profiles / total if total > 0 else profiles.mean(axis=0))
