"""Where tape may go: stretches of the edge, as a person names them."""

from __future__ import annotations

import math
import re

from model.clock_text import clock_hours
from model.edge import clock_hit
from model.errors import SearchError, UnitError
from model.site import Site
from model.units import parse_length

Stretch = tuple[float, float]

LEAST_MM = 2.0


def zone_stretches(site: Site, zones: list[str], mirror: bool) -> list[Stretch]:
    """Stretches (start, end) of distances from the tip where tape may go, in order, apart.

    With ``mirror`` they are on the right (0 to the handle top) and stand for both sides alike;
    without, left ones are negative. A zone is ``edge`` (from the tip to the handle top, the
    default), ``40mm to 200mm`` (on both sides), or ``2:00 to 4:30``: clockwise as seen from the first to
    the second, across the tip as well (``11:00 to 2:00``) but not across the handle. With ``mirror`` its
    mirror image is meant too, so ``11:00 to 2:00`` is then all within two hours of the tip.
    With ``left`` or ``right`` before it a zone is on that side only. Raises SearchError.
    """
    left, right = site.handle_tops_mm
    reach = min(left, right)
    found: list[Stretch] = []
    for zone in zones or ["edge"]:
        words = zone.strip().lower()
        side = words.split(" ", 1)[0] if words.startswith(("left", "right")) else ""
        if mirror and side:
            raise SearchError(
                f"the zone {zone!r} names one side, but the tape is mirrored: leave out one of the two"
            )
        for start, end in _named(site, words.removeprefix(side).strip() or "edge", zone):
            if mirror:
                near = 0.0 if start < 0 < end else min(abs(start), abs(end))
                found.append((near, min(max(abs(start), abs(end)), reach)))
            else:
                low, high = -left if side != "right" else 0.0, right if side != "left" else 0.0
                if side and (end <= low or start >= high):
                    start, end = -end, -start  # as far along on the side that is named
                found.append((max(start, low), min(end, high)))
    return _merged(found)


def _named(site: Site, words: str, zone: str) -> list[Stretch]:
    """A zone's stretches, left ones negative: one by the clock, one on each side by distances."""
    left, right = site.handle_tops_mm
    reach = min(left, right)
    if words in ("edge", "the edge"):
        return [(-left, 0.0), (0.0, right)]
    ends = [part.strip() for part in re.split(r"\bto\b|\.\.", words)]
    if len(ends) != 2:
        raise SearchError(
            f"the zone {zone!r} can't be read: write it like '2:00 to 4:30', '40mm to 200mm' or 'edge'"
        )
    hours = [_hours(end, zone) for end in ends]
    if hours[0] is not None and hours[1] is not None:
        arc = _clockwise(site, hours[0], hours[1], zone)
        if arc[1] - arc[0] < LEAST_MM:
            raise _no_stretch(zone, reach)
        return [arc]
    places = [
        _length(end, zone) if h is None else abs(_along(site, h, reach))
        for end, h in zip(ends, hours, strict=True)
    ]
    start, end = sorted(places)
    if start < 0 or end - start < LEAST_MM or start >= reach - LEAST_MM:
        raise _no_stretch(zone, reach)
    return [(-end, -start), (start, end)]


def _clockwise(site: Site, first: float, second: float, zone: str) -> Stretch:
    """From one clock position to the next, clockwise as seen; 6 o'clock is the handle top of either side."""
    left, right = site.handle_tops_mm
    begin, end = (first - 12 if first >= 6 else first), (second - 12 if second > 6 else second)
    if begin > end:
        raise SearchError(
            f"the zone {zone!r} runs clockwise across the handle: turn the two round, or give two zones, one "
            "up to 6:00 and one from there"
        )
    return _along(site, begin, left), _along(site, end, right)


def _along(site: Site, hours: float, reach: float) -> float:
    """Signed distance from the tip of a clock position (-6 to 6 hours); by the throat, the handle top's."""
    hit = clock_hit(site.edge, site.centre_mm, site.face_bottom_mm, hours)
    return math.copysign(reach, hours) if hit.s_mm is None else hit.s_mm


def _hours(text: str, zone: str) -> float | None:
    try:
        return clock_hours(text)
    except UnitError as error:
        raise SearchError(f"in the zone {zone!r}, {error}") from None


def _length(text: str, zone: str) -> float:
    try:
        return parse_length(text, "zone's end").value
    except UnitError as error:
        raise SearchError(f"in the zone {zone!r}, {error}") from None


def _no_stretch(zone: str, reach: float) -> SearchError:
    return SearchError(
        f"the zone {zone!r} is no stretch of the edge between the tip and the handle top, "
        f"{reach:.0f} mm along: give two places on it"
    )


def _merged(stretches: list[Stretch]) -> list[Stretch]:
    merged: list[Stretch] = []
    for start, end in sorted(stretches):
        if merged and start <= merged[-1][1] + 1e-9:
            merged[-1] = (merged[-1][0], max(end, merged[-1][1]))
        else:
            merged.append((start, end))
    return [s for s in merged if s[1] - s[0] >= LEAST_MM]
