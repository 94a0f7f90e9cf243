"""The racquet, limits and exhaustive answers that the tests of the search share."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from model.build import body_of, site_in
from model.columns import Ground, Tape, table_for
from model.face import Landmarks, with_hoop
from model.figure_rows import figure_values
from model.limits import Limit
from model.pieces import Stuff
from model.program import Frame, Goal
from model.search import Found
from model.site import Site, site_of
from model.why_not import WhyNot
from model.zones import zone_stretches
from tests.model_samples import paddle_file, strung

Array = NDArray[np.float64]
FILE = paddle_file()
SITE = site_in(FILE)
BODY = body_of(FILE).values
AXIS = 50.0
TAPE = Tape(0.02, 0.0, Stuff(6.35, 0.33))
GROUND = Ground(tuple(zone_stretches(SITE, [], True)))
BEFORE = figure_values(BODY, np.zeros(6), AXIS)
MET = 1e-6


def frame(*limits: Limit, goal: Goal | None = None) -> Frame:
    return Frame(BODY, AXIS, tuple(l.absolute(BEFORE[l.figure]) for l in limits), goal or Goal())  # noqa: E741


def up(figure: str, by: float) -> Limit:
    return Limit(figure, by, None, True)


def down_to(figure: str, by: float) -> Limit:
    return Limit(figure, None, by, True)


def found(answer: Found | WhyNot) -> Found:
    assert isinstance(answer, Found), answer
    return answer


def every_pair(
    step_mm: float, site: Site, ground: Ground
) -> tuple[Array, NDArray[np.intp], NDArray[np.intp]]:
    """Sums (m, 6) of all single mirrored strips with ends on a grid, and which knots they end at."""
    table = table_for(site, TAPE)
    (reach,) = [end for _, end in ground.stretches]
    knots = np.arange(0, reach, step_mm)
    upto = TAPE.grams_per_mm * (table.upto(knots) - table.upto(-knots))
    i, j = np.triu_indices(len(knots), 1)
    return upto[j] - upto[i], i.astype(np.intp), j.astype(np.intp)


def least_of(asked: Frame, sums: Array) -> float:
    cost = asked.cost_each(sums)[asked.missed_each(sums) < MET]
    return float(cost.min()) if len(cost) else np.inf


def exhaustive_pairs(asked: Frame, step_mm: float, site: Site, ground: Ground) -> float:
    """The least goal of all single mirrored strips with ends on a grid."""
    return least_of(asked, every_pair(step_mm, site, ground)[0])


def exhaustive_runs(asked: Frame, step_mm: float, site: Site = SITE, ground: Ground = GROUND) -> float:
    """The least goal of all single mirrored strips, or pairs of strips a side, with ends on a grid."""
    single, i, j = every_pair(step_mm, site, ground)
    a, b = np.triu_indices(len(single), 1)
    apart = j[a] < i[b]
    return least_of(asked, np.vstack([single, single[a[apart]] + single[b[apart]]]))


def on_a_frame(twist: float, balance: float) -> tuple[Frame, Site, Ground]:
    """At least a share more twist weight on a strung frame, its balance at most so many mm higher."""
    outline = strung()
    site = site_of(outline, with_hoop(outline, Landmarks(170.0)), 22.0, 28.0)
    body = np.array([300.0, 330.0, 150.0, 13.5, 160.0])
    before = figure_values(body, np.zeros(6), 100.0)
    limits = (
        Limit("twist", before["twist"] * (1 + twist), None),
        Limit("balance", None, before["balance"] + balance),
    )
    return Frame(body, 100.0, limits, Goal()), site, Ground(tuple(zone_stretches(site, [], True)))
