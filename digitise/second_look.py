"""A second look at a photo that the first one refuses or leaves much of in doubt.

Where the border of a rough shape is hardly seen, how often it is cut decides by chance what is found. Another
number of cuts may find the racquet; that it did, little doubt tells.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from digitise.doubt import MUCH, WHOLE
from digitise.refusal import Reason, Refused
from digitise.silhouette import CUTS

SECOND_CUTS, LITTLE = 1, 0.1
"""How often the border is cut for the second look, and the share of its outline in doubt up to which it is
taken: of 95 photos of 900 that were refused or asked for a hand five were, all right to 0.7 mm."""
LEAST_OF_FIRST = 0.93
"""A second outline that covers less than this share of the first is not taken where that is only partly in
doubt: what the first had outside may be a rim of the table's colour."""
IN_ANY_LOOK = (Reason.TOO_OBLIQUE, Reason.SEVERAL_RACQUETS)
"""What a photo is refused for however often a border is cut."""

Found = TypeVar("Found")


def surer(
    look: Callable[[int], Found], in_doubt: Callable[[Found], float], area: Callable[[Found], float]
) -> Found:
    """What ``look`` finds with so many cuts as usual; or with SECOND_CUTS if that is refused, or much of it
    in doubt, and hardly anything is then. ``in_doubt`` tells the share that is, ``area`` what it covers.

    Raises Refused, the first time's, if neither is taken.
    """
    first = _seen(look, CUTS)
    if isinstance(first, Refused):
        if first.reason in IN_ANY_LOOK:
            raise first
    elif in_doubt(first) <= MUCH:
        return first
    second = _seen(look, SECOND_CUTS)
    if isinstance(second, Refused) or in_doubt(second) > LITTLE:
        if isinstance(first, Refused):
            raise first
        return first
    if isinstance(first, Refused) or in_doubt(first) > WHOLE:
        return second
    return second if area(second) >= LEAST_OF_FIRST * area(first) else first


def _seen(look: Callable[[int], Found], cuts: int) -> Found | Refused:
    """What a look finds, or why it refuses, without what it had seen by then."""
    try:
        return look(cuts)
    except Refused as refusal:
        return refusal.with_traceback(None)
