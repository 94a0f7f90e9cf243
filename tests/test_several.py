"""Which places that look like a card are cards of their own: by the area they share."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Polygon

from digitise.camera import PARAMETER_NAMES
from digitise.card_pose import CameraEstimate
from digitise.card_shape import ID1
from digitise.card_sides import FoundCard
from digitise.lens_prior import lens_prior
from digitise.reference import _refuse_too_few
from digitise.refusal import Refused
from digitise.several import Joined, elsewhere, joined, shared_area
from tests.card_drawing import View, corners_px

LONG_PX, SHORT_PX = 150.0, 94.0
CARD = np.array([[0.0, SHORT_PX], [LONG_PX, SHORT_PX], [LONG_PX, 0.0], [0.0, 0.0]])


def found(corners: np.ndarray[tuple[int, ...], np.dtype[np.float64]], *others: FoundCard) -> FoundCard:
    return FoundCard(corners, np.eye(8), (), 1.0, 0.9, others)


def moved(x: float, y: float) -> FoundCard:
    return found(CARD + np.array([x, y]))


@pytest.mark.parametrize(
    ("x", "y", "share"),
    [(0.0, 0.0, 1.0), (75.0, 0.0, 0.5), (0.0, 47.0, 0.5), (75.0, 47.0, 0.25), (150.0, 0.0, 0.0)],
)
def test_the_shared_area_is_that_of_the_rectangles(x: float, y: float, share: float) -> None:
    assert shared_area(found(CARD), moved(x, y)) == pytest.approx(share)


@given(st.floats(-160, 160), st.floats(-100, 100), st.floats(0, 360), st.booleans())
def test_it_is_the_area_of_the_shapes(x: float, y: float, turn_deg: float, backwards: bool) -> None:
    """However the other one is turned, and whichever way its corners run."""
    cos, sin = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    corners = CARD @ np.array([[cos, sin], [-sin, cos]]) + np.array([3000 + x, 2000 + y])
    one, other = moved(3000, 2000), found(corners[::-1] if backwards else corners)
    shapes = Polygon(one.corners_px), Polygon(corners)
    true = shapes[0].intersection(shapes[1]).area / (LONG_PX * SHORT_PX)
    assert shared_area(one, other) == pytest.approx(true, abs=1e-3)


def test_of_unequal_ones_the_smaller_counts() -> None:
    inside = found(0.5 * CARD + [20.0, 20.0])
    assert shared_area(inside, found(CARD)) == shared_area(found(CARD), inside) == 1.0


def test_places_are_told_apart_by_area() -> None:
    """76 pixels on, along a card of 150, half of it lies on the first; across, as far, less than a fifth."""
    along, across, apart = moved(76.0, 0.0), moved(0.0, 76.5), moved(400.0, 0.0)
    again = moved(410.0, 5.0)
    assert elsewhere(found(CARD, along, across, apart, again)) == [across, apart]


def test_a_card_that_lies_over_another_is_not_joined() -> None:
    """Of the true size, and shifted across by 0.8 of its short side: cards flat on a table can't lie so."""
    camera = View().camera()
    corners = corners_px(camera)
    over = found(corners + 0.85 * (corners[3] - corners[0]))
    alone = CameraEstimate(camera, np.zeros((len(PARAMETER_NAMES),) * 2), 0.1, 1.0, True)
    first = found(corners, over)
    assert 0.1 < shared_area(first, over) < 0.2
    joint = joined(first, alone, lens_prior(26.0, *View().size_px), ID1, 2)
    assert (joint.cards, joint.others) == ((first,), (over,))
    with pytest.raises(Refused, match=r"Only 1 of 2 cards was found .* or lies over one"):
        _refuse_too_few(joint, 2)


def test_two_of_three_were_found() -> None:
    camera = CameraEstimate(View().camera(), np.zeros((1, 1)), 0.1, 1.0, True)
    with pytest.raises(Refused, match="Only 2 of 3 cards were found"):
        _refuse_too_few(Joined((moved(0, 0), moved(400, 0)), camera, ()), 3)
