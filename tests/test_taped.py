"""Tape-measured sizes: combined with the photo's, compared with them, and as the only scale."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from digitise.camera import PARAMETER_NAMES
from digitise.lens_prior import lens_prior
from digitise.reference import CARD, Reference
from digitise.refusal import Reason, Refused
from digitise.spread import spread_of
from digitise.taped import (
    BY_LENGTH,
    DISAGREE_SDS,
    UNKNOWN_HEIGHT_RELATIVE_SD,
    by_length,
    disagreements,
    height_freed,
    height_held,
)
from model.build import Known, Traced, build_racquet
from model.reading_text import parse_reading
from model.recalibrate import traced_of
from tests.model_samples import HANDLE_TOP, paddle
from tests.render import random_scene, render, write
from tests.test_commands_reference import digitise

NOTHING = np.zeros((0, 2))


def test_a_length_tightens_the_width_by_what_they_share() -> None:
    """Conditioning two normal variables, written out."""
    outline = paddle()
    length, width, rho = outline.length_mm, outline.width_mm, 0.8
    length_sd, width_sd = 2.0, 1.0
    reading = parse_reading("length", f"{length + 1.5:.1f}, sd 0.5")
    known = Known("solid", 14.0, 30.0, (reading, parse_reading("weight", "231")), 50.0)
    file = build_racquet(outline, HANDLE_TOP, known, Traced(length_sd, width_sd, rho))
    gain = length_sd**2 / (length_sd**2 + 0.5**2)
    shift = rho * width_sd * length_sd / (length_sd**2 + 0.5**2) * (reading.value - length)  # type: ignore[union-attr]
    assert file.outline.length_mm.value - length == pytest.approx(gain * 1.5, rel=0.05)
    assert file.outline.width_mm.value - width == pytest.approx(shift, rel=0.05)
    assert file.outline.length_mm.sd == pytest.approx(length_sd * math.sqrt(1 - gain), rel=0.02)
    assert file.outline.width_mm.sd == pytest.approx(width_sd * math.sqrt(1 - rho**2 * gain), rel=0.02)
    assert file.traced_size is not None
    assert traced_of(file)[2].size_correlation == rho


def test_disagreement_is_said_beyond_the_joint_sd() -> None:
    spread = spread_of(400.0, 200.0, np.diag([1.2**2, 0.5**2]), NOTHING)
    joint = math.hypot(1.2, 1.0)

    def said(apart: float) -> tuple[str, ...]:
        return disagreements(spread, (parse_reading("length", f"{400 + apart * joint:.2f}, sd 1.0"),))

    assert said(DISAGREE_SDS - 0.1) == ()
    (words,) = said(-DISAGREE_SDS - 0.5)
    assert f"{DISAGREE_SDS + 0.5:.1f} of their joint standard deviations ({joint:.1f} mm) apart" in words
    assert disagreements(spread, (parse_reading("width", "200"), parse_reading("weight", "231"))) == ()
    assert "width" in disagreements(spread, (parse_reading("width", "210"),))[0]


def test_the_height_is_that_from_which_the_length_is_right() -> None:
    """A racquet 1200 px long, seen by a pinhole: length over distance is pixels over focal length."""
    prior = lens_prior(26.0, 2016, 1512)

    def seen(reference: Reference) -> float:
        return 1200 * reference.estimate.camera.height_mm / prior.focal_px

    found = by_length(prior, (2016, 1512), 410.0, seen, "no card")
    assert found.what == BY_LENGTH
    assert found.outlines_px == ()
    height_mm = found.estimate.camera.height_mm
    assert height_mm == pytest.approx(410 * prior.focal_px / 1200, rel=1e-9)
    assert found.estimate.height_sd_mm == pytest.approx(UNKNOWN_HEIGHT_RELATIVE_SD * height_mm, rel=0.05)
    assert "tape-measured length alone" in found.notes[0]


def test_a_height_told_by_the_length_alone_is_held_while_other_measurements_are_taken_in() -> None:
    """Its variance is left out and put back; what they tell of the rest stays. With a card none is held."""
    prior = lens_prior(26.0, 2016, 1512)
    by = by_length(prior, (2016, 1512), 410.0, lambda _: 410.0, "no card")
    height = PARAMETER_NAMES.index("t_z")
    others = np.delete(np.arange(len(PARAMETER_NAMES)), height)
    held = height_held(by, by.estimate)
    assert not held.covariance[height].any()
    assert not held.covariance[:, height].any()
    assert np.array_equal(
        held.covariance[np.ix_(others, others)], by.estimate.covariance[np.ix_(others, others)]
    )
    told = replace(held, covariance=held.covariance / 4)
    freed = height_freed(by, by.estimate, told)
    assert freed.covariance[height, height] == by.estimate.covariance[height, height]
    assert np.array_equal(freed.covariance[others], told.covariance[others])
    with_card = replace(by, what=CARD)
    assert height_held(with_card, by.estimate) is by.estimate
    assert height_freed(with_card, by.estimate, told) is told


def test_another_height_is_tried_where_the_racquet_seems_too_small() -> None:
    prior = lens_prior(26.0, 2016, 1512)
    tried: list[float] = []

    def seen(reference: Reference) -> float:
        tried.append(reference.estimate.camera.height_mm)
        if len(tried) == 1:
            raise Refused(Reason.NO_RACQUET, "none")
        return 410.0

    by_length(prior, (2016, 1512), 410.0, seen, "no card")
    assert len(tried) == 2
    assert tried[1] > 1.3 * tried[0]
    with pytest.raises(Refused):
        by_length(prior, (2016, 1512), 410.0, lambda _: seen_none(), "no card")


def seen_none() -> float:
    raise Refused(Reason.NO_RACQUET, "none")


def test_a_photo_without_a_card_but_with_a_length(tmp_path: Path) -> None:
    rendered = render(replace(random_scene(4, "solid", megapixels=3), cards=()))
    photo = write(rendered, tmp_path, "nocard")
    truth = rendered.truth["racquet"]
    true = {"length": truth["overall_length_mm"], "width": truth["max_width_mm"]}
    options = ("--face-thickness", f"{truth['face_thickness_mm']}", "--weight", "231", "--balance", "238")
    refused = digitise("trace", photo, *options)
    assert refused.returncode == 1
    assert "No card was found" in refused.stderr
    ended = digitise(
        "trace", photo, *options, "--length", f"{true['length']:.0f}", "--out", tmp_path / "x.json"
    )
    assert ended.returncode in (0, 3), ended.stderr
    file = json.loads((tmp_path / "x.json").read_text("utf-8"))
    for name, most_sd in (("length", 1.2), ("width", 2.0)):
        size = file["outline"][f"{name}_mm"]
        assert 0.5 <= size["sd"] < most_sd
        assert abs(size["value"] - true[name]) < 3 * size["sd"]
    assert file["scale"] is None
    assert any("tape-measured length alone" in note for note in file["notes"])
