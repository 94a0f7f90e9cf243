"""Where the butt cap ends, if not where the outline seems to: below it, or above.

Where the grip meets its cap there is often a stronger edge than where the cap meets the table, and below
the cap its shadow may go on as wide. But a cap has a shape: it goes on as wide as the grip, widens on both
sides alike and ends straight across. The sum of the edges along that shape tells a cap from bare table.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from digitise.band import even_ring
from digitise.grip import NARROWEST_MM, WIDEST_MM
from digitise.handle_strip import (
    BELOW_MM,
    STEP_MM,
    Odds,
    at_sides,
    cap_half_mm,
    column_of,
    columns_mm,
    half_widths,
    pairs,
    rows_mm,
)
from digitise.tone import FloatArray

SHORTEST_MM, LEAST_MM = 40.0, 6.0
"""How far above the outline's end a cap may end, and from how far on, either way, it is another one's end."""
FLARES_MM = np.arange(0.0, 9.0)
RISES_MM = (10.0, 15.0, 20.0, 26.0, 32.0)
"""How much wider than the grip a cap may be on each side, and over what length it widens."""
RISE_SHARE = 0.75
CORNER_MM, END_SHARE = 5.0, 0.75
"""What the rounded corners leave out of the sides' length, and of the end's width."""
END_WEIGHT = 0.5
"""What the end counts beside the sides: between grip and cap runs a border as strong as at the table."""
GRIP_FROM_MM, GRIP_OFF_MM, CENTRE_OFF_MM, GRIPS = 10.0, 4.0, 3.0, 4
"""Where the grip's width is looked for, how far it and its middle may be off, how many ways are tried."""
LEAST_FLARE_MM, WHOLE_FLARE_MM, OUTLINE_FLARE_MM, NEARER_MM = 2.0, 4.0, 3.0, 12.0
"""Least flare of a cap; one above the outline's end must be more than a grip's end, where its cap begins,
also than the grip that the outline has, unless it is nearer to it than a cap is long."""
MARGIN, LEAST_SIDE, LEAST_END, CLEARER_END = 40.0, 1.5, -1.5, 2.0
"""By how much a cap must be likelier than none, its sides' and end's least mean log odds, and by how much an
end above must be clearer than the one the outline has."""
SHORT_CAP_MM = 7.0
"""No cap is shorter: a line nearer to an end is not where the grip above it ends."""
ABOVE_CAP_MM, CAP_FLARE_MM = 35.0, 1.0
"""How far from the end there is grip, and by how much a cap is wider at least."""
LEAST_SIDE_CAPLESS, LEAST_SIDE_HIDDEN = 0.3, -3.0
"""Least mean log odds of a cap's sides below an outline that ends without one: for it to be taken, and to be
thought possible."""
HERE_MM, UNDER_MM, ABOVE_MM = (-LEAST_MM, LEAST_MM), (-BELOW_MM, -LEAST_MM), (LEAST_MM, SHORTEST_MM)
"""Where from the outline's end caps are looked for."""
HIDDEN_MM = (-BELOW_MM, -10.0)
"""Where such a cap may end that is thought possible: of nearer ones too little is seen of their sides."""
NO_END, NO_SIDES, SURE_END, CERTAIN_END = -1.4, -3.0, 1.0, 2.0
"""Mean log odds of an end that is none, of sides that are a shadow's, of an end that is one, and of one that
is so beyond doubt."""
NEAR_END_MM, OWN_END_MM = 2.0, 1.0
"""Nearer to the outline's end than this a cap ends where the outline does; and within what of its end a line
there is the outline's own."""
CAP_MM, FAINT_SIDE, FAINT_END = (-32.0, -15.0), -1.0, 0.0
"""Where a cap ends below the end of a grip, and the least mean log odds of its sides and its end: no grip
ends without a cap, so a faint one is likelier than none."""
WIDE_MARGIN = 100.0
"""By how much a cap with such an end must be likelier than one that ends where the outline does, to be told
from its shadow's sides below."""


@dataclass(frozen=True)
class _Grip:
    half_mm: float
    centre_mm: float


@dataclass(frozen=True)
class Cap:
    """A cap that ends at ``end_mm`` on the axis, ``half_mm + flare_mm`` wide on each side of the grip's
    middle ``centre_mm``; it widens over ``rise_mm``. ``log_odds`` of the whole."""

    end_mm: float
    half_mm: float
    centre_mm: float
    flare_mm: float
    rise_mm: float
    log_odds: float

    def half_at_mm(self, y_mm: FloatArray) -> FloatArray:
        """Half width (n,) at places (n,) along the axis."""
        return _profile(y_mm - self.end_mm, self.half_mm, self.flare_mm, self.rise_mm)


def with_cap(odds: Odds, base_mm: FloatArray) -> FloatArray:
    """The symmetric ring ``base_mm`` (n, 2), begun at the butt at y = 0, with the cap that shows elsewhere in
    the ``odds`` of the strip about its axis. The ring itself if none shows.
    """
    cap = find_cap(odds, half_widths(base_mm))
    return base_mm if cap is None else _joined(base_mm, cap)


def hides_cap(odds: Odds, base_mm: FloatArray) -> bool:
    """Whether the symmetric ring ``base_mm`` (n, 2), begun at the butt at y = 0, ends without a cap though
    borders go on below its end on both sides, if too faint to tell where they end."""
    half_mm = half_widths(base_mm)
    grip_mm = _grip_mm(half_mm)
    if has_cap(half_mm) or not _is_grip(grip_mm):
        return False
    below = [_best_in(odds, grip, [HIDDEN_MM])[0] for grip in _grips(odds.side, grip_mm)]
    return _mean_side(odds, max(below, key=_log_odds)) > LEAST_SIDE_HIDDEN


def find_cap(odds: Odds, half_mm: FloatArray) -> Cap | None:
    """The cap that ends elsewhere than at y = 0, or is clearly wider there than the outline; None if there is
    none. ``half_mm`` (rows,) is half the outline's width, 0 below its end.
    """
    grip_mm = _grip_mm(half_mm)
    if not _is_grip(grip_mm):
        return None
    grips = _grips(odds.side, grip_mm)

    ranges_mm = HERE_MM, UNDER_MM, ABOVE_MM
    on_each = [_best_in(odds, grip, ranges_mm) for grip in grips]
    here, below, above = (max((caps[i] for caps in on_each), key=_log_odds) for i in range(len(ranges_mm)))
    capped = has_cap(half_mm)
    if not capped and _begins_here(odds, here, below, above):
        return below
    if _beyond_doubt(odds, half_mm, here, above):
        return above
    if _mean_end(odds, here) < NO_END:
        return _at_an_end(odds, half_mm, here, below, above)
    shadow_below = capped and _mean_end(odds, here) > CERTAIN_END  # a cap below a cap is none
    if not shadow_below and _likelier(below, here):
        side, end = _mean_side(odds, below), _mean_end(odds, below)
        return below if side > LEAST_SIDE and end > LEAST_END else None
    flared = _flares(above, grip_mm)
    if flared and (shadow_below or _likelier(above, below)) and _clearer(odds, above, here, below):
        return above
    if _ends_nearby(odds, here):
        return here
    wider = here.flare_mm >= LEAST_FLARE_MM and _gained(odds, here, half_mm) > MARGIN
    return replace(here, end_mm=0.0) if wider else None  # of the end the outline itself tells more


def _flares(above: Cap, grip_mm: float) -> bool:
    """Whether a cap that ends above the outline's end is more than the end of its grip, where the cap begins:
    one that is wider than the grip it is tried on may be no wider than the outline's."""
    wider_mm = above.half_mm + above.flare_mm - grip_mm
    if above.end_mm < NEARER_MM:
        return above.flare_mm >= LEAST_FLARE_MM
    return above.flare_mm >= WHOLE_FLARE_MM and wider_mm >= OUTLINE_FLARE_MM


def _is_grip(half_mm: float) -> bool:
    return NARROWEST_MM <= 2 * half_mm <= WIDEST_MM


def _grip_mm(half_mm: FloatArray) -> float:
    return float(np.median(half_mm[rows_mm() > GRIP_FROM_MM]))


def has_cap(half_mm: FloatArray) -> bool:
    """Whether an outline ``half_mm`` (rows,) wide on each side of the strip's axis widens to its end."""
    grip_mm = np.median(half_mm[rows_mm() > ABOVE_CAP_MM])
    return bool(cap_half_mm(half_mm) > grip_mm + CAP_FLARE_MM)


def _end(odds: Odds, cap: Cap) -> float:
    """What a line at the end of ``cap`` counts, 0 where there is none."""
    return END_WEIGHT * max(float(_along_end(odds, cap).sum()), 0.0)


def _along_end(odds: Odds, cap: Cap) -> FloatArray:
    """Log odds (n,) of a border across at the end of ``cap``."""
    reach = np.abs(columns_mm() - cap.centre_mm) < END_SHARE * (cap.half_mm + cap.flare_mm)
    return np.asarray(odds.end[round((cap.end_mm + BELOW_MM) / STEP_MM), reach])


def _ends_nearby(odds: Odds, cap: Cap) -> bool:
    """Whether ``cap``, a little off the outline's end, ends there beyond doubt, and nothing where it does."""
    if abs(cap.end_mm) < NEAR_END_MM or cap.flare_mm < LEAST_FLARE_MM or _mean_end(odds, cap) < CERTAIN_END:
        return False
    near_mm = np.arange(-OWN_END_MM, OWN_END_MM + STEP_MM / 2, STEP_MM)
    return max(_mean_end(odds, replace(cap, end_mm=float(end_mm))) for end_mm in near_mm) < NO_END


def _log_odds(cap: Cap) -> float:
    return cap.log_odds


def _begins_here(odds: Odds, here: Cap, below: Cap, above: Cap) -> bool:
    """Whether the cap ``below`` begins where the outline ends: the line across there is the grip's end, which
    is seen with a cap below it, too."""
    grip_ends = above.end_mm > SHORT_CAP_MM and _mean_end(odds, above) > SURE_END
    gained = below.log_odds + _end(odds, here) - here.log_odds
    if grip_ends or gained < 0:
        return False
    side, end = _mean_side(odds, below), _mean_end(odds, below)
    clear = gained > MARGIN and side > LEAST_SIDE_CAPLESS and end > LEAST_END
    long_enough = CAP_MM[0] < below.end_mm < CAP_MM[1] and _mean_end(odds, here) > CERTAIN_END
    return clear or (long_enough and side > FAINT_SIDE and end > FAINT_END)


def _at_an_end(odds: Odds, half_mm: FloatArray, here: Cap, below: Cap, above: Cap) -> Cap | None:
    """The cap that shows an end, for an outline that ends where there is none: in its shadow, or its cap."""
    if _likelier(below, here) and _mean_end(odds, below) > SURE_END and not _likelier(above, below):
        return below
    if not _clearer(odds, above, here, below):
        return None
    return above if _by_far(odds, above, here) or _own_sides(odds, half_mm, above.end_mm) < NO_SIDES else None


def _beyond_doubt(odds: Odds, half_mm: FloatArray, here: Cap, above: Cap) -> bool:
    """Whether a cap ends above by far the likeliest, and what the outline has below it is a shadow's."""
    return _by_far(odds, above, here) and _own_sides(odds, half_mm, above.end_mm) < NO_SIDES


def _by_far(odds: Odds, cap: Cap, other: Cap) -> bool:
    flared = cap.flare_mm >= LEAST_FLARE_MM and _mean_end(odds, cap) > CERTAIN_END
    return flared and cap.log_odds > other.log_odds + WIDE_MARGIN


def _likelier(cap: Cap, other: Cap) -> bool:
    return cap.log_odds > other.log_odds + MARGIN


def _clearer(odds: Odds, above: Cap, here: Cap, below: Cap) -> bool:
    """Whether a cap that ends above is likelier than one here, and its end much clearer than both others."""
    lit = _mean_end(odds, above) > max(_mean_end(odds, other) for other in (here, below)) + CLEARER_END
    return lit and _likelier(above, here)


def _own_sides(odds: Odds, half_mm: FloatArray, to_mm: float) -> float:
    """Mean log odds of the outline's own sides from its end up to ``to_mm``."""
    rows = np.flatnonzero((rows_mm() > STEP_MM) & (rows_mm() < to_mm - STEP_MM))
    return float(at_sides(odds, rows, half_mm[rows]).mean())


def _gained(odds: Odds, cap: Cap, half_mm: FloatArray) -> float:
    """How much likelier the sides of ``cap`` are than the outline's own, over the cap's length."""
    y_mm = rows_mm()
    rows = np.flatnonzero((y_mm > max(cap.end_mm, 0.0) + CORNER_MM) & (y_mm < cap.end_mm + cap.rise_mm))
    cap_mm = cap.half_at_mm(y_mm[rows])
    along = at_sides(odds, rows, cap_mm, cap.centre_mm).sum() - at_sides(odds, rows, half_mm[rows]).sum()
    return float(along)


def _grips(sides: FloatArray, half_mm: float) -> list[_Grip]:
    """The likeliest widths and middles of the grip above the end, and the one the outline has."""
    along = sides[(rows_mm() > GRIP_FROM_MM)].sum(axis=0)
    halves = np.arange(half_mm - GRIP_OFF_MM, half_mm + GRIP_OFF_MM + 0.1, STEP_MM)
    centres = np.arange(-CENTRE_OFF_MM, CENTRE_OFF_MM + 0.1, STEP_MM)
    tried = np.stack(np.meshgrid(halves, centres, indexing="ij"), axis=-1).reshape(-1, 2)
    both = sum(along[column_of(tried[:, 1] + side * tried[:, 0])] for side in (-1, 1))
    likeliest = tried[np.argsort(-both, kind="stable")[: GRIPS - 1]]
    return [_Grip(half_mm, 0.0), *(_Grip(float(half), float(centre)) for half, centre in likeliest)]


def _profile(from_end_mm: FloatArray, half_mm: float, flare_mm: float, rise_mm: float) -> FloatArray:
    share = np.clip((rise_mm - from_end_mm) / (RISE_SHARE * rise_mm), 0, 1)
    return np.asarray(half_mm + flare_mm * share**2 * (3 - 2 * share))


def _best_in(odds: Odds, grip: _Grip, ranges_mm: Sequence[tuple[float, float]]) -> list[Cap]:
    """The likeliest caps on ``grip``, one that ends in each of the ranges along the axis."""
    pair = pairs(odds, grip.centre_mm)
    places = [[round((end_mm + BELOW_MM) / STEP_MM) for end_mm in each] for each in ranges_mm]
    rows = np.arange(min(low for low, _ in places), max(high for _, high in places) + 1)
    parts = [slice(low - rows[0], high + 1 - rows[0]) for low, high in places]
    straight = pair[:, round(grip.half_mm / STEP_MM)]
    above = np.concatenate([np.cumsum(straight[::-1])[::-1], [0.0]])
    best = [Cap(0.0, grip.half_mm, grip.centre_mm, 0.0, 0.0, -np.inf)] * len(parts)
    for flare_mm in FLARES_MM:
        reach = np.abs(columns_mm() - grip.centre_mm) < END_SHARE * (grip.half_mm + flare_mm)
        end = END_WEIGHT * odds.end[:, reach].sum(axis=1)[rows]
        for rise_mm in RISES_MM if flare_mm else RISES_MM[:1]:
            from_end = np.arange(CORNER_MM, rise_mm + STEP_MM / 2, STEP_MM)
            columns = np.rint(_profile(from_end, grip.half_mm, flare_mm, rise_mm) / STEP_MM).astype(int)
            steps = np.rint(from_end / STEP_MM).astype(int)
            last = np.minimum(rows + steps[-1] + 1, len(pair))
            at = np.minimum(rows[:, None] + steps[None, :], len(pair) - 1) * pair.shape[1] + columns
            whole = pair.take(at).sum(axis=1) + above[last] + end  # three times as fast as by two indices
            for i, part in enumerate(parts):
                k = int(np.argmax(whole[part]))
                if whole[part][k] > best[i].log_odds:
                    end_mm = float(rows_mm()[rows[part][k]])
                    shape = (end_mm, grip.half_mm, grip.centre_mm, float(flare_mm), float(rise_mm))
                    best[i] = Cap(*shape, float(whole[part][k]))
    return best


def _mean_side(odds: Odds, cap: Cap) -> float:
    """Mean log odds of the cap's own sides, down from where the outline ended."""
    y_mm = rows_mm()
    own = np.flatnonzero((y_mm > cap.end_mm + CORNER_MM) & (y_mm < 0))
    at = at_sides(odds, own, cap.half_at_mm(y_mm[own]), cap.centre_mm)
    return float(at.mean()) if len(own) else 0.0


def _mean_end(odds: Odds, cap: Cap) -> float:
    """Mean log odds of the cap's end."""
    return float(_along_end(odds, cap).mean())


def _joined(base_mm: FloatArray, cap: Cap) -> FloatArray:
    """The ring with the cap in place of its own end, begun at the butt's middle."""
    join_mm = max(cap.end_mm + cap.rise_mm, GRIP_FROM_MM)
    y_mm = np.arange(cap.end_mm, join_mm, 1.0)
    right = np.column_stack([cap.half_at_mm(y_mm), y_mm])
    kept = base_mm[base_mm[:, 1] > join_mm]
    butt = np.array([[0.0, cap.end_mm]])
    return even_ring(np.vstack([butt, right, kept, right[::-1] * np.array([-1.0, 1.0])]), 1.0)
