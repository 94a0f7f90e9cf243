"""Why a search has no answer: which limit stands in the way and by how much it would have to give."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from model.columns import Columns
from model.figure_rows import CURVED, figure_at, unit_of
from model.program import Frame, least, limit_rows

Array = NDArray[np.float64]

ROUNDS = 3
WORTH_SAYING = 20  # times the room: more than that is not tape but a rebuilt racquet


@dataclass(frozen=True)
class Obstacle:
    """A limit that, eased by ``short`` (in its figure's unit) to ``reachable``, would let the rest be met.

    ``share`` is that in parts of the figure.
    """

    index: int
    short: float
    reachable: float
    share: float


@dataclass(frozen=True)
class WhyNot:
    """Obstacles, nearest first; how many times the room for tape would do (None: no amount); a sentence."""

    obstacles: tuple[Obstacle, ...]
    times_room: float | None
    sentence: str


def why_not(frame: Frame, columns: Columns) -> WhyNot:
    """Explain a program without an answer."""
    found = [o for i in range(len(frame.limits)) if (o := _obstacle(frame, columns, i)) is not None]
    found.sort(key=lambda o: o.share)
    times = _times_room(frame, columns)
    return WhyNot(tuple(found), times, _sentence(frame, found, times))


def _obstacle(frame: Frame, columns: Columns, index: int) -> Obstacle | None:
    """Ease one limit only, as little as possible; None when that does not help."""
    around = np.zeros(6)
    straight = all(other.figure not in CURVED for other in frame.limits)
    cost = np.append(1e-9 * np.ones(len(columns.room_g)), 1.0)
    for _ in range(1 if straight else ROUNDS):
        rows = limit_rows(frame, around)
        eased = np.array([[-row_unit(frame, index) if row[0] == index else 0.0] for row in rows])
        a = np.hstack([np.array([row[1] for row in rows]) @ columns.per_gram.T, eased])
        answer = least(cost, a, np.array([row[2] for row in rows]), np.append(columns.room_g, np.inf))
        if answer is None:
            return None
        around = answer[0][:-1] @ columns.per_gram
    return obstacle_at(frame, index, around)


def row_unit(frame: Frame, index: int) -> float:
    """What a unit of a limit's figure is in its row: that of a balance is in g mm."""
    return float(frame.body[0]) if frame.limits[index].figure == "balance" else 1.0


def obstacle_at(frame: Frame, index: int, added: Array) -> Obstacle:
    """The limit as an obstacle where these sums (6,) are the nearest there is."""
    limit = frame.limits[index]
    reachable = frame.values(added)[limit.figure]
    short = limit.missed_by(reachable)
    return Obstacle(index, short, reachable, short / max(abs(reachable), 1.0))


def _times_room(frame: Frame, columns: Columns) -> float | None:
    """How many times the cells' room would do for the limits; None where no amount does."""
    rows = limit_rows(frame, np.zeros(6))
    n = len(columns.room_g)
    a = np.hstack([np.array([row[1] for row in rows]) @ columns.per_gram.T, np.zeros((len(rows), 1))])
    roomy = np.hstack([np.eye(n) / columns.room_g[:, None], -np.ones((n, 1))])
    sides = np.concatenate([[row[2] for row in rows], np.zeros(n)])
    answer = least(np.append(np.zeros(n), 1.0), np.vstack([a, roomy]), sides, np.full(n + 1, np.inf))
    return None if answer is None else float(answer[0][-1])


def _sentence(frame: Frame, obstacles: list[Obstacle], times: float | None) -> str:
    if not obstacles:
        names = " and ".join(repr(limit.describe()) for limit in frame.limits)
        more = _more_room(times)
        return f"the limits can't be met together, and easing one alone does not help: {names}{more}"
    return f"{obstacle_words(frame, obstacles[0])}{_more_room(times)}"


def obstacle_words(frame: Frame, obstacle: Obstacle) -> str:
    """Which limit can't be met, how far one can come and how far that is from it."""
    limit = frame.limits[obstacle.index]
    unit = unit_of(limit.figure)
    too_much = limit.high is not None and obstacle.reachable > limit.high
    end, off = ("less", "too much") if too_much else ("more", "short")
    return (
        f"the limit {limit.describe()!r} can't be met{' with the others' if len(frame.limits) > 1 else ''}: "
        f"{figure_at(limit.figure, frame.axis_mm)} can be no {end} than {obstacle.reachable:.5g} {unit}, "
        f"{obstacle.short:.3g} {unit} {off}"
    )


def _more_room(times: float | None) -> str:
    if times is None or times <= 1:
        return "; more tape in the allowed places would not help"
    if times > WORTH_SAYING:
        return f"; not even {WORTH_SAYING} times as much tape as fits there would do"
    shown = f"{times:.1f}" if times >= 1.1 else f"{np.ceil(times * 100) / 100:.2f}"
    return f"; it would take {shown} times as much tape as fits there: allow more layers or places"
