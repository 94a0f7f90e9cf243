"""A racquet that is unlike the usual one is told from a reading that is off."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from model.calibrate import Calibration, calibrate, view_of
from model.consistency import consistency
from model.like import likeness, with_likeness
from model.observe import observations
from model.parts import ALONG
from model.reading_text import made_reading
from model.readings import Reading
from model.unlike import WIDER, unlike_in, with_wider_prior
from tests.test_calibrate_readings import BOTH, PARTS, reading

N = len(PARTS.names)
NAMES = [*PARTS.names, *PARTS.mode_names]
LIGHT_RIM = {"edge": -2.5, "depth of face": 4.0, "handle": -0.7}


def showing(off: dict[str, float], *asked: Reading) -> list[Reading]:
    """What readings show on the racquet that is off the usual one by so many sds."""
    mean, cov = PARTS.prior()
    away = np.array([off.get(name, 0.0) for name in NAMES])
    state = np.append(mean + away * np.sqrt(np.diag(cov)), 0.0)
    view, _ = view_of(PARTS, state, 0.0)
    shown = []
    for one in asked:
        (row,) = observations((one,), view)
        value = {"times_s": [row.predicted]} if "times_s" in one.model_dump() else {"value": row.predicted}
        shown.append(made_reading({**one.model_dump(), **value}))
    return shown


def all_four(off: dict[str, float]) -> list[Reading]:
    return showing(off, *BOTH, reading("pendulum"), reading("bifilar twist"))


def words_for(readings: list[Reading]) -> tuple[Calibration, str]:
    found = calibrate(PARTS, readings)
    (words,) = consistency(found).words
    return found, words


def test_exact_readings_of_an_unusual_racquet_are_not_blamed() -> None:
    """Without the prior these four can't contradict each other: weight, balance, recoil and twist weight."""
    readings = all_four(LIGHT_RIM)
    found, words = words_for(readings)
    assert consistency(found).chance < 1e-3
    assert consistency(calibrate(with_wider_prior(found).parts, readings)).words == ()
    assert words == (
        "the readings fit each other, but this racquet is unlike the usual one of its construction "
        "(mass of the face further in from the outline, edge lighter); "
        "if that can't be, measure balance or bifilar twist again"
    )


def test_where_one_reading_alone_would_explain_it_both_are_said() -> None:
    usual = showing({}, *BOTH)
    usual[1] = made_reading({**usual[1].model_dump(), "value": usual[1].model_dump()["value"] + 27.0})
    _, words = words_for(usual)
    assert words.startswith(f"the balance reading {usual[1].model_dump()['value']:.4g} mm is 27 mm from what")
    assert "measure it again; if it comes out the same, this racquet is unlike the usual one" in words
    assert "handle lighter" in words


def test_a_reading_that_another_bears_out_is_not_in_doubt() -> None:
    """Two balance readings that agree: only the racquet is left to be unlike."""
    usual = showing({}, *BOTH)
    far = made_reading({**usual[1].model_dump(), "value": usual[1].model_dump()["value"] - 45.0})
    _, words = words_for([usual[0], far, far])
    assert words.startswith("the readings fit each other, but this racquet is unlike the usual one")
    assert words.endswith(")")


def test_readings_that_contradict_each_other_leave_the_racquet_alone() -> None:
    weight, balance = showing({}, *BOTH)
    other = made_reading({**balance.model_dump(), "value": balance.model_dump()["value"] + 8.0})
    _, words = words_for([weight, balance, balance, other])
    assert words.startswith("the balance reading 250.5 mm is 8 mm from what weight, balance and outline")
    assert words.endswith("measure it again")


def test_only_what_is_assumed_of_such_racquets_is_widened() -> None:
    found = calibrate(PARTS, [])
    wide = with_wider_prior(found)
    ratio = np.sqrt(np.diag(wide.cov) / np.diag(found.cov))[:-1]
    for name, one in zip(NAMES, ratio, strict=True):
        seen = name.startswith("scale") or name == "handle top"
        assert one == pytest.approx(1.0 if seen else WIDER)
    assert ALONG in NAMES


@pytest.mark.parametrize(
    ("off", "words"),
    [
        ({"handle": 2.0}, "handle heavier"),
        ({"stack of face": -3.0}, "mass of the face nearer to the middle plane"),
        ({"face thickness": 3.0}, "face thickness above the one assumed"),
        ({"uneven 2 of edge": -3.0}, "mass of the edge unevenly spread"),
        ({"depth of edge": -3.0}, "mass of the edge nearer to the outline"),
    ],
)
def test_what_is_off_is_named_plainly(off: dict[str, float], words: str) -> None:
    found = calibrate(PARTS, [])
    away = np.array([off.get(name, 0.0) for name in NAMES]) * np.sqrt(np.diag(found.cov))[:-1]
    assert unlike_in(replace(found, state=found.state + np.append(away, 0.0))) == (words,)


def test_how_this_racquets_pieces_were_laid_is_neither_widened_nor_named() -> None:
    """Two slips of a piece and the throat top are known of this one racquet: only the handle is off."""
    nothing = np.zeros((3, N, 5))
    names = ("slip 1 of handle", "slip 2 of handle", "throat top")
    modes = np.concatenate([PARTS.modes, nothing])
    parts = replace(PARTS, modes=modes, mode_names=(*PARTS.mode_names, *names))
    found = calibrate(parts, [])
    ratio = np.sqrt(np.diag(with_wider_prior(found).cov) / np.diag(found.cov))[:-1]
    assert ratio[-3:] == pytest.approx(np.ones(3))
    away = np.append(np.zeros(len(NAMES)), [9.0, -9.0, 9.0])
    away[NAMES.index("handle")] = 2.0 * np.sqrt(found.cov[NAMES.index("handle"), NAMES.index("handle")])
    assert unlike_in(replace(found, state=found.state + np.append(away, 0.0))) == ("handle heavier",)


def test_a_racquet_that_others_of_its_model_tell_of_is_compared_with_them() -> None:
    """Told of a sister, a balance 15 mm off is off what she says, and the racquet may be unlike her."""
    sister = likeness(calibrate(PARTS, all_four({})), "sister")
    usual = showing({}, *BOTH)
    usual[1] = made_reading({**usual[1].model_dump(), "value": usual[1].model_dump()["value"] + 15.0})
    (words,) = consistency(calibrate(with_likeness(PARTS, [sister], 0.3), usual)).words
    assert "from what weight, the others of its model and outline together say" in words
    assert "this racquet is unlike the others of its model (" in words
