"""Directions on the table, from lines that run side by side on it and meet in the photo far away.

Joints of a floor, a mat's grid, the sides of a sheet are parallel as they are made. Where four or more lines
of the photo meet in one point, its ray lies in the table's plane: that tells how the camera leaned (Caprile
and Torre 1990), and over the whole picture, better than the card's short sides do. Lines on the racquet
itself, a handle's sides or a face's stripes, lie in no such plane: what is as close together is left out.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from digitise.lens_prior import LensPrior, Vanishing
from digitise.tone import FloatArray

FAMILY_DEG, LEAST_LINES = 8.0, 4
"""Lines that belong together are turned against the next by less than this; so many tell a point and
how well it is known: three of a board's grain met 4.5 degrees off the table, to 0.3 as it seemed."""
STRAY, STRAY_RAD = 3.0, 1.5e-4
"""A line whose turning is known so many times worse than its family's, and worse than this, runs from one
line of a grid to the next: by these 11 of 520 mats' directions were off by 0.3 degrees and more."""
RACQUET_WIDE, RACQUET_LONG = 0.2, 0.52
"""Of the picture's diagonal, how far apart lines on a racquet lie at most, and how far they reach: of 2,000
photos 0.15 and 0.49. Lines of tables that lay as close together reached over 0.57 or more."""
PARALLEL_RAD = 1e-3
"""How far from parallel a table's lines may be as they are made: 1 mm of a metre."""
_STUDENT, _ROUNDS = 3.0, 20


def vanishing_points(lines_px: FloatArray, turn_sd: FloatArray, prior: LensPrior) -> tuple[Vanishing, ...]:
    """The points that families of straight lines (n, 4) of a picture meet in; how they are turned is known to
    ``turn_sd`` (n,), in rad."""
    rays = (lines_px.reshape(-1, 2, 2) - np.array(prior.centre_px)) / prior.focal_px
    diagonal = 2 * math.hypot(*prior.centre_px) / prior.focal_px
    families = [_without_strays(family, turn_sd) for family in _families(rays)]
    families = [family for family in families if len(family) >= LEAST_LINES]
    families = [family for family in families if not _like_a_racquets(rays[family] / diagonal)]
    return tuple(_meeting(rays[family], turn_sd[family] ** 2) for family in families)


def _families(rays: FloatArray) -> list[npt.NDArray[np.intp]]:
    """Numbers of the lines (n, 2, 2) that run in about one direction, for each such direction."""
    along = rays[:, 1] - rays[:, 0]
    turn = np.degrees(np.arctan2(along[:, 1], along[:, 0])) % 180
    order = np.argsort(turn, kind="stable")
    gaps = np.diff(np.append(turn[order], turn[order[0]] + 180))
    last = np.flatnonzero(gaps > FAMILY_DEG)
    if len(last) == 0:
        return [order]
    order = np.roll(order, -(last[0] + 1))  # so that none goes over the end
    return np.split(order, (last[1:] - last[0]).tolist())


def _without_strays(family: npt.NDArray[np.intp], turn_sd: FloatArray) -> npt.NDArray[np.intp]:
    """The family without the lines whose turning is known far worse than the others'."""
    own = turn_sd[family]
    return family[own <= max(STRAY * float(np.median(own)), STRAY_RAD)]


def _like_a_racquets(lines: FloatArray) -> bool:
    """Whether lines (n, 2, 2) that run in about one direction, in diagonals of the picture, lie as close
    together as those on a racquet."""
    along = lines[:, 1] - lines[:, 0]
    # doubled angles: which end of a line comes first is free
    turn = np.angle(np.sum((along[:, 0] + 1j * along[:, 1]) ** 2)) / 2
    way = np.array([np.cos(turn), np.sin(turn)])
    reach = np.ptp(lines.reshape(-1, 2) @ way)
    apart = np.ptp(lines.mean(axis=1) @ np.array([-way[1], way[0]]))
    return bool(apart < RACQUET_WIDE and reach < RACQUET_LONG)


def _meeting(rays: FloatArray, turn_var: FloatArray) -> Vanishing:
    """Where lines (n, 2, 2), turned with variances (n,), meet: the ray in all their planes, and how well it
    tells the table's tilt."""
    seen = np.concatenate([rays, np.ones((*rays.shape[:2], 1))], axis=2)
    plane = np.cross(seen[:, 0], seen[:, 1])
    plane /= np.linalg.norm(plane[:, :2], axis=1, keepdims=True)
    made = turn_var + PARALLEL_RAD**2
    sure = made.min() / made
    weight = sure
    for _ in range(_ROUNDS):
        values, vectors = np.linalg.eigh((plane * weight[:, None]).T @ plane)
        off2 = sure * (plane @ vectors[:, 0]) ** 2
        scatter2 = made.min() + weight @ off2 / max(float(weight.sum()) - 2, 1)
        weight = sure * (_STUDENT + 1) / (_STUDENT + off2 / scatter2)
    # off the ray along the two other directions; the table's normal is nearly the camera's own axis
    sd = float(np.sqrt(scatter2 * np.sum(vectors[2, 1:] ** 2 / np.maximum(values[1:], 1e-12))))
    return Vanishing(vectors[:, 0], sd)
