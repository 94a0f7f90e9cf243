"""Components too heavy for their racquet are refused by name, and figures that no masses can have."""

from __future__ import annotations

import re

import numpy as np
import pytest

from model.build import Known, build_racquet
from model.component_bounds import check_body, check_components
from model.errors import ReadingError
from model.figures import Body
from model.parts import Size, parts_of
from model.priors import prior_for
from model.reading_text import balance_reading, parse_reading, weight_reading
from model.readings import Reading
from tests.model_samples import HANDLE_TOP, exact, paddle

PARTS = parts_of(paddle(), HANDLE_TOP, prior_for("solid"), Size(exact(14.0), exact(29.0)))
USUAL = dict(zip(PARTS.names, np.exp(PARTS.log_mass), strict=True))
WEIGHT = parse_reading("weight", "231, sd 0.5")


def component(text: str) -> Reading:
    return parse_reading("component", text)


def test_room_is_left_for_a_third_of_what_is_usual() -> None:
    """Bounds: 231 g less a third of the usual racquet, and 4 sds of weight and component together."""
    room = 231 - sum(USUAL.values()) / 3
    slack = 4 * (0.5**2 + 0.1**2) ** 0.5
    check_components([WEIGHT, component(f"lump {room + slack - 0.01:.3f}g from 0mm to 90mm, sd 0.1g")], PARTS)
    heavy = component(f"lump {room + slack + 0.01:.3f}g from 0mm to 90mm, sd 0.1g")
    with pytest.raises(
        ReadingError, match=rf"'lump' .* too heavy: in a racquet of 231 g with .* can be {room:.0f} g at most"
    ):
        check_components([WEIGHT, heavy], PARTS)
    check_components([WEIGHT, heavy.model_copy(update={"used": False})], PARTS)


def test_parts_that_are_weighed_need_no_room_beside_their_weight() -> None:
    least = (USUAL["edge"] + USUAL["handle"] + USUAL["butt_cap"]) / 3
    check_components([WEIGHT, component(f"face {231 - least - 1:.1f}g")], PARTS)
    with pytest.raises(ReadingError, match=r"'face' of 230 g .* for edge, handle, butt cap all components"):
        check_components([WEIGHT, component("face 230g")], PARTS)


def test_components_count_together_and_the_heaviest_is_named() -> None:
    both = [component("tape 90g:76mm@3"), component("grip 80g")]
    with pytest.raises(ReadingError, match="the component 'tape' of 90 g"):
        check_components([WEIGHT, *both], PARTS)
    for one in both:
        check_components([WEIGHT, one], PARTS)


def test_without_a_weight_a_racquet_may_be_three_times_the_usual() -> None:
    usual = sum(USUAL.values())
    check_components([component(f"tape {2.6 * usual:.0f}g:76mm@3")], PARTS)
    told = (
        rf"too heavy: even in a racquet of {3 * usual:.0f} g, 3 times the usual, with at least "
        rf"{usual / 3:.0f} g for face, .* can be {3 * usual - usual / 3:.0f} g at most"
    )
    with pytest.raises(ReadingError, match=told):
        check_components([component(f"tape {2.7 * usual:.0f}g:76mm@3")], PARTS)


def test_pieces_count_where_they_were_on() -> None:
    """200 g stuck on are fine in a reading of 431 g, and say nothing of the bare 231 g."""
    piece = component("tape 200g:76mm@3, not counted, with the pieces on")
    check_components([WEIGHT, piece, parse_reading("weight", "431, with the pieces on")], PARTS)
    with pytest.raises(ReadingError, match="in a racquet of 240 g"):
        check_components([WEIGHT, piece, parse_reading("weight", "240, with the pieces on")], PARTS)


def test_readings_with_unknown_pieces_on_are_refused() -> None:
    on = parse_reading("weight", "237, with pieces 2 on")
    piece = component("tape 6g:76mm@3, not counted, with pieces 2 on")
    check_components([WEIGHT, on, piece], PARTS)
    check_components([WEIGHT, on.model_copy(update={"used": False})], PARTS)
    for others in ([], [component("tape 6g:76mm@3, not counted, with the pieces on")]):
        with pytest.raises(
            ReadingError, match=r"the weight reading was taken with pieces on .* digitise after"
        ):
            check_components([WEIGHT, on, *others], PARTS)


@pytest.mark.parametrize(
    ("values", "wrong"),
    [
        ([231.0, 238.0, 32.0, 5.0, 37.0], None),
        ([31.0, 564.0, 32.0, 5.0, 37.0], "balances at 564 mm of 418 mm"),
        ([31.0, 564.0, -1.7, 5.0, 37.0], "balances at 564 mm of 418 mm"),
        ([231.0, 238.0, -1.7, 5.0, -1.5], "has a recoil weight of -1.70 kg·cm²"),
        ([231.0, 238.0, 32.0, -0.25, 37.0], "has a twist weight of -0.25 kg·cm²"),
        ([231.0, 238.0, 32.0, 5.0, -1.5], "has a spin weight of -1.50 kg·cm²"),
    ],
)
def test_figures_that_no_masses_have(values: list[float], wrong: str | None) -> None:
    """The first of them is told with its value."""
    body, grip = Body(np.array(values), np.eye(5)), component("grip 150g, not counted")
    if wrong is None:
        check_body(body, [grip], 418.0)
        return
    told = f"would leave a racquet that {re.escape(wrong)}, as none can: weigh"
    with pytest.raises(ReadingError, match=f"^the component 'grip' of 150 g {told}"):
        check_body(body, [WEIGHT, grip], 418.0)
    with pytest.raises(ReadingError, match=f"^the readings together {told}"):
        check_body(body, [WEIGHT], 418.0)


@pytest.mark.parametrize(
    "text", ["tape 250g:76mm@3", "overgrip 200g, not counted", "overgrip 150g, not counted"]
)
def test_a_racquet_with_such_a_component_is_not_built(text: str) -> None:
    readings = (weight_reading("228"), balance_reading("238"), component(text))
    with pytest.raises(ReadingError, match=f"the component '{text.split(' ')[0]}'"):
        build_racquet(paddle(), HANDLE_TOP, Known("solid", 14.0, 29.0, readings))
