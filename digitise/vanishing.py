"""Directions on the table, from lines that run side by side on it and meet in the photo far away.

Joints of a floor, a mat's grid, the sides of a sheet are parallel as they are made. Where three or more lines
of the photo meet in one point, its ray lies in the table's plane: that tells how the camera leaned (Caprile
and Torre 1990), and over the whole picture, better than the card's short sides do.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from digitise.lens_prior import LensPrior, Vanishing
from digitise.tone import FloatArray

FAMILY_DEG, LEAST_LINES = 8.0, 3
"""Lines that belong together are turned against the next by less than this; so many tell a point."""
PARALLEL_RAD = 1e-3
"""How far from parallel a table's lines may be as they are made: 1 mm of a metre."""
_STUDENT, _ROUNDS = 3.0, 20


def vanishing_points(lines_px: FloatArray, turn_sd: FloatArray, prior: LensPrior) -> tuple[Vanishing, ...]:
    """The points that families of straight lines (n, 4) of a picture meet in; how they are turned is known to
    ``turn_sd`` (n,), in rad."""
    rays = (lines_px.reshape(-1, 2, 2) - np.array(prior.centre_px)) / prior.focal_px
    families = [family for family in _families(rays) if len(family) >= LEAST_LINES]
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
