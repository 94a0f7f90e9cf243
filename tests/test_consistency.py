"""Readings that agree and readings that do not."""

from __future__ import annotations

import re

import numpy as np
import pytest

from model.calibrate import calibrate
from model.consistency import consistency
from model.observe import observations
from model.reading_text import made_reading, parse_reading
from model.readings import Reading
from tests.test_calibrate_readings import BOTH, PARTS, reading


def sound() -> list[Reading]:
    """Weight, balance, a machine's swing and a pendulum that agree with each other."""
    first = calibrate(PARTS, (*BOTH, reading("machine")))
    pendulum = reading("pendulum", time_sd_s=0.05)
    from tests.test_calibrate_readings import at_the_estimate

    return [*BOTH, reading("machine"), at_the_estimate(pendulum, first)]


def test_sound_readings_are_left_alone() -> None:
    judged = consistency(calibrate(PARTS, sound()))
    assert judged.words == ()
    assert judged.chance > 0.05
    assert judged.freedom == 4


def test_the_reading_that_is_off_is_named_with_what_the_others_say() -> None:
    readings = sound()
    readings[1] = made_reading({**readings[1].model_dump(), "value": 247.0, "sd": 0.5})
    judged = consistency(calibrate(PARTS, readings))
    assert judged.chance < 0.01
    (words,) = judged.words
    assert words.startswith("the balance reading 247 mm is")
    assert "weight, machine's swing weight at 50 mm, pendulum and outline together say (2" in words
    assert words.endswith("measure it again")


def test_a_slip_of_the_unit_is_told_without_powers_of_ten() -> None:
    (words,) = consistency(calibrate(PARTS, [BOTH[0], parse_reading("balance", "23.8")])).words
    assert "e+" not in words
    assert words.startswith(
        "the balance reading 23.8 mm is 220 mm from what weight and outline together say (242"
    )
    assert words.endswith("measure it again, and check its unit")


def test_a_swing_weight_that_is_off_is_told_with_its_axis() -> None:
    machine = parse_reading("machine", "swing 290 at 100mm")
    (words,) = consistency(calibrate(PARTS, [*BOTH, machine])).words
    assert words.startswith("the machine's swing weight at 100 mm, read as 290 kg·cm², is 220 kg·cm² from ")
    # what the rest says is about the same axis: far under the 120 kg·cm² that it would be about 50 mm
    found = re.search(r"weight, balance and outline together say \((\d+)", words)
    assert found is not None
    assert 60 < float(found[1]) < 90


@pytest.mark.parametrize("left_out", range(4))
def test_a_pull_is_what_leaving_the_reading_out_gives(left_out: int) -> None:
    readings = sound()
    readings[1] = made_reading({**readings[1].model_dump(), "value": 239.0})
    pull = consistency(calibrate(PARTS, readings)).pulls[left_out]
    without = calibrate(PARTS, [r for i, r in enumerate(readings) if i != left_out])
    (seen,) = observations((readings[left_out],), without.view)
    slopes = seen.slopes @ without.view_by_state
    assert pull.others_say == pytest.approx(
        seen.predicted, abs=0.1 * float(np.sqrt(slopes @ without.cov @ slopes))
    )
    assert pull.others_sd == pytest.approx(np.sqrt(slopes @ without.cov @ slopes), rel=0.05)


def test_chi_square_follows_its_law() -> None:
    """Of readings drawn from the model itself, a tenth lie above the law's 90 % point."""
    rng = np.random.default_rng(2)
    mean, cov = PARTS.prior()
    factor = np.linalg.cholesky(cov)
    n = len(PARTS.names)
    chances = []
    for _ in range(150):
        state = mean + 0.3 * factor @ rng.standard_normal(len(mean))
        mass = np.exp(state[:n])
        unit = PARTS.unit + np.tensordot(state[n:], PARTS.modes, axes=1)
        total, y = mass.sum(), mass @ unit[:, 1]
        drawn = [
            made_reading({"kind": "weight", "value": total + 0.5 * rng.standard_normal(), "sd": 0.5}),
            made_reading({"kind": "balance", "value": y / total + rng.standard_normal(), "sd": 1.0}),
            made_reading({"kind": "balance", "value": y / total + rng.standard_normal(), "sd": 1.0}),
        ]
        chances.append(consistency(calibrate(PARTS, drawn)).chance)
    # The third number has no prior to differ from: its law is the readings' own.
    assert np.mean(np.array(chances) < 0.3) < 0.45
    assert np.mean(np.array(chances) > 0.7) > 0.1


@pytest.mark.parametrize(
    ("kind", "texts"),
    [
        ("balance", ["100", "23.8", "180", "238"]),
        ("weight", ["700", "90", "228"]),
        ("two_scales", ["10mm 91.8g, 380mm 280g"]),
    ],
)
def test_what_the_others_say_does_not_hang_on_a_wrong_reading(kind: str, texts: list[str]) -> None:
    """The oracle is the calibration without the reading: the same whatever was read."""
    (other,) = [one for one in BOTH if one.kind == ("weight" if kind == "balance" else "balance")]
    without = calibrate(PARTS, [other])
    for text in texts:
        wrong = parse_reading(kind, text)
        pulls = [pull for pull in consistency(calibrate(PARTS, [other, wrong])).pulls if pull.reading == 1]
        for pull, seen in zip(pulls, observations((wrong,), without.view), strict=True):
            slopes = seen.slopes @ without.view_by_state
            sd = float(np.sqrt(slopes @ without.cov @ slopes))
            usual = abs(pull.sds) < 2.5  # these are told by the slopes alone
            assert pull.others_say == pytest.approx(seen.predicted, abs=(0.2 if usual else 1e-6) * sd)
            assert pull.others_sd == pytest.approx(sd, rel=0.1 if usual else 1e-6)
            assert pull.sds == pytest.approx(
                (seen.observed - seen.predicted) / np.hypot(sd, seen.sd), abs=0.2 if usual else 1e-6
            )


def test_a_wrong_scale_check_is_set_against_what_scales_are_like() -> None:
    """A checked scale errs by 2 %: a weight of 200 g shows 200 ± 4 g before it is read."""
    check = parse_reading("scale_check", "200g shows 250g")
    pull = consistency(calibrate(PARTS, [*BOTH, check])).pulls[-1]
    assert (pull.name, pull.observed) == ("scale check", 250.0)
    assert pull.others_say == pytest.approx(200.0, abs=1.0)
    assert pull.others_sd == pytest.approx(4.0, rel=0.05)
