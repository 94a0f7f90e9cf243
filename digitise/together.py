"""Several photos of one racquet: their outlines laid on each other, made to agree, and averaged.

The outlines must be alike, which tells what each camera left open (``agreed``); what they can't tell, the
scale that all cards have in common and most of how rim and butt are rounded, is carried as it is. How far the
photos differ is a check on the sds that each of them claims.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
import numpy.typing as npt
import shapely
from scipy.special import gammaincc

from digitise.agreed import Agreed, Sight, agreed, agreed_body, agreed_camera, slopes
from digitise.band import ring_normals
from digitise.contour import Contour, from_butt
from digitise.doubt import doubtful_stretches
from digitise.landmarks import half_widths, handle_marks
from digitise.recast import relaid
from digitise.spread import EDGE_SD_MM, OutlineSpread, spread_of
from digitise.tone import FloatArray
from digitise.trace import Traced
from model.errors import ModelError

SAME_RACQUET_MM = 4.0
"""Outlines this far apart on the whole, root mean square, are of different racquets, or one is wrong."""
UNLIKELY = 0.01
"""Photos whose sizes differ as much as this seldom happens make their sds grow to what they show."""
_ROUNDS = 8
_ALONG = 0.98  # cosine of 11 degrees: more apart than this, two outlines are not at the same place
_FAINTEST = 0.05  # even where its edge is faint, a photo counts this much of one with a clear edge


@dataclass(frozen=True, eq=False)
class Together:
    """The racquet by all photos: ``traced`` is seen in photo number ``best``, the surest by itself.

    ``chance`` is how often sizes of photos with the claimed sds would differ as much or more.
    """

    traced: Traced
    best: int
    chance: float


@dataclass(frozen=True, eq=False)
class _Laid:
    """One outline laid on the best one: how far outside it lies (n,), its nearest points there (n,), its edge
    there, and where it was drawn without one."""

    out_mm: FloatArray
    nearest: npt.NDArray[np.intp]
    strength: FloatArray
    apart_mm: FloatArray
    borrowed: npt.NDArray[np.bool_]
    drawn: npt.NDArray[np.bool_]


def combined(all_traced: Sequence[Traced], names: Sequence[str]) -> Together:
    """One outline from several; ``names`` are the photos' for messages.

    Raises ModelError where two outlines are not of the same racquet.
    """
    own = [t.spread for t in all_traced]
    best = min(range(len(own)), key=lambda k: _relative_variance(own[k]))
    ring = all_traced[best].contour.ring_mm
    laid = [_laid(traced, ring) for traced in all_traced]
    for name, one in zip(names, laid, strict=True):
        off = float(np.sqrt(np.mean(one.out_mm**2)))
        if off > SAME_RACQUET_MM:
            raise ModelError(
                f"the outlines in {names[best]} and {name} lie {off:.1f} mm apart on the whole: give photos "
                "of one racquet, and look at the picture that each of them gives by itself"
            )
    sights = [_sight(traced, one, ring) for traced, one in zip(all_traced, laid, strict=True)]
    fit = agreed(sights, ring, best)
    edges = [_edge_mm2(spread, sight) for spread, sight in zip(own, sights, strict=True)]
    share = np.array([1 / float(np.trace(edge)) for edge in edges])
    share /= share.sum()
    first = _agreed_best(all_traced[best], sights[best], fit, best)
    moved = [replace(one, out_mm=out) for one, out in zip(laid, fit.out_mm, strict=True)]
    contour = _averaged(first, moved, share)
    size = np.ptp(contour.ring_mm, axis=0)
    chance, grown = agreement(own)
    left = sum((s**2 * edge for s, edge in zip(share, edges, strict=True)), np.zeros((2, 2)))
    spread = spread_of(
        float(size[1]),
        float(size[0]),
        grown * (fit.size_covariance(sights, share) + left),
        np.zeros((0, 2)),
    )
    reference = replace(first.reference, notes=(*first.reference.notes, _words(own, names, chance)))
    traced = replace(
        first,
        reference=reference,
        contour=contour,
        spread=spread,
        doubts=doubtful_stretches(contour, None, first.marks.top_mm, None, _unsuited(first, contour)),
    )
    return Together(traced, best, chance)


def _unsuited(first: Traced, contour: Contour) -> npt.NDArray[np.bool_] | None:
    """Where (n,) the common outline is that of a grip which cannot be as thick as was said."""
    if first.thickness is None:
        return None
    return first.thickness.unsuited(contour, handle_marks(*half_widths(contour.ring_mm)))


def _sight(traced: Traced, laid: _Laid, onto_mm: FloatArray) -> Sight:
    """What a photo says of the common ring (n, 2); nothing where the two do not run the same way, as at
    corners, where what moves one outward moves the other along itself."""
    by_camera, by_body, grown, changed = slopes(traced.estimate, traced.contour, traced.body, traced.others)
    normal, place = ring_normals(onto_mm), laid.nearest
    along = np.sum(normal * ring_normals(traced.contour.ring_mm)[place], axis=1)
    weight = np.maximum(laid.strength * ~laid.borrowed, _FAINTEST) * (along > _ALONG)
    outward = [np.einsum("pij,ij->ip", moves[:, place], normal) for moves in (by_camera, by_body)]
    return Sight(traced.estimate, laid.out_mm, weight, outward[0], outward[1], grown, changed)


def _edge_mm2(spread: OutlineSpread, sight: Sight) -> FloatArray:
    """Variance (2, 2) of length and width in one photo from the found edge and its doubts: what the camera
    leaves of its own covariance."""
    sds = sight.sds
    relative = sight.estimate.covariance / np.outer(sds, sds)
    by_camera = sight.size_by_camera.T @ relative @ sight.size_by_camera
    return np.diag(np.maximum(np.diag(spread.own_mm2 - by_camera), 2 * EDGE_SD_MM**2))


def _agreed_best(traced: Traced, sight: Sight, fit: Agreed, best: int) -> Traced:
    """The best photo's camera and body as all photos together tell them."""
    count = len(sight.sds)
    here = slice(best * count, (best + 1) * count)
    body = agreed_body(traced.body, traced.others, fit.body_steps)
    resting = relaid(traced.contour.resting, traced.body, body)
    return replace(
        traced,
        estimate=agreed_camera(sight, fit.camera_steps[best], fit.covariance[here, here]),
        body=body,
        contour=replace(traced.contour, resting=resting),
    )


class Taken(Protocol):
    """A photo, or what was seen in one."""

    @property
    def file_name(self) -> str: ...

    @property
    def sha256(self) -> str: ...


def check_different(photos: Sequence[Taken]) -> None:
    """Raise ModelError where the last photo is one of the others again: it would count twice."""
    for earlier in photos[:-1]:
        if earlier.sha256 == photos[-1].sha256:
            raise ModelError(
                f"{photos[-1].file_name} is the same photo as {earlier.file_name}: give each photo once, "
                "taken anew from a slightly different place"
            )


def _relative_variance(spread: OutlineSpread) -> float:
    """Of length and width together, from what differs between photos."""
    return float(spread.own_mm2[0, 0] / spread.length_mm**2 + spread.own_mm2[1, 1] / spread.width_mm**2)


def _laid(traced: Traced, onto_mm: FloatArray) -> _Laid:
    """An outline turned and shifted to lie best on another (n, 2), and read at its points."""
    contour = traced.contour
    normal = ring_normals(onto_mm)
    terms = np.column_stack([normal, onto_mm[:, 0] * normal[:, 1] - onto_mm[:, 1] * normal[:, 0]])
    ring = contour.ring_mm
    for _ in range(_ROUNDS):
        out = _outside(ring, onto_mm, normal)
        weight = 1 / (1 + (out / max(1.5 * float(np.median(np.abs(out))), 0.05)) ** 2)
        shift_x, shift_y, turn = np.linalg.lstsq(terms * weight[:, None], out * weight, rcond=None)[0]
        cos, sin = np.cos(turn), np.sin(turn)
        ring = (ring - [shift_x, shift_y]) @ np.array([[cos, -sin], [sin, cos]])
    tree = shapely.STRtree(shapely.points(ring))
    nearest = tree.nearest(shapely.points(onto_mm))
    return _Laid(
        _outside(ring, onto_mm, normal),
        nearest,
        contour.strength[nearest],
        contour.apart_mm[nearest],
        contour.borrowed[nearest],
        np.zeros(len(onto_mm), bool) if contour.drawn is None else contour.drawn[nearest],
    )


def _outside(ring_mm: FloatArray, at_mm: FloatArray, normal: FloatArray) -> FloatArray:
    """How far outward of places (n, 2) a ring lies, (n,): the nearest point's distance along the normal."""
    line = shapely.LinearRing(ring_mm)
    places = shapely.points(at_mm)
    along = shapely.line_locate_point(line, places)
    nearest = shapely.get_coordinates(shapely.line_interpolate_point(line, along))
    return np.asarray(np.sum((nearest - at_mm) * normal, axis=1))


def _averaged(best: Traced, laid: Sequence[_Laid], share: FloatArray) -> Contour:
    """The best contour moved to the weighted mean; each place is as sure as its surest photo."""
    contour = best.contour
    weight = share[:, None] * np.maximum([one.strength * ~one.borrowed for one in laid], _FAINTEST)
    out_mm = np.sum(weight * [one.out_mm for one in laid], axis=0) / weight.sum(axis=0)
    apart = np.array([one.apart_mm for one in laid])
    least = np.argmin(np.abs(apart), axis=0)
    moved = replace(
        contour,
        ring_mm=contour.ring_mm + out_mm[:, None] * ring_normals(contour.ring_mm),
        strength=np.max([one.strength for one in laid], axis=0),
        apart_mm=apart[least, np.arange(apart.shape[1])],
        borrowed=np.all([one.borrowed for one in laid], axis=0),
        drawn=np.all([one.drawn for one in laid], axis=0),
    )
    return from_butt(moved)


def agreement(own: Sequence[OutlineSpread]) -> tuple[float, float]:
    """Chance of sizes as different as these, and what to multiply variances by: 1 unless that is slim.

    The sum of squared deviations from the weighted mean follows the chi-square law; where it is too large,
    the variances grow by chi-square over its degrees of freedom (Birge 1932).
    """
    sizes = np.array([[one.length_mm, one.width_mm] for one in own])
    weights = np.array([np.linalg.inv(one.own_mm2) for one in own])
    mean = np.linalg.solve(weights.sum(axis=0), np.einsum("kij,kj->i", weights, sizes))
    off = sizes - mean
    chi_square = float(np.einsum("ki,kij,kj->", off, weights, off))
    freedom = 2 * (len(own) - 1)
    chance = float(gammaincc(freedom / 2, chi_square / 2))
    return chance, chi_square / freedom if chance < UNLIKELY else 1.0


def _words(own: Sequence[OutlineSpread], names: Sequence[str], chance: float) -> str:
    """What the photos say one by one, and whether that is as alike as they claim."""
    lengths = np.array([one.length_mm for one in own])
    claimed = float(np.sqrt(np.mean([one.own_mm2[0, 0] for one in own])))
    each = ", ".join(
        f"{name} {one.length_mm:.1f} × {one.width_mm:.1f}" for name, one in zip(names, own, strict=True)
    )
    verdict = (
        "more than they should, so the sds were raised to what they show"
        if chance < UNLIKELY
        else "as alike as they should be"
    )
    return (
        f"{len(own)} photos were combined ({each} mm): their lengths spread by {lengths.std(ddof=1):.1f} mm "
        f"where {claimed:.1f} mm is claimed, {verdict}"
    )
