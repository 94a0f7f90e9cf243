"""Readings: as typed, as kept in the file, and refused."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from model.errors import ModelError, ReadingError
from model.reading_clauses import EXAMPLES
from model.reading_text import KINDS, balance_reading, made_reading, parse_reading, weight_reading
from model.reading_words import brief, listed, spell
from model.readings import READING, WeightReading


@pytest.mark.parametrize(("text", "sd"), [("231", 0.5), ("231.4", 0.2), ("8.1oz", 0.05 * 28.349523125)])
def test_weight_sd_follows_the_last_digit(text: str, sd: float) -> None:
    assert weight_reading(text).sd == pytest.approx(sd)


@pytest.mark.parametrize(
    ("text", "sd"), [("238", 1.0), ("238.5mm", 1.0), ("9.4in", 0.05 * 25.4), ("24cm", 5.0)]
)
def test_balance_sd_follows_the_last_digit(text: str, sd: float) -> None:
    assert balance_reading(text).sd == pytest.approx(sd)


def test_repeats_are_averaged_and_kept() -> None:
    found = weight_reading("231, 232, 231, 230")
    assert (found.value, found.repeats) == (231.0, [231.0, 232.0, 231.0, 230.0])
    assert found.sd == pytest.approx((2 / 3) ** 0.5 / 2)
    assert weight_reading("231.4, 231.4").sd == 0.2
    assert weight_reading("231, sd 2g").sd == 2.0
    assert weight_reading("231, to the nearest 5g").sd == 2.5


@pytest.mark.parametrize(
    ("kind", "text", "fields"),
    [
        ("balance", "238, pencil 7mm", {"value": 238.0, "support_width_mm": 7.0}),
        ("scale check", "200g shows 200.4g", {"known_g": 200.0, "value": 200.4, "sd": 0.1}),
        (
            "two-supports",
            "block 1cm, scale 380mm, reads 139.2g, tilt 2deg, height 15mm",
            {"block_mm": 10.0, "scale_mm": 380.0, "value": 139.2, "tilt_deg": 2.0, "height_mm": 15.0},
        ),
        (
            "two-scales",
            "380mm 139.2g, 10mm 91.8g",
            {"low_mm": 10.0, "low_g": 91.8, "high_mm": 380.0, "high_g": 139.2},
        ),
        ("head_reading", "136.4g, butt 5mm, tip at 405mm", {"block_mm": 5.0, "scale_mm": 405.0}),
        ("butt_reading", "94.6g, butt 5mm, tip at 405mm", {"block_mm": 405.0, "scale_mm": 5.0}),
        (
            "pendulum",
            "pivot 30mm, 20 swings, 21.86s, 21.9s, amplitude 10°, pivot radius 2mm, edgeways",
            {
                "pivot_mm": 30.0,
                "swings": 20,
                "times_s": [21.86, 21.9],
                "amplitude_deg": 10.0,
                "pivot_radius_mm": 2.0,
                "leads": "edge",
            },
        ),
        (
            "bifilar",
            "twist, threads 90cm, spacing 150mm, top 160mm, 20 swings, 31.2s",
            {"figure": "twist", "thread_mm": 900.0, "spacing_mm": 150.0, "top_spacing_mm": 160.0},
        ),
        (
            "bifilar",
            "recoil, threads 900mm, spacing 150mm, offset 4mm, offset ± 0.5mm, 31.2s",
            {"offset_mm": 4.0, "offset_sd_mm": 0.5},
        ),
        ("bifilar", "recoil, threads 900mm, spacing 150mm, offset 4mm, 31.2s", {"offset_sd_mm": 1.0}),
        ("machine", "swing 118.5 at 50mm", {"figure": "swing", "value": 118.5, "axis_mm": 50.0}),
        ("machine", "twist weight 6.2 kg·cm², sd 0.1", {"figure": "twist", "value": 6.2, "sd": 0.1}),
        ("machine", "twist 62e-1 kg⋅cm², sd 0.1kgcm", {"figure": "twist", "value": 6.2, "sd": 0.1}),
        ("published", "weight 8.1oz", {"figure": "weight", "value": 8.1 * 28.349523125}),
        ("component", "butt cap 5.2g", {"name": "butt cap", "value": 5.2, "counts": True}),
        (
            "component",
            "overgrip 6g from 0mm to 150mm, not counted",
            {"from_mm": 0.0, "to_mm": 150.0, "counts": False},
        ),
        ("component", "3g:76mm@3, mirror", {"name": "tape", "value": 6.0, "strip": "3g:76mm@3"}),
        ("component", "guard 20g@perimeter", {"name": "guard", "value": 20.0, "strip": "20g@perimeter"}),
        ("component", "5g@butt, depth 20mm", {"name": "tape", "strip": "5g@butt, depth 20mm"}),
        ("component", "patch 2g:30x20mm@x20 y250, turned 30", {"value": 2.0, "name": "patch"}),
        ("component", "piece 1 3g:40mm@150mm from the handle top, mirrored", {"value": 6.0, "mirror": False}),
        ("length", "40.9cm", {"value": 409.0, "sd": 1.0}),
        ("weight", "231, not used", {"used": False}),
    ],
)
def test_typed_readings(kind: str, text: str, fields: dict[str, Any]) -> None:
    raw = parse_reading(kind, text).model_dump()
    for key, value in fields.items():
        assert raw[key] == (pytest.approx(value) if isinstance(value, float) else value), key
    assert READING.validate_python(raw).model_dump() == raw


def test_the_order_of_clauses_does_not_matter() -> None:
    assert parse_reading("pendulum", "pivot 30mm, 20 swings, 21.86s") == parse_reading(
        "pendulum", "21.86s, 20 swings, pivot 30mm"
    )


def test_every_kinds_example_can_be_read() -> None:
    assert set(EXAMPLES) == set(KINDS)
    for kind, example in EXAMPLES.items():
        for one in example.split(", or "):
            assert parse_reading(kind, one.removesuffix(" for repeats")).used


@pytest.mark.parametrize(
    ("kind", "text", "words"),
    [
        ("weight", "0", "more than zero"),
        ("weight", "", "leaves something out"),
        ("weight", "231, blue", "blue"),
        ("heaviness", "231", "there is no kind of reading 'heaviness'"),
        ("pendulum", "20 swings, 21.86s", "leaves something out: write it like pivot 30mm"),
        ("pendulum", "pivot 30mm, 0 swings, 21.86s", "swings must be more than 0, not 0: write it"),
        ("pendulum", "pivot 30mm, 20 swings, 21.86s, amplitude 80°", "amplitude must be at most 60, not 80"),
        ("weight", "231,4", "has the repeats 231, 4, too different .* decimals with a point"),
        ("pendulum", "pivot 30mm, 20 swings, 20,45s", "repeats 20, 45s"),
        ("weight", "231, sd 0", "sd must be more than 0"),
        ("bifilar", "threads 900mm, spacing 150mm, 31.2s", "must name twist, recoil or spin"),
        ("bifilar", "twist, threads 90mm, spacing 10mm, top 300mm, 31.2s", "too short"),
        ("machine", "swing 118.5", "needs its axis.*: write it like swing 118.5 at 50mm"),
        ("machine", "twist 6.2 at 50mm", "no other figure has one"),
        ("two_supports", "block 10mm, scale 12mm, reads 90g", "at least 10 mm apart"),
        ("two_scales", "10mm 91.8g", "must have two scales, not 1"),
        ("component", "overgrip 6g from 0mm to 150mm, by length", "has 'by length', which is not understood"),
        ("component", "butt cap 5.2g, mirror", "has 'mirror', which is not understood"),
        ("component", "overgrip 6g, place sd 3mm", "has 'place sd 3mm', which is not understood"),
        ("component", "tape lead:76mm@3", "must be in grams, not the material lead: weigh the piece"),
    ],
)
def test_what_can_not_be_read_is_said(kind: str, text: str, words: str) -> None:
    with pytest.raises(ModelError, match=words) as caught:
        parse_reading(kind, text)
    assert "\n" not in str(caught.value)


def test_fields_are_checked() -> None:
    with pytest.raises(ValidationError):
        WeightReading(value=231.0, sd=0.0)
    with pytest.raises(ReadingError, match="mean of the repeats"):
        made_reading({"kind": "weight", "value": 231.0, "sd": 0.5, "repeats": [230.0, 231.0]})
    with pytest.raises(ReadingError):
        made_reading({"kind": "colour", "value": 231.0, "sd": 0.5})


@settings(deadline=None)
@given(st.builds(lambda kind, used: (kind, used), st.sampled_from(sorted(EXAMPLES)), st.booleans()))
def test_spelt_readings_read_back(choice: tuple[str, bool]) -> None:
    kind, used = choice
    for one in EXAMPLES[kind].split(", or "):
        reading = parse_reading(kind, one.removesuffix(" for repeats") + ("" if used else ", not used"))
        assert spell(parse_reading(reading.kind, spell(reading))) == spell(reading)


def test_spelt_readings_keep_what_is_unusual() -> None:
    for kind, text in (
        (
            "pendulum",
            "pivot 30mm, 20 swings, 21.86s, 21.9s, amplitude 12deg ± 1deg, pivot radius 2mm, edgeways",
        ),
        (
            "bifilar",
            "spin, threads 900mm, spacing 150mm, top 160mm, offset 4mm, offset ± 0.4mm, 20 swings, 31.2s",
        ),
        ("two_supports", "block 10mm, scale 380mm, 139.2g, 139.4g, tilt 2deg, height 15mm, support 8mm"),
        ("component", "tape 3g:76mm@3, width 6mm, mirror, not counted"),
        ("balance", "238.5, 238, pencil 7mm, sd 0.4"),
    ):
        reading = parse_reading(kind, text)
        assert spell(parse_reading(reading.kind, spell(reading))) == spell(reading)
        assert parse_reading(reading.kind, spell(reading)) == reading
    assert (
        brief(parse_reading("pendulum", "pivot 30mm, 20 swings, 21.86s")) == "pivot 30mm, 20 swings, 21.86s"
    )


@pytest.mark.parametrize(
    ("kind", "text", "shown"),
    [
        ("component", "face 152g", "face 152g"),
        ("component", "height 3g from 0mm to 9mm, sd 0.2g", "height 3g from 0mm to 9mm"),
        ("weight", "237.1g, sd 0.5g, with the pieces on", "237.1g, with the pieces on"),
        ("weight", "237.1g, with pieces 2 on", "237.1g, with pieces 2 on"),
        (
            "two_supports",
            "block 10mm, scale 380mm, reads 139.2g, support 0.5mm, tilt 0.5deg, height 12mm",
            "block 10mm, scale 380mm, 139.2g, support 0.5mm, tilt 0.5deg, height 12mm",
        ),
        (
            "two_supports",
            "block 10mm, scale 380mm, reads 139.2g",
            "block 10mm, scale 380mm, 139.2g",
        ),
        (
            "pendulum",
            "pivot 30mm, 20.92s, amplitude 10deg ± 1deg",
            "pivot 30mm, 1 swings, 20.92s, amplitude 10deg ± 1deg",
        ),
        (
            "bifilar",
            "twist, threads 900mm, spacing 100mm, offset 4mm, offset ± 2mm, 31.2s",
            "twist, threads 900mm, spacing 100mm, offset 4mm, 1 swings, 31.2s",
        ),
        (
            "pendulum",
            "pivot 30mm, 20.92s, edge first, in air",
            "pivot 30mm, 1 swings, 20.92s, edge leads, in air",
        ),
    ],
)
def test_a_table_shows_all_that_is_not_usual(kind: str, text: str, shown: str) -> None:
    assert brief(parse_reading(kind, text)) == shown


@pytest.mark.parametrize(
    ("kind", "text", "shown"),
    [
        ("weight", "230g, sd 1g", "230g, sd 1g"),
        ("weight", "232g, sd 0.5g", "232g"),  # half the last digit's step, as for 232g alone
        ("weight", "373.0", "373g, sd 0.2g"),
        ("weight", "373", "373g"),
        ("weight", "8.1oz", "229.631g, sd 1.42g"),  # half of 0.1 oz of 28.3495 g
        ("weight", "231, within 0.5g, with the pieces on", "231g, with the pieces on, within 0.5g"),
        ("balance", "238.5, 238, pencil 7mm, sd 0.4", "238.5mm, 238mm, edge 7mm, sd 0.4mm"),
        ("pendulum", "pivot 30mm, 20 swings, 21.86s", "pivot 30mm, 20 swings, 21.86s"),
        (
            "pendulum",
            "pivot 30mm, pivot ± 2mm, 20 swings, 21.86s, sd 0.02s",
            "pivot 30mm, 20 swings, 21.86s, pivot ± 2mm, sd 0.02s",
        ),
        ("component", "tape 3g:76mm@3, width 6mm, mirror", "tape 3g:76mm@3, width 6mm, mirror"),
        ("component", "overgrip 6g, sd 0.4g", "overgrip 6g, sd 0.4g"),
        ("machine", "swing 118.5 at 50mm, sd 2", "swing 118.5kgcm2 at 50mm, sd 2kgcm2"),
    ],
)
def test_a_list_shows_a_stated_sd_and_what_digits_told(kind: str, text: str, shown: str) -> None:
    assert listed(parse_reading(kind, text)) == shown


@pytest.mark.parametrize(
    ("kind", "text", "meant"),
    [
        ("weight", "230 sd 1g", "230, sd 1g"),
        ("weight", "231 g 231.4 g", "231 g, 231.4 g"),
        ("pendulum", "pivot 50mm 20 swings 20.45", "pivot 50mm, 20 swings, 20.45"),
        ("pendulum", "pivot 50mm, 20 swings 20.45s in air", "pivot 50mm, 20 swings, 20.45s, in air"),
        ("two_scales", "10mm 91.8g 380mm 139.2g", "10mm 91.8g, 380mm 139.2g"),
    ],
)
def test_a_missing_comma_is_named(kind: str, text: str, meant: str) -> None:
    with pytest.raises(ReadingError) as why:
        parse_reading(kind, text)
    said = f"the {kind.replace('_', ' ')} reading {text!r} lacks a comma: write it like {meant!r}"
    assert str(why.value) == said
    parse_reading(kind, meant)


@pytest.mark.parametrize("text", ["230 stones", "23 1g", "230 1g sd"])
def test_no_comma_is_asked_for_where_it_would_not_help(text: str) -> None:
    with pytest.raises(ModelError) as why:
        parse_reading("weight", text)
    assert "comma" not in str(why.value)
