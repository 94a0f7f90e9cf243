"""What a bench sheet says: pieces to cut, where their ends lie, figures before and after. No drawing here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from model.cautions import CAUTIONS
from model.effects import Effects
from model.figures import FIGURE_NAMES
from model.laying import Laid
from model.pieces import FacePatch, HandleRing
from model.site import Site

FIGURE_WORDS = {
    "weight_g": ("weight", "g", 1),
    "balance_mm": ("balance", "mm", 1),
    "swing_weight_kgcm2": ("swing weight", "kg·cm²", 1),
    "twist_weight_kgcm2": ("twist weight", "kg·cm²", 2),
    "recoil_weight_kgcm2": ("recoil weight", "kg·cm²", 1),
    "spin_weight_kgcm2": ("spin weight", "kg·cm²", 1),
}
ON_TIP_MM = 0.5


@dataclass(frozen=True)
class Cut:
    """One piece: its number on the drawing, what it is cut from, size, layers, grams, and where it lies.

    ``from_tip`` and ``from_handle_top`` are its ends along the edge in words, empty off the edge.
    """

    number: int
    what: str
    size: str
    layers: int
    mass_g: float
    mass_sd_g: float
    where: str
    from_tip: str
    from_handle_top: str


@dataclass(frozen=True)
class FigureLine:
    """One figure: name with axis, unit, before, after and change, each ± sd as text."""

    name: str
    unit: str
    before: str
    after: str
    change: str


@dataclass(frozen=True, eq=False)
class Sheet:
    """All that stands on the sheet, in words, and the pieces as laid for the drawing."""

    title: str
    date: str
    lines: tuple[str, ...]
    cuts: tuple[Cut, ...]
    figures: tuple[FigureLine, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...]
    laid: tuple[Laid, ...]
    site: Site


def sheet_of(
    title: str, date: str, site: Site, effects: Effects, construction: str, doubts: Sequence[str] = ()
) -> Sheet:
    """The sheet's words from what was laid and studied; ``doubts`` are notes on the racquet itself."""
    total = sum(one.piece.mass_g for one in effects.laid)
    axis = effects.study.before.swing_axis_mm
    return Sheet(
        title=title,
        date=date,
        lines=(
            f"{construction} racquet, {site.outline.length_mm:.0f} × {site.outline.width_mm:.0f} mm",
            f"swing axis {axis:g} mm from the butt; {total:.2f} g added in {len(effects.laid)} pieces",
            "distances run along the edge; left and right as seen here; ± is one standard deviation",
            "dashed pieces lie on the other face, under the grip or inside",
        ),
        cuts=tuple(_cut(i + 1, one, site) for i, one in enumerate(effects.laid)),
        figures=tuple(_figure_line(name, effects) for name in FIGURE_NAMES),
        notes=(*effects.notes, *doubts),
        cautions=CAUTIONS,
        laid=effects.laid,
        site=site,
    )


def edge_ends(one: Laid, site: Site) -> tuple[str, str]:
    """A piece's ends in words: from the tip, and from the handle top. Empty for one off the edge."""
    if one.along_mm is None:
        return "", ""
    start, end = one.along_mm
    left, right = site.handle_tops_mm
    if abs(start + end) < ON_TIP_MM:
        return f"{end:.0f} mm on each side", f"{right - end:.0f} mm on each side"
    if start < 0 < end:
        return (
            f"{-start:.0f} mm left to {end:.0f} mm right",
            f"{left + start:.0f} mm left, {right - end:.0f} mm right",
        )
    side = "right" if start >= 0 else "left"
    near, far = (start, end) if start >= 0 else (-end, -start)
    top = right if start >= 0 else left
    return f"{near:.0f} to {far:.0f} mm, {side}", f"{top - far:.0f} to {top - near:.0f} mm, {side}"


def _cut(number: int, one: Laid, site: Site) -> Cut:
    piece = one.piece
    from_tip, from_top = edge_ends(one, site)
    return Cut(
        number=number,
        what=piece.stuff.material or "weight",
        size=_size(one),
        layers=piece.stuff.layers,
        mass_g=piece.mass_g,
        mass_sd_g=piece.mass_sd_g,
        where=_where(one),
        from_tip=from_tip,
        from_handle_top=from_top,
    )


def _size(one: Laid) -> str:
    piece = one.piece
    if isinstance(piece, FacePatch):
        return f"{piece.across_mm:g} × {piece.along_mm:g} mm"
    length = getattr(piece, "length_mm", None)
    if length is None and one.along_mm is not None:
        length = one.along_mm[1] - one.along_mm[0]
    if length is None:
        return "as it fits"
    several = f"{piece.strips} strips of " if isinstance(piece, HandleRing) and piece.strips > 1 else ""
    width = f" × {piece.stuff.width_mm:g}" if piece.stuff.width_mm else ""
    return f"{several}{length:.1f}{width} mm"


def _where(one: Laid) -> str:
    piece = one.piece
    if isinstance(piece, FacePatch):
        side = "left" if piece.x_mm < 0 else "right"
        return f"face ({piece.side.value}), {abs(piece.x_mm):.0f} {side} of the axis, {piece.y_mm:.0f} up"
    if isinstance(piece, HandleRing):
        place = "under the grip" if piece.under_grip else "round the handle"
        low, high = piece.y_mm - piece.length_mm / 2, piece.y_mm + piece.length_mm / 2
        spread = "spread evenly " if piece.strips > 1 else ""
        return f"{spread}{place}, {low:.0f} to {high:.0f} from the butt"
    if one.along_mm is not None:
        off = getattr(piece, "stand_off_mm", 0.0)
        words = str(getattr(piece, "fold", "over the edge"))
        return f"{words}{f', {off:g} off' if off else ''}"
    return ", ".join(sorted(one.surfaces)) if "butt" not in one.surfaces else "inside the butt cap"


def _figure_line(name: str, effects: Effects) -> FigureLine:
    words, unit, digits = FIGURE_WORDS[name]
    study = effects.study
    if name == "swing_weight_kgcm2":
        words += f" at {study.before.swing_axis_mm:g} mm"
    before, after, change = (getattr(part, name) for part in (study.before, study.after, study.change))
    return FigureLine(
        words,
        unit,
        f"{before.value:.{digits}f} ± {before.sd:.{digits}f}",
        f"{after.value:.{digits}f} ± {after.sd:.{digits}f}",
        f"{change.value:+z.{digits + 1}f} ± {change.sd:.{digits + 1}f}",
    )
