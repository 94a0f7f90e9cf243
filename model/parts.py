"""A racquet's parts per gram of each: everything a scale or stopwatch sees is linear in their masses.

Each part has unit means (x, y, xx, yy, zz) over its mass, mm and mm²; about an axis parallel
to x at y = a in the face's middle plane a gram then has the inertia yy - 2 a y + a² + zz
(swing), about the long axis xx + zz (twist), about the face's normal xx + yy (spin).
What is not known about the unit means is a list of modes: changes of the whole table, one sd
each, independent of one another.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from model.air import NO_AIR, Air, air_of
from model.face import Landmarks, check_landmarks, with_hoop
from model.inside import uneven_modes
from model.measured import Measured
from model.moments import NOTHING, Moments, geometry_moments
from model.outline import Outline
from model.priors import Construction, PartPrior, Prior
from model.regions import hoop_on_rod, region

Array = NDArray[np.float64]

X, Y, XX, YY, ZZ = range(5)  # columns of the table of unit means
ALONG, ACROSS = "scale along", "scale across"  # modes of the outline's size; see OutlineSize
HANDLE_TOP = "handle top"  # the mode of where the handle ends


@dataclass(frozen=True)
class Size:
    """What the person or the photo says about size: thicknesses, and the photo's relative scale sds."""

    face_thickness_mm: Measured
    handle_thickness_mm: Measured
    along_relative_sd: float = 0.0
    across_relative_sd: float = 0.0
    size_correlation: float = 0.0


@dataclass(frozen=True)
class OutlineSize:
    """The outline's length and width, mm, their relative sds and how far these go together.

    One unit of the mode along changes the length by its sd and the width by ``correlation`` of its; one of
    the mode across changes the width alone, by what is left of its sd.
    """

    length_mm: float
    width_mm: float
    along_relative_sd: float
    across_relative_sd: float
    correlation: float = 0.0
    air: Air = NO_AIR

    def changes(self) -> Array:
        """Relative change (2, 2) of length and width (rows) by one unit of the modes along and across."""
        own = np.sqrt(1 - self.correlation**2)
        along, across = self.along_relative_sd, self.across_relative_sd
        return np.array([[along, 0.0], [across * self.correlation, across * own]])


@dataclass(frozen=True, eq=False)
class Parts:
    """The parts of one racquet.

    ``unit`` (n, 5) holds the unit means, ``modes`` (k, n, 5) their one-sd changes,
    ``log_mass`` (n,) and ``log_mass_cov`` (n, n) the prior of the logarithm of grams; ``log_extent``
    (n,) is the logarithm of what a part's density is multiplied by. ``counts`` (n,) is false for what was on
    the racquet when it was measured but is none of it; the first ``own`` parts are the construction's.
    ``fitted`` names parts that were on it for the readings of one set of pieces only, and which set.
    """

    names: tuple[str, ...]
    unit: Array
    modes: Array
    log_mass: Array
    log_mass_cov: Array
    log_extent: Array
    mode_names: tuple[str, ...]
    outline: OutlineSize
    counts: tuple[bool, ...]
    own: int
    prior_mean: Array | None = None
    prior_cov: Array | None = None
    fitted: Mapping[str, int] = field(default_factory=dict)

    def on(self, pieces: int) -> Array:
        """1 for each part (n,) on the racquet with a set of pieces (0: bare), else 0."""
        return np.array([1.0 if self.fitted.get(name, pieces) == pieces else 0.0 for name in self.names])

    def prior(self) -> tuple[Array, Array]:
        """Mean (n + k,) and covariance of log masses and modes before any reading.

        The modes' are 0 and 1, unless another racquet of the model has been measured (see ``like``).
        """
        if self.prior_mean is not None and self.prior_cov is not None:
            return self.prior_mean, self.prior_cov
        n, k = len(self.names), len(self.modes)
        cov = np.eye(n + k)
        cov[:n, :n] = self.log_mass_cov
        return np.concatenate([self.log_mass, np.zeros(k)]), cov


def parts_of(outline: Outline, landmarks: Landmarks, prior: Prior, size: Size) -> Parts:
    """Lay a construction's parts into an outline. Raises OutlineError if a part finds no room."""
    check_landmarks(outline, landmarks)
    if prior.construction is Construction.STRUNG:
        landmarks = with_hoop(outline, landmarks)
    light = prior.on_rod and hoop_on_rod(outline, landmarks)
    chosen = prior.on_rod if light else prior.parts
    laid = [_Laid(p, *_shape(outline, landmarks, p)) for p in chosen]
    laid = [one for one in laid if one.moments.size > 0]
    kept = tuple(one.part for one in laid)
    unit = _unit_table(kept, [one.moments for one in laid], size)
    modes = {
        **_uneven(laid),
        **_stack(kept, unit),
        **_thickness(kept, unit, size),
        **_scale(unit, size),
        **_handle_top(outline, landmarks, kept, unit, size),
        **_depth(outline, landmarks, kept, unit, size),
    }
    log_extent = np.log([_extent(one) for one in laid])
    return Parts(
        names=tuple(p.name for p in kept),
        unit=unit,
        modes=np.array(list(modes.values())),
        log_mass=np.log([p.density for p in kept]) + log_extent,
        log_mass_cov=np.diag([p.log_sd**2 for p in kept]) + prior.common_log_sd**2,
        log_extent=log_extent,
        mode_names=tuple(modes),
        outline=OutlineSize(
            outline.length_mm,
            outline.width_mm,
            size.along_relative_sd,
            size.across_relative_sd,
            size.size_correlation,
            air_of(landmarks.face_bottom_mm, _tip(outline), outline.width_mm, prior.air_share),
        ),
        counts=(True,) * len(kept),
        own=len(kept),
    )


@dataclass(frozen=True)
class _Laid:
    part: PartPrior
    shape: BaseGeometry
    moments: Moments


def _tip(outline: Outline) -> float:
    return float(outline.outer_mm[:, 1].max())


def _shape(outline: Outline, landmarks: Landmarks, part: PartPrior) -> tuple[BaseGeometry, Moments]:
    shape = region(outline, landmarks, part.shape, part.depth_mm.value)
    return shape, geometry_moments(shape)


def _extent(one: _Laid) -> float:
    return 1.0 if one.part.shape == "butt" else one.moments.size


def _is_handle(part: PartPrior) -> bool:
    return part.shape in ("handle", "butt")


def _unit_table(parts: tuple[PartPrior, ...], moments: list[Moments], size: Size) -> Array:
    return np.array([_unit_row(p, m, size) for p, m in zip(parts, moments, strict=True)])


def _unit_row(part: PartPrior, moments: Moments, size: Size) -> list[float]:
    thickness = size.handle_thickness_mm if _is_handle(part) else size.face_thickness_mm
    zz = part.stack.value * thickness.value**2 / 12
    m = moments
    if m.size == 0:
        m = replace(NOTHING, size=1.0)
    return [m.x / m.size, m.y / m.size, m.xx / m.size, m.yy / m.size, zz]


Modes = dict[str, Array]  # a name, so that two racquets' modes can be matched, and the change (n, 5)


def _uneven(laid: list[_Laid]) -> Modes:
    modes = {}
    for i, one in enumerate(laid):
        if one.part.uneven:
            for k, change in enumerate(uneven_modes(one.shape, one.part.uneven, one.part.reach_mm)):
                mode = np.zeros((len(laid), 5))
                mode[i, [Y, XX, YY]] = change
                modes[f"uneven {k + 1} of {one.part.name}"] = mode
    return modes


def _stack(parts: tuple[PartPrior, ...], unit: Array) -> Modes:
    modes = {}
    for i, part in enumerate(parts):
        if part.stack.value > 0 and part.stack.sd > 0:
            mode = np.zeros_like(unit)
            mode[i, ZZ] = unit[i, ZZ] * part.stack.sd / part.stack.value
            modes[f"stack of {part.name}"] = mode
    return modes


def _thickness(parts: tuple[PartPrior, ...], unit: Array, size: Size) -> Modes:
    handle = np.array([_is_handle(p) for p in parts])
    modes = {}
    for name, chosen, thickness in (
        ("face thickness", ~handle, size.face_thickness_mm),
        ("handle thickness", handle, size.handle_thickness_mm),
    ):
        mode = np.zeros_like(unit)
        mode[chosen, ZZ] = unit[chosen, ZZ] * 2 * thickness.sd / thickness.value
        modes[name] = mode
    return modes


def _scale(unit: Array, size: Size) -> Modes:
    along, across = np.zeros_like(unit), np.zeros_like(unit)
    along[:, Y], along[:, YY] = unit[:, Y], 2 * unit[:, YY]
    across[:, X], across[:, XX] = unit[:, X], 2 * unit[:, XX]
    by = OutlineSize(
        1.0, 1.0, size.along_relative_sd, size.across_relative_sd, size.size_correlation
    ).changes()
    return {ALONG: along * by[0, 0] + across * by[1, 0], ACROSS: across * by[1, 1]}


def _handle_top(
    outline: Outline, landmarks: Landmarks, parts: tuple[PartPrior, ...], unit: Array, size: Size
) -> Modes:
    """The handle top a little higher or lower moves the border between handle and face."""
    sd = landmarks.handle_top_sd_mm
    if sd == 0:
        return {}
    throat = landmarks.throat_top_mm
    high = landmarks.handle_top_mm + sd
    moved = replace(landmarks, handle_top_mm=high, throat_top_mm=throat and max(throat, high))
    moments = [_shape(outline, moved, p)[1] for p in parts]
    return {HANDLE_TOP: _unit_table(parts, moments, size) - unit}


def _depth(
    outline: Outline, landmarks: Landmarks, parts: tuple[PartPrior, ...], unit: Array, size: Size
) -> Modes:
    modes = {}
    for i, part in enumerate(parts):
        if part.depth_mm.sd > 0:
            deeper = region(outline, landmarks, part.shape, part.depth_mm.value + part.depth_mm.sd)
            mode = np.zeros_like(unit)
            mode[i] = np.array(_unit_row(part, geometry_moments(deeper), size)) - unit[i]
            modes[f"depth of {part.name}"] = mode
    return modes
