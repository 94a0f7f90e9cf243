"""How long it takes to fit the smooth curve to a ring, and how many points the curve has.

usage: python -m tests.benchmarks.spline_speed [SD_MM]

Rings: the outlines of one invented racquet of each construction, a point each mm, with noise of half an sd
(0.1 mm if left out) averaged over 5 mm as a traced edge has it; and a round hole of 48 points. Printed for
each: the ring's points, milliseconds of the processor (the best of five), the curve's points, and how far the
ring is from the curve, in sds: root mean square and at most.
"""

from __future__ import annotations

import sys
import time

import numpy as np
import numpy.typing as npt
from scipy.ndimage import gaussian_filter1d

from model.spline_fit import fit_curve, ring_distances_mm
from tests.benchmarks.invented import invent

REPEATS, HOLE_RADIUS_MM, ALIKE_MM = 5, 5.0, 5.0
FloatArray = npt.NDArray[np.float64]


def even(ring_mm: FloatArray) -> FloatArray:
    """The ring at steps of about 1 mm."""
    closed = np.vstack([ring_mm, ring_mm[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    at = np.linspace(0.0, along[-1], round(along[-1]), endpoint=False)
    return np.column_stack([np.interp(at, along, closed[:, k]) for k in range(2)])


def rings(sd_mm: float) -> dict[str, FloatArray]:
    """Rings (n, 2) by name."""
    rng = np.random.default_rng(5)
    turn = np.linspace(0.0, 2 * np.pi, 48, endpoint=False)
    found = {"hole": HOLE_RADIUS_MM * np.column_stack([np.cos(turn), np.sin(turn)])}
    for name in ("solid", "perforated", "strung"):
        ring = even(invent(name, rng).outline.outer_mm)
        noise = gaussian_filter1d(rng.normal(size=ring.shape), ALIKE_MM / 2, axis=0, mode="wrap")
        found[name] = ring + noise * sd_mm / 2 / noise.std()
    return found


def main(sd_mm: float) -> None:
    """Time each ring."""
    print(f"{'ring':<12}{'points':>8}{'ms':>8}{'curve':>8}{'rms sds':>9}{'most sds':>10}")
    for name, ring in rings(sd_mm).items():
        spent = []
        for _ in range(REPEATS):
            started = time.process_time()
            curve = fit_curve(ring, sd_mm)
            spent.append(time.process_time() - started)
        off = ring_distances_mm(curve, ring) / sd_mm
        cells = 1e3 * min(spent), len(curve.points_mm), float(np.sqrt(np.mean(off**2))), float(off.max())
        print(f"{name:<12}{len(ring):>8}{cells[0]:>8.1f}{cells[1]:>8}{cells[2]:>9.2f}{cells[3]:>10.2f}")


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 0.1)
