"""Which of two looks at a photo is taken."""

from __future__ import annotations

import pytest

from digitise.doubt import MUCH, WHOLE
from digitise.refusal import Reason, Refused
from digitise.second_look import LITTLE, SECOND_CUTS, surer
from digitise.silhouette import CUTS

OUT_OF_FRAME = Refused(Reason.RACQUET_CUT, "cut off")
NOTHING = Refused(Reason.NO_RACQUET, "nothing there")
Looks = dict[int, float | Refused]


def taken(first: float | Refused, second: float | Refused, area: float = 100.0) -> tuple[int, list[int]]:
    """The number of cuts of the look that is taken, and all that were tried, of two with these shares in
    doubt or refusals."""
    tried = []

    def look(cuts: int) -> int:
        tried.append(cuts)
        seen = {CUTS: first, SECOND_CUTS: second}[cuts]
        if isinstance(seen, Refused):
            raise seen
        return cuts

    shares = {CUTS: first, SECOND_CUTS: second}
    areas = {CUTS: 100.0, SECOND_CUTS: area}
    return surer(look, lambda cuts: float(shares[cuts]), areas.__getitem__), tried  # type: ignore[arg-type]


def test_a_first_look_that_asks_for_no_hand_is_enough() -> None:
    assert taken(MUCH, 0.0) == (CUTS, [CUTS])


@pytest.mark.parametrize(
    ("first", "second", "expected"),
    [
        (0.2, LITTLE, SECOND_CUTS),
        (0.2, LITTLE + 0.01, CUTS),
        (1.0, 0.0, SECOND_CUTS),
        (0.2, NOTHING, CUTS),
        (OUT_OF_FRAME, 0.05, SECOND_CUTS),
    ],
)
def test_a_second_is_taken_if_hardly_anything_is_in_doubt(
    first: float | Refused, second: float | Refused, expected: int
) -> None:
    assert taken(first, second) == (expected, [CUTS, SECOND_CUTS])


@pytest.mark.parametrize(
    ("first", "area", "expected"),
    [
        (MUCH + 0.01, 92.0, CUTS),
        (MUCH + 0.01, 94.0, SECOND_CUTS),
        (WHOLE, 92.0, CUTS),
        (1.0, 92.0, SECOND_CUTS),
        (OUT_OF_FRAME, 92.0, SECOND_CUTS),
    ],
)
def test_a_second_that_lacks_what_the_first_has_is_not_taken_unless_that_is_all_in_doubt(
    first: float | Refused, area: float, expected: int
) -> None:
    """A rim of the table's colour is 7 % and more of a head."""
    assert taken(first, 0.05, area) == (expected, [CUTS, SECOND_CUTS])


@pytest.mark.parametrize("second", [LITTLE + 0.01, NOTHING])
def test_where_the_second_is_none_either_the_first_refusal_stands(second: float | Refused) -> None:
    with pytest.raises(Refused, match="cut off"):
        taken(OUT_OF_FRAME, second)


@pytest.mark.parametrize("reason", [Reason.TOO_OBLIQUE, Reason.SEVERAL_RACQUETS])
def test_what_another_border_does_not_change_is_not_looked_at_twice(reason: Reason) -> None:
    with pytest.raises(Refused, match="once is enough"):
        taken(Refused(reason, "once is enough"), 0.0)
