"""Whether a racquet is merely unlike the usual one of its construction, and in what."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from model.calibrate import Calibration, calibrate
from model.components import SLIP, THROAT_TOP
from model.observe import SCALE
from model.parts import ACROSS, ALONG, HANDLE_TOP, Parts

Array = NDArray[np.float64]

WIDER = 3.0  # times the usual sd: what a racquet of another maker's thinking may be off the usual one
WORTH_NAMING = 1.5  # usual sds; what is off less than that is hardly unusual
MOST_NAMED = 3
SEEN_MODES = (ALONG, ACROSS, HANDLE_TOP, THROAT_TOP)  # told by the photo of this racquet, not by others


def with_wider_prior(found: Calibration) -> Calibration:
    """The calibration where less is assumed beforehand of such a racquet's insides.

    Sds of the construction's own masses and of how they lie are multiplied by ``WIDER``; what is known of
    this one racquet (its size, added pieces and where they lie) stays as it is.

    Raises ModelError if it does not settle.
    """
    mean, cov = found.parts.prior()
    factor = np.where(_assumed(found.parts), WIDER, 1.0)
    parts = replace(found.parts, prior_mean=mean, prior_cov=cov * np.outer(factor, factor))
    return calibrate(parts, found.readings, float(found.view_by_state[SCALE, -1]))


def unlike_in(found: Calibration) -> tuple[str, ...]:
    """In what a racquet is least like the usual one, in words, the furthest off first."""
    mean, cov = found.parts.prior()
    off = np.where(_assumed(found.parts), (found.state[:-1] - mean) / np.sqrt(np.diag(cov)), 0.0)
    names = [*found.parts.names, *found.parts.mode_names]
    order = np.argsort(-abs(off), kind="stable")[:MOST_NAMED]
    chosen = [i for i in order if abs(off[i]) >= WORTH_NAMING] or list(order[:1])
    return tuple(dict.fromkeys(_words(names[i].replace("_", " "), float(off[i])) for i in chosen))


def _assumed(parts: Parts) -> Array:
    """Which of the log masses and modes (n + k,) are known from other racquets only."""
    own = [i < parts.own for i in range(len(parts.names))]
    others = [mode not in SEEN_MODES and not mode.startswith(SLIP) for mode in parts.mode_names]
    return np.array([*own, *others])


def _words(name: str, off: float) -> str:
    """What it means that a part's mass, or a mode, is off by so many sds."""
    if name.endswith("thickness"):
        return f"{name} {'above' if off > 0 else 'below'} the one assumed"
    mode, _, part = name.rpartition(" of ")
    if mode == "depth":
        return f"mass of the {part} {'further in from' if off > 0 else 'nearer to'} the outline"
    if mode == "stack":
        return f"mass of the {part} {'further from' if off > 0 else 'nearer to'} the middle plane"
    if mode.startswith("uneven"):
        return f"mass of the {part} unevenly spread"
    return f"{part} {'heavier' if off > 0 else 'lighter'}"
