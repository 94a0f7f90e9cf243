"""What is odd about pieces as laid: on one another, past an end, over a hole, beside the racquet."""

from __future__ import annotations

from collections.abc import Sequence

from model.laying import Laid, called
from model.pieces import EdgeStrip
from model.site import Site

LEAST_MM = 0.5  # overlaps and overhangs shorter than this are the cutting's own error
LEAST_MM2 = 2.0
HANDLE = frozenset({"handle", "under the grip", "butt"})


def oddities(site: Site, laid: Sequence[Laid]) -> list[str]:
    """A sentence for each overlap, overhang and hole under a piece."""
    notes = []
    for i, one in enumerate(laid):
        notes += overhangs(site, one)
        for other in laid[i + 1 :]:
            if words := overlap(one, other):
                notes.append(words)
    return notes


def overlap(one: Laid, other: Laid) -> str | None:
    """A sentence when two pieces lie on one another."""
    if not one.surfaces & other.surfaces:
        return None
    if one.along_mm is not None and other.along_mm is not None:
        shared = shared_mm(one.along_mm, other.along_mm)
        if shared <= LEAST_MM or one.cover.intersection(other.cover).area <= LEAST_MM2:
            return None
        size = f"over {shared:.0f} mm"
    else:
        area = float(one.cover.intersection(other.cover).area)
        if area <= LEAST_MM2:
            return None
        size = f"over {area / 100:.1f} cm²"
    pair = f"{called(one.piece)} and {called(other.piece)}"
    return f"{pair} lie on one another {size}: they count as two layers"


def shared_mm(one: tuple[float, float], other: tuple[float, float]) -> float:
    """How much two stretches of the edge have in common, mm; negative is the gap between them."""
    return min(one[1], other[1]) - max(one[0], other[0])


def overhangs(site: Site, one: Laid) -> list[str]:
    """Sentences on a piece that runs past its surface's end, over a hole, or beside the racquet."""
    notes = []
    if isinstance(one.piece, EdgeStrip) and one.along_mm is not None:
        left, right = site.handle_tops_mm
        past = max(one.along_mm[1] - right, -left - one.along_mm[0])
        if past > LEAST_MM:
            notes.append(f"{called(one.piece)} runs {past:.0f} mm past the handle top, onto the handle")
    if one.surfaces & {"front", "back"}:
        holes = float(one.cover.intersection(site.outline.filled).area) - float(
            one.cover.intersection(site.outline.polygon).area
        )
        if holes > LEAST_MM2:
            notes.append(
                f"{called(one.piece)} lies over an opening with {holes / 100:.1f} cm²: it has no hold there"
            )
    if "wall" not in one.surfaces and not one.surfaces & HANDLE and "opening" not in str(one.surfaces):
        beside = float(one.cover.difference(site.outline.filled).area)
        if beside > max(LEAST_MM2, 0.02 * float(one.cover.area)):
            notes.append(f"{called(one.piece)} hangs over the outline with {beside / 100:.1f} cm²")
    return notes
