"""What-if tables: the same piece moved, made heavier, cut from other tapes, or stuck on other racquets."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from model.build import body_of, site_in
from model.errors import StripError
from model.figures import FIGURE_NAMES, six
from model.laying import called
from model.materials import Form, Material
from model.pieces import EdgeStrip, FacePatch, FromTip, HandleRing, OpeningStrip, Piece, Stuff, check_mass
from model.placement import added, lay_all
from model.racquet_file import RacquetFile
from model.study import with_added

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Row:
    """One case: its label, its place in a sweep (a number, or None), figures (6,) before and after.

    Figures are in the order of FIGURE_NAMES; ``note`` says what is odd, ``mass_g`` what is added.
    """

    label: str
    at: float | None
    mass_g: float
    before: Array
    after: Array
    note: str = ""

    @property
    def change(self) -> Array:
        """After less before (6,)."""
        return self.after - self.before


def case(
    racquet: RacquetFile, pieces: Sequence[Piece], axis_mm: float, label: str, at: float | None = None
) -> Row:
    """One racquet with pieces. Raises StripError when one does not fit."""
    body = body_of(racquet).values
    laid, notes = lay_all(site_in(racquet), pieces)
    sums = added(laid)
    return Row(
        label, at, float(sums[0]), six(body, axis_mm), six(with_added(body, sums), axis_mm), "; ".join(notes)
    )


def sweep_place(racquet: RacquetFile, piece: Piece, axis_mm: float, step_mm: float) -> list[Row]:
    """The piece moved along the edge from the tip to the handle top (a mirrored one both ways).

    A ring is moved along the handle, a patch up the face. Places where it does not fit are left out;
    raises StripError when it fits nowhere.
    """
    rows = []
    for at, moved in _moved(racquet, piece, step_mm):
        try:
            rows.append(case(racquet, [moved], axis_mm, f"{round(at)} mm", at))
        except StripError:
            continue
    if not rows:
        raise StripError(f"{called(piece)} fits nowhere along its way: make it shorter")
    return rows


def sweep_mass(racquet: RacquetFile, piece: Piece, axis_mm: float, masses_g: Sequence[float]) -> list[Row]:
    """The piece at other masses, its size kept. Raises StripError for one heavier than the racquet."""
    check_mass(f"{called(piece)} at {max(masses_g):g} g", max(masses_g), float(body_of(racquet).values[0]))
    return [
        case(racquet, [replace(piece, mass_g=float(m), mass_sd_g=0.0)], axis_mm, f"{m:g} g", float(m))
        for m in masses_g
    ]


def sweep_material(
    racquet: RacquetFile, piece: Piece, axis_mm: float, materials: Mapping[str, Material]
) -> tuple[list[Row], list[str]]:
    """The same grams cut from each tape: dense ones short, light ones long; and what does not fit.

    Raises StripError where none fits.
    """
    if not isinstance(piece, EdgeStrip):
        raise StripError(f"{called(piece)} is no strip along the edge, so its tape can't be compared")
    rows, left_out = [], []
    for name, material in materials.items():
        if material.form is not Form.TAPE or material.amount is None:
            continue
        length = round(piece.mass_g / (material.amount.value * piece.stuff.layers), 1)  # as it is cut
        stuff = Stuff(material.width_mm, material.thickness_mm or 0.0, piece.stuff.layers, name)
        try:
            other = replace(piece, length_mm=length, stuff=stuff, text="")
            rows.append(case(racquet, [other], axis_mm, f"{name}, {length:.0f} mm", length))
        except StripError:
            left_out.append(f"{name}, {length:.0f} mm")
    if not rows:
        raise StripError(f"no tape of {piece.mass_g:g} g fits there: make the piece lighter or add layers")
    return rows, left_out


def side_by_side(
    racquets: Mapping[str, RacquetFile], pieces: Mapping[str, Sequence[Piece]], axis_mm: float
) -> list[Row]:
    """Several racquets, each with its pieces by its name, or as they are."""
    return [case(racquet, pieces[name], axis_mm, name) for name, racquet in racquets.items()]


def masses_of(text: str) -> list[float]:
    """``1..6`` or ``1..6 by 0.5`` in g. Raises StripError.

    >>> masses_of("1..3")
    [1.0, 2.0, 3.0]
    """
    span, _, step_text = text.partition(" by ")
    try:
        low, high = (float(word.strip().removesuffix("g")) for word in span.split(".."))
        step = float(step_text.strip().removesuffix("g") or 1.0)
    except ValueError:
        raise StripError(f"the masses {text!r} must be like '1..6' or '1..6 by 0.5', in g") from None
    if not (0 < low <= high and step > 0 and (high - low) / step <= 1000):
        raise StripError(f"the masses {text!r} must run upwards from more than zero in at most 1000 steps")
    return [float(v) for v in np.arange(low, high + step * 1e-6, step)]


def table_rows(rows: Sequence[Row], axis_mm: float) -> tuple[list[str], list[list[object]]]:
    """Heads and rows of a whole table for CSV: the swing axis, every figure before, after and changed."""
    heads = ["case", "at", "added_g", "swing_axis_mm"]
    for when in ("before", "after", "change"):
        heads += [f"{name}_{when}" for name in FIGURE_NAMES]
    body: list[list[object]] = []
    for row in rows:
        figures = [float(v) for part in (row.before, row.after, row.change) for v in part]
        at = "" if row.at is None else row.at
        body.append([row.label, at, row.mass_g, float(axis_mm), *figures, row.note])
    return [*heads, "note"], body


def _moved(racquet: RacquetFile, piece: Piece, step_mm: float) -> list[tuple[float, Piece]]:
    site = site_in(racquet)
    match piece:
        case EdgeStrip():
            left, right = site.handle_tops_mm
            low = piece.length_mm / 2 if piece.mirror else -left  # nearer the twins would meet
            # whole steps, then millimetres: the tip's place is 0 and not nearly
            places = np.arange(np.ceil(low / step_mm), right / step_mm) * step_mm
            return [(float(s), replace(piece, place=FromTip(float(s)), text="")) for s in places]
        case FacePatch():
            top = float(site.outline.outer_mm[:, 1].max())
            places = np.arange(np.ceil(site.face_bottom_mm / step_mm) * step_mm, top, step_mm)
            return [(float(y), replace(piece, y_mm=float(y), text="")) for y in places]
        case HandleRing():
            places = np.arange(step_mm, site.handle_top_mm, step_mm)
            return [(float(y), replace(piece, y_mm=float(y), text="")) for y in places]
        case OpeningStrip():
            hours = np.arange(0.0, 12.0, 0.5)
            return [(float(h), replace(piece, hours=float(h), text="")) for h in hours]
        case _:
            raise StripError(f"{called(piece)} has no place to be moved along")
