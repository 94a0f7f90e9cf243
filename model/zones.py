"""Where tape may go: stretches of the edge, as a person names them."""

from __future__ import annotations

import re

from model.edge import clock_hit
from model.errors import SearchError, UnitError
from model.site import Site
from model.units import parse_length

Stretch = tuple[float, float]

_CLOCK = re.compile(r"(\d{1,2})(?::(\d{2}))?")
LEAST_MM = 2.0


def zone_stretches(site: Site, zones: list[str], mirror: bool) -> list[Stretch]:
    """Stretches (start, end) of distances from the tip where tape may go, in order, apart.

    With ``mirror`` they are on the right (0 to the handle top) and stand for both sides alike;
    without, left ones are negative. A zone is ``edge`` (from the tip to the handle top, the
    default), ``2:00 to 4:30`` or ``40mm to 200mm`` (both sides), and with ``left`` or ``right``
    before it one side only. Raises SearchError.
    """
    left, right = site.handle_tops_mm
    reach = min(left, right)
    found: list[Stretch] = []
    for zone in zones or ["edge"]:
        words = zone.strip().lower()
        side = words.split(" ", 1)[0] if words.startswith(("left", "right")) else ""
        start, end = _ends(site, words.removeprefix(side).strip() or "edge", reach, zone)
        if mirror and side:
            raise SearchError(
                f"the zone {zone!r} names one side, but the tape is mirrored: leave out one of the two"
            )
        if mirror or side != "left":
            found.append((start, min(end, reach if mirror else right)))
        if not mirror and side != "right":
            found.append((-min(end, left), -start))
    return _merged(found)


def _ends(site: Site, words: str, reach: float, zone: str) -> Stretch:
    if words in ("edge", "the edge"):
        return 0.0, max(site.handle_tops_mm)
    ends = [part.strip() for part in re.split(r"\bto\b|\.\.", words)]
    if len(ends) != 2:
        raise SearchError(
            f"the zone {zone!r} can't be read: write it like '2:00 to 4:30', '40mm to 200mm' or 'edge'"
        )
    start, end = sorted(_along(site, end, reach, zone) for end in ends)
    if start < 0 or end - start < LEAST_MM or start >= reach - LEAST_MM:
        raise SearchError(
            f"the zone {zone!r} is no stretch of the edge between the tip and the handle top, "
            f"{reach:.0f} mm along: give two places on it"
        )
    return start, end


def _along(site: Site, text: str, reach: float, zone: str) -> float:
    clock = _CLOCK.fullmatch(text)
    if clock is None or (clock[2] is None and int(clock[1]) > 12):
        try:
            return parse_length(text, "zone's end").value
        except UnitError as error:
            raise SearchError(f"in the zone {zone!r}, {error}") from None
    hours = int(clock[1]) % 12 + int(clock[2] or 0) / 60
    if hours > 6:
        hours = 12 - hours  # both sides are meant; the right one stands for them
    hit = clock_hit(site.edge, site.centre_mm, site.face_bottom_mm, hours)
    return reach if hit.s_mm is None else abs(hit.s_mm)


def _merged(stretches: list[Stretch]) -> list[Stretch]:
    merged: list[Stretch] = []
    for start, end in sorted(stretches):
        if merged and start <= merged[-1][1] + 1e-9:
            merged[-1] = (merged[-1][0], max(end, merged[-1][1]))
        else:
            merged.append((start, end))
    return [s for s in merged if s[1] - s[0] >= LEAST_MM]
