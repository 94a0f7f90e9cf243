"""The renderer's mass truth against closed forms."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import Point, box

from tests.render.compose import make
from tests.render.mass import GRID_MM, combine, mass_of, spread
from tests.render.plans import plan_of
from tests.render.racquet import Insides
from tests.render.samples import SAMPLES, club_paddle


def test_uniform_rectangle() -> None:
    """Plate a × b: x² = a²/12, y² about its middle b²/12; figures by parallel axes."""
    a, b, thick, grams = 40.0, 100.0, 12.0, 200.0
    plate = spread("plate", box(-a / 2, 0, a / 2, b), thick**2 / 12)
    assert plate.y_mm == pytest.approx(b / 2)
    # sides along the grid all cut their cells alike, so the grid's error does not average out
    assert plate.x2_mm2 == pytest.approx(a**2 / 12, abs=GRID_MM**2 / 6)
    assert plate.y2_mm2 == pytest.approx(b**2 / 3, abs=GRID_MM**2 / 6)
    mass = combine([(plate, grams)])
    z2 = thick**2 / 12
    assert mass.recoil_kgcm2 == pytest.approx(grams * (b**2 / 12 + z2) / 1e5, rel=2e-4)
    assert mass.twist_kgcm2 == pytest.approx(grams * (a**2 / 12 + z2) / 1e5, rel=2e-4)
    assert mass.spin_kgcm2 == pytest.approx(grams * (a**2 + b**2) / 12 / 1e5, rel=2e-4)
    assert mass.swing_50_kgcm2 == pytest.approx(mass.recoil_kgcm2, rel=2e-4)
    assert mass.swing_100_kgcm2 == pytest.approx(mass.recoil_kgcm2 + grams * 50**2 / 1e5, rel=2e-4)


def test_uniform_ellipse_off_the_origin() -> None:
    """Ellipse of semi-axes a, b at height c: x² = a²/4, y² = c² + b²/4."""
    a, b, c = 90.0, 120.0, 300.0
    ellipse = affinity.translate(affinity.scale(Point(0, 0).buffer(1, quad_segs=200), a, b), 0, c)
    part = spread("face", ellipse, 0.0)
    assert part.y_mm == pytest.approx(c, rel=1e-6)
    assert part.x2_mm2 == pytest.approx(a**2 / 4, rel=2e-5)
    assert part.y2_mm2 == pytest.approx(c**2 + b**2 / 4, rel=2e-5)


def test_a_gradient_moves_the_centre_by_its_twelfth() -> None:
    """Density 1 + g (y/L - 1/2): mean y = L/2 + g L / 12."""
    length, gradient = 200.0, 0.3
    part = spread("bar", box(-5, 0, 5, length), 0.0, gradient)
    assert part.y_mm == pytest.approx(length / 2 + gradient * length / 12, rel=1e-4)


def test_a_patch_adds_a_bell_of_mass() -> None:
    """On a wide plate a bell of gain k and sigma s adds 2πks² to its area, pulling the mean there."""
    side, gain, sigma, middle = 400.0, 0.5, 20.0, 300.0
    part = spread("face", box(-side / 2, 0, side / 2, side), 0.0, 0.0, (gain, middle, sigma))
    extra = 2 * np.pi * gain * sigma**2
    expected = (side**2 * side / 2 + extra * middle) / (side**2 + extra)
    assert part.y_mm == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize("name", list(SAMPLES))
def test_weight_and_balance_are_what_was_asked(name: str) -> None:
    """The shares of head and handle are solved for, all positive."""
    spec = SAMPLES[name]().racquets[0].spec
    mass = make(spec).mass
    assert mass.weight_g == pytest.approx(spec.weight_g, rel=1e-12)
    assert mass.balance_mm == pytest.approx(spec.balance_mm, rel=1e-12)
    assert min(mass.parts_g.values()) > 0
    # twist + recoil = spin + 2 Σ m z², and z² is at most that of mass on the butt's surface
    gap = mass.twist_kgcm2 + mass.recoil_kgcm2 - mass.spin_kgcm2
    half = max(spec.handle_thickness_mm / 2 + spec.butt_flare_mm, spec.face_thickness_mm / 2)
    assert 0 < gap < 2 * spec.weight_g * half**2 / 1e5


def test_an_uneven_inside_changes_what_weight_and_balance_hide() -> None:
    """Same weight and balance, more mass in the edge: twist weight rises."""
    spec = club_paddle().racquets[0].spec
    plan = plan_of(spec)
    light = mass_of(replace(spec, insides=Insides(edge_share=0.10)), plan)
    heavy = mass_of(replace(spec, insides=Insides(edge_share=0.30)), plan)
    assert heavy.twist_kgcm2 > 1.05 * light.twist_kgcm2


def test_a_balance_out_of_reach_is_refused() -> None:
    """A balance point beyond the head's own centre needs a handle of negative mass."""
    spec = replace(club_paddle().racquets[0].spec, balance_mm=330.0)
    with pytest.raises(ValueError, match="out of reach"):
        mass_of(spec, plan_of(spec))
