"""Which cells of the flat view belong to the racquet: one whole thing that is not table.

Candidates are the connected places unlike the table; the racquet is the one of a racquet's size. A
graph cut (GrabCut, Rother et al. 2004) on the difference from the table then settles its border.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from digitise.axis import ComplexImage
from digitise.flat import outer_cells
from digitise.hoop import disc, filled, hoop_closed, largest_part
from digitise.refusal import Reason, Refused
from digitise.table_model import Mask, TableModel
from digitise.tone import Image

ODD, VERY_ODD = 4.0, 7.0
"""Oddness (multiples of the table's spread) that may be the racquet, and that a part of it reaches."""
MIN_LENGTH_MM, MAX_LENGTH_MM = 250.0, 800.0
"""Lengths a racquet or paddle can have; rules and practice end near 740 mm."""
MIN_AREA_MM2 = 15_000.0
"""Least filled area of a racquet: a slim strung frame, 680 mm long, has twice that."""
CUT_ALONG_MM = 12.0
"""Along the picture's edge for more than this, a thing runs out of the picture."""
SOFT_BORDER = 0.55
"""A thing whose border shows edges this much weaker than another's is a patch of light or a shadow."""
CLEAR_BORDER = 0.3
"""Median strength of edges along the border of a thing that is no patch of light."""
CUTS = 4
"""How often the border is cut, each time by what the cut before tells of both looks."""
MARGIN_MM = 50.0
"""Room round the candidate in which its border is looked for."""

CUT_MESSAGE = (
    "The racquet is cut off by the edge of the picture; take the photo again with the whole racquet in the "
    "frame and some table all round it."
)
NONE_MESSAGE = (
    "No racquet was found beside the card; lay one racquet flat on a plain table that differs from it in "
    "colour, and photograph it from straight above."
)
SEVERAL_MESSAGE = (
    "There is more than one racquet in the picture; leave only the one to be measured and take the photo "
    "again."
)


@dataclass(frozen=True, eq=False)
class _Blob:
    mask: Mask
    area_mm2: float
    length_mm: float
    touching_mm: float

    @property
    def cut(self) -> bool:
        """Whether it runs out of the picture: it lies along the picture's edge."""
        return self.touching_mm > CUT_ALONG_MM


def numbered(message: str, number: str) -> str:
    """A refusal's sentence with the number that led to it."""
    return f"{message.removesuffix('.')} ({number})."


def find_silhouettes(
    table: TableModel, edges: ComplexImage, inside: Mask, cell_mm: float, cuts: int = CUTS
) -> tuple[Mask, Mask]:
    """The racquet's filled mask, (rows, cols) bool, on the grid of the flat view, in two versions.

    The first has its border settled by the graph cut, which frees it of most shadow but may drop a part
    whose colour is close to the table's; the second is all that is unlike the table. ``edges`` are its sharp
    ones; ``cuts`` is how often the border is cut.

    Raises Refused: NO_RACQUET, SEVERAL_RACQUETS or RACQUET_CUT.
    """
    strengths = np.abs(edges).astype(np.float32)
    every = _blobs(table, inside, cell_mm)
    blobs = [blob for blob in every if _racquet_sized(blob)]
    if not blobs:
        raise _no_racquet(every)
    blobs.sort(key=lambda blob: blob.area_mm2, reverse=True)
    settled = [
        _describe(_settle_border(table, blob.mask, cell_mm, cuts), inside, cell_mm) for blob in blobs[:2]
    ]
    settled = [_whole_again(shape, blob, strengths) for shape, blob in zip(settled, blobs, strict=False)]
    kept = [(shape, blob) for shape, blob in zip(settled, blobs, strict=False) if _racquet_sized(shape)]
    if not kept:
        raise _no_racquet(settled)
    sharp = [_border_strength(shape.mask, strengths) for shape, _ in kept]
    kept = [pair for pair, strength in zip(kept, sharp, strict=True) if strength > SOFT_BORDER * max(sharp)]
    best, blob = kept[0]
    if len(kept) > 1 and kept[1][0].area_mm2 > 0.4 * best.area_mm2:
        share = (
            f"the second covers {kept[1][0].area_mm2 / best.area_mm2:.1f} times as much table as the first"
        )
        raise Refused(Reason.SEVERAL_RACQUETS, numbered(SEVERAL_MESSAGE, share))
    if best.cut:
        along = f"it lies along the edge for about {best.touching_mm:.0f} mm"
        raise Refused(Reason.RACQUET_CUT, numbered(CUT_MESSAGE, along))
    return best.mask, blob.mask


def _whole_again(shape: _Blob, blob: _Blob, edges: Image) -> _Blob:
    """The settled shape, or all of the blob where too little is left of one that has a clear border: the
    graph cut takes a thin shaft and a handle in its shadow for table."""
    if _racquet_sized(shape) or _border_strength(blob.mask, edges) < CLEAR_BORDER:
        return shape
    return blob


def _border_strength(mask: Mask, edges: Image) -> float:
    """Median strength of the sharp edges along a mask's border, 0 to 1."""
    cells = np.ones((3, 3), np.uint8)
    border = cv2.dilate(mask.astype(np.uint8), cells) != cv2.erode(mask.astype(np.uint8), cells)
    return float(np.median(cv2.dilate(edges, cells)[border])) if border.any() else 0.0


def _no_racquet(seen: list[_Blob]) -> Refused:
    """Nothing has a racquet's size: what came nearest."""
    if not seen:
        number = f"nothing that stands out is longer than {MIN_LENGTH_MM / 2:.0f} mm"
    else:
        most = max(seen, key=lambda blob: blob.area_mm2)
        number = f"the largest thing is {most.length_mm:.0f} mm long and covers {most.area_mm2 / 100:.0f} cm²"
    return Refused(Reason.NO_RACQUET, numbered(NONE_MESSAGE, number))


def _racquet_sized(blob: _Blob) -> bool:
    if blob.area_mm2 < MIN_AREA_MM2 or blob.length_mm > 1.5 * MAX_LENGTH_MM:
        return False
    return blob.cut or blob.length_mm > 0.9 * MIN_LENGTH_MM


def largest_thing(oddness: Image) -> int:
    """Cells of the largest thing unlike the table, and of all that it encloses, by the cells' ``oddness``."""
    return int(np.count_nonzero(filled(largest_part(_things(oddness) > 0))))


def _things(oddness: Image) -> npt.NDArray[np.uint8]:
    """1 in cells that are unlike the table, single ones left out and small gaps closed."""
    odd = (oddness > ODD).astype(np.uint8)
    opened = cv2.morphologyEx(odd, cv2.MORPH_OPEN, disc(3))
    return np.asarray(cv2.morphologyEx(opened, cv2.MORPH_CLOSE, disc(5)), np.uint8)


def _blobs(table: TableModel, inside: Mask, cell_mm: float) -> list[_Blob]:
    count, labels, stats, _ = cv2.connectedComponentsWithStats(_things(table.oddness))
    blobs = []
    for label in range(1, count):
        extent = cell_mm * float(np.hypot(stats[label, cv2.CC_STAT_WIDTH], stats[label, cv2.CC_STAT_HEIGHT]))
        if extent < MIN_LENGTH_MM / 2:
            continue
        part = labels == label
        if table.oddness[part].max() > VERY_ODD:
            blobs.append(_describe(hoop_closed(part), inside, cell_mm))
    return blobs


def _describe(mask: Mask, inside: Mask, cell_mm: float) -> _Blob:
    cells = np.count_nonzero(mask)
    if cells < 3:
        return _Blob(mask, 0.0, 0.0, 0.0)
    (_, (side_a, side_b), _) = cv2.minAreaRect(outer_cells(mask))
    rim = inside & ~cv2.erode(inside.astype(np.uint8), disc(5), borderValue=0).astype(bool)
    touching_mm = cell_mm * float(np.count_nonzero(mask & rim)) / 2  # the rim is two cells deep
    return _Blob(mask, cells * cell_mm**2, cell_mm * max(side_a, side_b), touching_mm)


def _settle_border(table: TableModel, blob: Mask, cell_mm: float, cuts: int) -> Mask:
    """Graph cut between the blob's own look and that of what surrounds it."""
    window = _window(blob, round(MARGIN_MM / cell_mm))
    guess = blob[window]
    picture = np.clip(128 + 4 * table.unlike[window], 0, 255).astype(np.uint8)
    state = np.where(guess, cv2.GC_PR_FGD, cv2.GC_PR_BGD).astype(np.uint8)
    state[~cv2.dilate(guess.astype(np.uint8), disc(13)).astype(bool)] = cv2.GC_BGD
    state[~table.usable[window]] = cv2.GC_BGD
    if (state == cv2.GC_PR_FGD).sum() < 50 or (state != cv2.GC_PR_FGD).sum() < 50:
        return blob
    cv2.setRNGSeed(1)  # GrabCut starts from random clusters: the same photo must give the same mask
    cv2.grabCut(
        np.ascontiguousarray(picture),
        state,
        (0, 0, 0, 0),  # no rectangle: the mask says where
        np.zeros((1, 65)),
        np.zeros((1, 65)),
        cuts,
        cv2.GC_INIT_WITH_MASK,
    )
    settled = np.zeros_like(blob)
    settled[window] = (state == cv2.GC_FGD) | (state == cv2.GC_PR_FGD)
    return hoop_closed(largest_part(cv2.morphologyEx(settled.astype(np.uint8), cv2.MORPH_OPEN, disc(3)) > 0))


def _window(mask: Mask, margin: int) -> tuple[slice, slice]:
    rows, cols = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    return (
        slice(max(int(rows[0]) - margin, 0), int(rows[-1]) + margin + 1),
        slice(max(int(cols[0]) - margin, 0), int(cols[-1]) + margin + 1),
    )
