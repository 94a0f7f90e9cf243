from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from digitise.card_shape import ID1
from digitise.card_size import NAMED, SIZE_RANGE_MM, STATED_SD_MM, card_size
from model.errors import ModelError


def test_names() -> None:
    assert card_size("card") is ID1
    assert card_size(" A4 ") is NAMED["a4"]


def test_paper_sizes_follow_from_their_standards() -> None:
    # ISO 216: A0 has 1 m² and sides of ratio √2; each next size halves the long side, rounded down to mm
    long, short = 1000 * 2**0.25, 1000 * 2**-0.25
    for _ in range(4):
        long, short = short, long / 2
    assert (NAMED["a4"].long_mm, NAMED["a4"].short_mm) == (int(long + 0.5), int(short + 0.5))
    assert NAMED["a5"].long_mm == NAMED["a4"].short_mm
    assert NAMED["a5"].short_mm == NAMED["a4"].long_mm // 2
    letter = NAMED["letter"]
    assert (letter.long_mm, letter.short_mm) == pytest.approx((11 * 25.4, 8.5 * 25.4))
    for paper in ("a4", "a5", "letter"):
        assert NAMED[paper].corner_radius_mm == 0


@pytest.mark.parametrize(
    ("text", "sides_mm", "sd_mm"),
    [
        ("100x70", (100.0, 70.0), 0.5),
        ("70 × 100 mm", (100.0, 70.0), 0.5),
        ("10.0x7.0cm", (100.0, 70.0), 0.5),
        ("100.25x70.50", (100.25, 70.5), STATED_SD_MM),
        ("4x3in", (101.6, 76.2), 12.7),
    ],
)
def test_sides(text: str, sides_mm: tuple[float, float], sd_mm: float) -> None:
    shape = card_size(text)
    assert (shape.long_mm, shape.short_mm) == pytest.approx(sides_mm)
    assert (shape.long_sd_mm, shape.short_sd_mm) == pytest.approx((sd_mm, sd_mm))
    assert shape.corner_radius_mm == 0


@given(st.floats(*SIZE_RANGE_MM), st.floats(*SIZE_RANGE_MM))
def test_the_order_of_the_sides_is_free(first: float, second: float) -> None:
    if max(first, second) > 3.9 * min(first, second):
        return
    one, other = card_size(f"{first:.2f}x{second:.2f}"), card_size(f"{second:.2f}x{first:.2f}")
    assert one == other
    assert one.ratio >= 1


@pytest.mark.parametrize("text", ["a7", "100", "100x", "axb", "100x70furlong", "20x10", "400x50", "1000x700"])
def test_nonsense_is_refused_with_what_to_write(text: str) -> None:
    with pytest.raises(ModelError, match=r"100x70|must be between|238mm"):
        card_size(text)
