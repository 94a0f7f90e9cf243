"""Whether an outline is that of one whole racquet, and if not what to do."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from shapely import LinearRing, Polygon

from digitise.grip import has_grip
from digitise.landmarks import HandleMarks, half_widths, has_head
from digitise.refusal import Reason, Refused
from digitise.silhouette import CUT_MESSAGE, numbered
from digitise.tone import FloatArray

HEADLESS_MESSAGE = (
    "What lies beside the card shows no outline with a handle and a head: lay one racquet flat on a plain "
    "table that differs from it in colour, avoid hard shadows, and take the photo again."
)
OVER_CARD_MESSAGE = (
    "The racquet cannot be told from the card, the outline found runs over it: lay the card at least 3 cm "
    "from the racquet, on the same plain table, and take the photo again."
)
ON_FACE_MESSAGE = (
    "What measures like a card lies on the racquet, not beside it: if it is the card, trace the photo with "
    "--card-on face; if not, lay a card on the table beside the racquet and take the photo again."
)
BESIDE_MESSAGE = (
    "The card lies beside the racquet, not on its face: trace the photo without --card-on face, or lay the "
    "card on the face and take the photo again."
)
SHEET_MESSAGE = (
    "The scale comes from a printed sheet, and that lies under the racquet, not on its face: trace the photo "
    "without --card-on face, or cover the sheet and take the photo again with a card."
)
HOOP_MESSAGE = (
    "The hoop's end does not stand out from the table: lay the racquet on a plain table that differs from "
    "its frame in colour, and take the photo again."
)
BED_MESSAGE = (
    "The string bed cannot be told from the frame round it, the two borders found cross: lay the racquet on "
    "a plain table that differs from its frame in colour, and take the photo again."
)
ON_FACE = 0.95
"""Share of the card inside the outline from which on it lies on the racquet."""
OVER_CARD = 0.1
"""Share of the card that an outline may cover: the rim stands above the table and may hide a little."""
NEAR_FRAME_SHARE = 0.008
"""An outline that comes this near to the picture's edge, as a share of its longer side, is taken to be cut
off by it: where the photo ends an edge is found in any case."""
SHORTEST_HANDLE_MM = 60.0
THINNEST_MM = 0.5
"""Less than this between two borders is no rim."""
TIP_MM, BLUNTEST_TIP = 8.0, 0.75
"""Hoops are round: so far from the tip they are at most this share of their full width wide."""


def check_off_card(rim_px: FloatArray, cards_px: Iterable[FloatArray]) -> None:
    """Raise Refused for an outline seen at ``rim_px`` (n, 2) that runs over a card, given by its corners
    (4, 2) in pixels: a card lies beside the racquet, so that what ends there was not seen."""
    outline = Polygon(rim_px).buffer(0)
    for card_px in cards_px:
        card = Polygon(card_px)
        share = outline.intersection(card).area / card.area
        if share > ON_FACE:
            raise Refused(Reason.NO_RACQUET, ON_FACE_MESSAGE)
        if share > OVER_CARD:
            raise Refused(Reason.NO_RACQUET, numbered(OVER_CARD_MESSAGE, f"over {100 * share:.0f} % of it"))


def check_on_face(rim_px: FloatArray, cards_px: Iterable[FloatArray]) -> None:
    """Raise Refused where a card that is said to lie on the face does not: no more of it lies within the
    outline than one beside the racquet may have hidden. Arguments as for ``check_off_card``."""
    outline = Polygon(rim_px).buffer(0)
    for card_px in cards_px:
        card = Polygon(card_px)
        if outline.intersection(card).area <= OVER_CARD * card.area:
            raise Refused(Reason.NO_RACQUET, BESIDE_MESSAGE)


def check_whole(
    size_px: tuple[int, int], rim_px: FloatArray, ring_mm: FloatArray, marks: HandleMarks, construction: str
) -> None:
    """Raise Refused for an outline ``ring_mm`` (n, 2) without head or handle, or cut by the picture's edge.

    ``rim_px`` (n, 2) is where it is seen in a picture of ``size_px`` (width, height). A handle as dark as
    the table may reach the picture's edge unseen: an outline that lacks one is taken to be cut off where it
    lies nearer to that edge than a handle is long.
    """
    y_mm, half_mm = half_widths(ring_mm)
    length_mm = float(np.ptp(ring_mm[:, 1]))
    whole = has_grip(y_mm, half_mm) and has_head(marks, length_mm)
    last_px = np.array(size_px) - 1
    outside_px = float(np.maximum(-rim_px, rim_px - last_px).max())
    least_px = NEAR_FRAME_SHARE * float(last_px.max())
    handle_px = SHORTEST_HANDLE_MM * LinearRing(rim_px).length / LinearRing(ring_mm).length
    if outside_px > -(least_px if whole else max(least_px, handle_px)):
        number = (
            f"its outline leaves the picture by about {outside_px:.0f} pixels"
            if outside_px > 0
            else f"its outline comes within {-outside_px:.0f} pixels of the picture's edge"
        )
        raise Refused(Reason.RACQUET_CUT, numbered(CUT_MESSAGE, number))
    if not whole:
        raise Refused(Reason.NO_RACQUET, HEADLESS_MESSAGE)
    if construction == "strung" and half_mm[y_mm > length_mm - TIP_MM].max() > BLUNTEST_TIP * np.quantile(
        half_mm, 0.9
    ):
        raise Refused(Reason.NO_RACQUET, HOOP_MESSAGE)


def check_bed(ring_mm: FloatArray, bed_mm: FloatArray) -> None:
    """Raise Refused for a string bed (m, 2) that does not lie inside the outline ``ring_mm`` (n, 2)."""
    if not Polygon(ring_mm).buffer(-THINNEST_MM).contains(Polygon(bed_mm).buffer(0)):
        raise Refused(Reason.NO_RACQUET, BED_MESSAGE)
