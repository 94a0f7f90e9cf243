"""What a person must know before sticking weight on a racquet, said wherever they act."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from model.racquet_file import RacquetFile

NEEDS_CORRECTION = "needs-hand-correction"
"""Flag of a file of whose outline more than a stated share is in doubt, or a part that much hangs on."""

CAUTIONS = (
    "Lead tape is toxic: wrap it, wash hands, keep it from children and food, dispose of it by local rules.",
    "More swing weight loads wrist, elbow and shoulder: go in small steps; pain is for a licensed clinician.",
    "For competition the racquet must meet the current rules of the governing body.",
)


def other_flags(racquet: RacquetFile) -> list[str]:
    """The file's flags but the one that :func:`doubted` puts in words."""
    return [flag for flag in racquet.flags if flag != NEEDS_CORRECTION]


def doubted(racquets: Mapping[str, RacquetFile]) -> list[str]:
    """A sentence, without its full stop, for each racquet by its name whose outline still needs a hand."""
    return [
        f"much of the outline in {name}, or a part that much hangs on, is in doubt, and every figure with "
        "it: put it right with digitise correct"
        for name, racquet in racquets.items()
        if NEEDS_CORRECTION in racquet.flags
    ]
