"""Parts laid into outlines: unit means against closed forms."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from model.face import Landmarks
from model.measured import Measured
from model.outline import outline_from_rings
from model.parts import XX, YY, ZZ, Parts, Size, X, Y, parts_of
from model.priors import prior_for
from tests.model_samples import HANDLE_TOP, STRUNG_TOPS, exact, paddle, perforated, shuttle_frame, strung

SIZE = Size(exact(14.0), exact(30.0))


def solid() -> Parts:
    return parts_of(paddle(), HANDLE_TOP, prior_for("solid"), SIZE)


def test_handle_is_a_bar() -> None:
    row = solid().unit[solid().names.index("handle")]
    stack = next(p.stack.value for p in prior_for("solid").parts if p.name == "handle")
    want = [0, 130 / 2, 34**2 / 12, 130**2 / 3, stack * 30**2 / 12]
    assert row[[X, Y, XX, YY, ZZ]] == pytest.approx(want, rel=1e-9, abs=1e-9)


def test_symmetric_racquets_have_their_parts_on_the_axis() -> None:
    for outline, marks, construction in (
        (paddle(), HANDLE_TOP, "solid"),
        (perforated(), HANDLE_TOP, "perforated"),
        (strung(), STRUNG_TOPS, "strung"),
    ):
        unit = parts_of(outline, marks, prior_for(construction), SIZE).unit
        assert unit[:, X] == pytest.approx(np.zeros(len(unit)), abs=1e-6)


def test_parts_of_each_construction() -> None:
    assert solid().names == ("face", "edge", "handle", "butt_cap")
    frame = parts_of(strung(), STRUNG_TOPS, prior_for("strung"), SIZE)
    assert frame.names == ("hoop", "bumper", "throat", "handle", "butt_cap", "strings")
    rod = shuttle_frame()
    with_shaft = parts_of(rod, Landmarks(190.0, 2.0), prior_for("strung"), SIZE)
    assert with_shaft.names == ("hoop", "shaft", "handle", "butt_cap", "strings")


def test_prior_mass_is_density_times_size() -> None:
    density = next(p.density for p in prior_for("solid").parts if p.name == "handle")
    assert np.exp(solid().log_mass[2]) == pytest.approx(density * 34 * 130, rel=1e-9)


def test_a_larger_racquet_of_the_same_shape_scales() -> None:
    big = outline_from_rings(2 * paddle().outer_mm)
    marks = replace(HANDLE_TOP, handle_top_mm=260.0)
    prior = prior_for("solid")
    prior = replace(
        prior, parts=tuple(replace(p, depth_mm=exact(0.0)) for p in prior.parts if p.shape != "butt")
    )
    once = parts_of(paddle(), HANDLE_TOP, prior, SIZE).unit
    twice = parts_of(big, marks, prior, SIZE).unit
    assert twice[:, [Y]] == pytest.approx(2 * once[:, [Y]], rel=1e-9)
    assert twice[:, [XX, YY]] == pytest.approx(4 * once[:, [XX, YY]], rel=1e-9)


def test_scale_and_thickness_modes_are_derivatives() -> None:
    """One sd of scale or thickness in the modes is what a rebuilt racquet shows, to first order."""
    relative, thicker = 1e-4, 1e-3
    size = Size(Measured(14.0, thicker), exact(30.0), relative, 0.0)
    marks = Landmarks(130.0, 0.0)
    prior = prior_for("solid")
    bare = tuple(replace(p, uneven=0.0, stack=exact(p.stack.value), depth_mm=exact(0.0)) for p in prior.parts)
    prior = replace(prior, parts=bare[:3])
    base = parts_of(paddle(), marks, prior, size)
    long = outline_from_rings(paddle().outer_mm * np.array([1.0, 1 + relative]))
    stretched = parts_of(long, Landmarks(130.0 * (1 + relative), 0.0), prior, size)
    thick = parts_of(paddle(), marks, prior, replace(size, face_thickness_mm=exact(14.0 + thicker)))
    face, _handle, along, across = base.modes
    assert not across.any()
    assert along[[0, 2]] == pytest.approx((stretched.unit - base.unit)[[0, 2]], rel=1e-3, abs=1e-9)
    assert face == pytest.approx(thick.unit - base.unit, rel=1e-3, abs=1e-9)
