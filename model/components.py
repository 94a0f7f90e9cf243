"""Pieces of known mass: a whole part's, something round the handle, tape already fitted.

A piece that is no part of the construction becomes a part of its own, whose mass is known
before any other reading. One that does not count stays on the racquet for the readings and is left
out of the figures.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import box

from model.errors import ReadingError
from model.face import Landmarks
from model.moments import geometry_moments
from model.observe import own_part
from model.outline import Outline
from model.parts import ACROSS, ALONG, HANDLE_TOP, XX, YY, Parts, Size, X, Y
from model.placement import added, lay_all
from model.readings import ComponentReading, Reading
from model.site import site_of
from model.spelling import parse_piece
from model.tolerance import risen, slips, throat_risen

Array = NDArray[np.float64]

SLIP = "slip "  # begins the names of the modes of how exactly a piece was laid
THROAT_TOP = "throat top"  # the mode of where the face begins above a throat, which moves strips only
MOST_OF_HANDLE = 0.6  # a grip and what is over it; the pallets and tube below weigh the rest
SAME_TAPE = 0.999  # correlation of strips of one tape; one would leave a covariance without an inverse
HANDLE_COVER = re.compile("grip|wrap", re.IGNORECASE)  # lies over the whole handle unless it says where
WRAP_STACK = 1.5  # a layer round the handle lies further out than a solid bar: z² = stack t²/12


def with_components(
    parts: Parts, readings: Sequence[Reading], outline: Outline, landmarks: Landmarks, size: Size
) -> Parts:
    """Add the used components that are no parts of the construction, and mark what does not count.

    Raises ReadingError for one that lies nowhere on the racquet or does not say where it lies, StripError
    for tape off it.
    """
    own = parts.names
    of_tape: dict[str, list[int]] = defaultdict(list)
    for reading in readings:
        if not (reading.used and isinstance(reading, ComponentReading)):
            continue
        part = own_part(reading, own)
        if part is not None:
            place = parts.names.index(part)
            counts = tuple(c and (reading.counts or i != place) for i, c in enumerate(parts.counts))
            parts = replace(parts, counts=counts)
        else:
            _check_place(reading, own)
            cut = of_tape[_tape_name(reading)] if reading.by_length else []
            parts = _with_piece(parts, reading, outline, landmarks, size, cut)
            cut.append(len(parts.names) - 1)
    return parts


def _check_place(reading: ComponentReading, own: tuple[str, ...]) -> None:
    """A piece that is no part and says no place must go over the handle; else its name is written wrong."""
    if reading.strip is not None or reading.from_mm is not None or HANDLE_COVER.search(reading.name):
        return
    parts = ", ".join(name.replace("_", " ") for name in own)
    raise ReadingError(
        f"the component {reading.name!r} is no part of such a racquet ({parts}) and does not say where it "
        f"lies: name the part, or give its place, as '{reading.name} {reading.value:g}g from 0mm to 150mm' "
        f"or '{reading.name} {reading.value:g}g:76mm@3'"
    )


def _tape_name(reading: ComponentReading) -> str:
    """Which tape a strip is cut from; a strip that does not say stands alone."""
    return parse_piece(reading.strip or "").stuff.material or reading.name


def _with_piece(
    parts: Parts,
    reading: ComponentReading,
    outline: Outline,
    landmarks: Landmarks,
    size: Size,
    together: Sequence[int],
) -> Parts:
    """The parts with one more; ``together`` are those whose masses err with its own."""
    slipped, scaled = np.zeros((0, 5)), np.zeros((len(parts.modes), 5))
    if reading.strip is not None:
        unit, slipped, raised = _tape(reading, outline, landmarks, size)
        if raised[THROAT_TOP].any():
            parts = _with_mode(parts, THROAT_TOP)
        scaled = _scaled(parts, unit)
        for name, change in raised.items():
            if name in parts.mode_names:
                scaled[parts.mode_names.index(name)] = change
    else:
        unit = _band(reading, outline, landmarks, size)
        parts = _lighter_handle(parts, reading, landmarks)
    n = len(parts.names)
    name = _free_name(re.sub(r"[\s-]", "_", reading.name.strip().lower()), parts.names)
    modes = np.concatenate([parts.modes, scaled[:, None]], axis=1)
    slipping = np.concatenate([np.zeros((len(slipped), n, 5)), slipped[:, None]], axis=1)
    cov = np.zeros((n + 1, n + 1))
    cov[:n, :n] = parts.log_mass_cov
    cov[n, n] = (reading.sd / reading.value) ** 2
    for other in together:
        cov[n, other] = cov[other, n] = SAME_TAPE * np.sqrt(cov[n, n] * cov[other, other])
    return replace(
        parts,
        names=(*parts.names, name),
        unit=np.vstack([parts.unit, unit]),
        modes=np.concatenate([modes, slipping]),
        mode_names=(*parts.mode_names, *(f"{SLIP}{k + 1} of {name}" for k in range(len(slipping)))),
        log_mass=np.append(parts.log_mass, np.log(reading.value)),
        log_mass_cov=cov,
        log_extent=np.append(parts.log_extent, 0.0),
        counts=(*parts.counts, reading.counts and not reading.fitted),
        fitted={**parts.fitted, **({name: reading.pieces} if reading.fitted else {})},
    )


def _with_mode(parts: Parts, name: str) -> Parts:
    """The parts with a mode that moves none of them yet, if they have it not."""
    if name in parts.mode_names:
        return parts
    nothing = np.zeros((1, len(parts.names), 5))
    return replace(parts, modes=np.concatenate([parts.modes, nothing]), mode_names=(*parts.mode_names, name))


def _free_name(name: str, taken: tuple[str, ...]) -> str:
    number = 2
    free = name
    while free in taken:
        free, number = f"{name}_{number}", number + 1
    return free


def _tape(
    reading: ComponentReading, outline: Outline, landmarks: Landmarks, size: Size
) -> tuple[Array, Array, dict[str, Array]]:
    """Unit means (5,) of strips on the edge, their one-sd changes (k, 5) as each piece slips, and their
    changes (5,) where the handle top or the throat top lies one sd higher."""
    site = site_of(outline, landmarks, size.face_thickness_mm.value, size.handle_thickness_mm.value)
    laid, _ = lay_all(site, [parse_piece(reading.strip or "")], reading.mirror)
    total = added(laid)
    changes = [slip[1:] for one in laid for slip in slips(site, one, reading.place_sd_mm)]
    slipped = np.array(changes).reshape(-1, 5)
    raised = {HANDLE_TOP: risen(site, laid), THROAT_TOP: throat_risen(site, laid)}
    return total[1:] / total[0], slipped / total[0], {name: by[1:] / total[0] for name, by in raised.items()}


def _scaled(parts: Parts, unit: Array) -> Array:
    """What the modes (k, 5) do to strips: where these lie grows with the outline."""
    by, change = parts.outline.changes(), np.zeros((len(parts.modes), 5))
    along, across = np.zeros(5), np.zeros(5)
    along[[Y, YY]], across[[X, XX]] = unit[[Y, YY]] * [1, 2], unit[[X, XX]] * [1, 2]
    change[parts.mode_names.index(ALONG)] = along * by[0, 0] + across * by[1, 0]
    change[parts.mode_names.index(ACROSS)] = across * by[1, 1]
    return change


def _band(reading: ComponentReading, outline: Outline, landmarks: Landmarks, size: Size) -> Array:
    """Unit means (5,) of a mass spread evenly over the outline between two heights."""
    low = 0.0 if reading.from_mm is None else reading.from_mm
    high = landmarks.handle_top_mm if reading.to_mm is None else reading.to_mm
    x0, _, x1, _ = outline.filled.bounds
    m = geometry_moments(outline.polygon.intersection(box(x0 - 1, low, x1 + 1, high)))
    if m.size == 0:
        raise ReadingError(
            f"the component {reading.name!r} from {low:.0f} to {high:.0f} mm lies off the racquet: "
            "give distances from the butt end"
        )
    on_handle = high <= landmarks.handle_top_mm + 1
    thickness = size.handle_thickness_mm if on_handle else size.face_thickness_mm
    zz = (WRAP_STACK if on_handle else 1.0) * thickness.value**2 / 12
    return np.array([m.x / m.size, m.y / m.size, m.xx / m.size, m.yy / m.size, zz])


def _lighter_handle(parts: Parts, reading: ComponentReading, landmarks: Landmarks) -> Parts:
    """The rest of the handle is what it usually weighs less this piece, if the piece is on it."""
    high = landmarks.handle_top_mm if reading.to_mm is None else reading.to_mm
    if "handle" not in parts.names or high > landmarks.handle_top_mm + 1:
        return parts
    place = parts.names.index("handle")
    usual = float(np.exp(parts.log_mass[place]))
    log_mass = parts.log_mass.copy()
    log_mass[place] = np.log(max(usual - reading.value, (1 - MOST_OF_HANDLE) * usual))
    return replace(parts, log_mass=log_mass)
