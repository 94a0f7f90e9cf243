"""Which stretches of the outline may be wrong, in words a person can follow to the place."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.ndimage import binary_closing

from digitise.band import mirrored, ring_normals
from digitise.contour import Contour
from digitise.doubt_looks import Looks
from digitise.ring_runs import ring_runs, run_rows
from digitise.spread import OutlineSpread, spread_of
from digitise.symmetry import axis_terms, odd
from digitise.tone import FloatArray

FAINT_EDGE = 0.35
"""Edge strength under which the eye, too, hardly finds the border."""
UNEQUAL_MM = 1.2
"""Difference between a side and the common outline that a racquet's own asymmetry seldom reaches."""
CONFIRMED_MM = 0.4
"""Where both sides lie so near to the middle of the two, what is beside one of them makes it no less sure."""
_PASSES = 10
LEAST_MM = 6.0
END_MM = 30.0
"""A stretch on both sides of the axis, this near to an end, is at that end."""
BUTT_MM = 10.0
"""How far from its end a butt is in doubt where its cap may be hidden."""
END_ROWS_MM, END_SHARE = 4.0, 0.95
"""Where at least this share of what lies so near to a butt's end is in doubt, nothing says where it ends."""
BESIDE_ROWS = 10
"""What is in doubt so near to an end's farthest point, in places 1 mm apart, puts the end in doubt."""
MUCH, WHOLE = 0.15, 0.25
"""Share of the outline above which, in doubt, it calls for correction by hand, and above which all of it is
in doubt: of 26 such outlines of 876 two were right (within 0.8 mm), and of what showed no other fault four
tenths were more than 1.5 mm off."""

HIDDEN, ENDLESS, UNSUITED, DRAWN, SHADOW, HOLLOW, UNLIKE, RIVAL, ALIKE, SIDES, FAINT, REST = (
    "the butt cap may be hidden",
    "where the butt ends is not clear",
    "the grip's width does not suit its thickness",
    "no edge fits, drawn as the rest goes on",
    "shadow",
    "the outline bends inward",
    "what lies outside is not the table",
    "another edge runs outside it",
    "same colour as the table",
    "the two sides differ",
    "faint edge",
    "much of the outline is in doubt",
)
SD_MM = {
    HIDDEN: 12.0,
    ENDLESS: 8.0,
    UNSUITED: 5.0,
    DRAWN: 3.0,
    SHADOW: 4.0,
    HOLLOW: 4.0,
    UNLIKE: 4.0,
    RIVAL: 4.0,
    ALIKE: 1.5,
    SIDES: 1.5,
    FAINT: 1.0,
    REST: 2.0,
}
"""How far off an outline may be there, for each reason, one standard deviation."""
GRAVE = (HIDDEN, ENDLESS, UNSUITED, DRAWN)
"""Reasons that call for correction by hand by themselves."""
CLOSED_MM = 7
"""Gaps up to this long between doubtful places are in doubt, too."""


@dataclass(frozen=True)
class Doubt:
    """A stretch of points ``first`` to ``last`` (indices of the ring, inclusive, may wrap), why, where, and
    the outline's ``sd_mm`` there."""

    first: int
    last: int
    length_mm: float
    side: str
    where: str
    reason: str
    sd_mm: float

    def words(self) -> str:
        """The stretch in one phrase: ``left side, 8 o'clock to 9 o'clock, 46 mm: shadow``."""
        return f"{self.side}, {self.where}, {self.length_mm:.0f} mm: {self.reason}"


def doubtful_stretches(
    contour: Contour,
    looks: Looks | None = None,
    face_from_mm: float | None = None,
    hollow: npt.NDArray[np.bool_] | None = None,
    unsuited: npt.NDArray[np.bool_] | None = None,
) -> tuple[Doubt, ...]:
    """The stretches of at least LEAST_MM where the edge is faint, the two sides do not agree, ``looks`` speak
    against it, it is ``hollow`` (n,), bent inward or bulging, or ``unsuited`` (n,), a grip of a width that
    its thickness rules out, was drawn without an edge or may not be where the butt ends; and all the rest if
    these are much of it. Beyond ``face_from_mm`` from the butt, places are told by the clock."""
    none = np.zeros(len(contour.ring_mm), bool)
    reasons = _reasons(contour, looks, none if hollow is None else hollow)
    reasons = {UNSUITED: none if unsuited is None else unsuited, **reasons}
    doubtful = np.any(list(reasons.values()), axis=0)
    hidden = reasons[HIDDEN]
    padded = binary_closing(np.pad(doubtful, CLOSED_MM, mode="wrap"), np.ones(CLOSED_MM))
    closed = padded[CLOSED_MM:-CLOSED_MM]

    def told(first: int, last: int, reason: str) -> Doubt:
        points = contour.ring_mm[run_rows(first, last, len(closed))]
        side, where = _side(points, contour.ring_mm), _where(points, contour.ring_mm, face_from_mm)
        return Doubt(first, last, float(len(points)), side, where, reason, SD_MM[reason])

    doubts, rest = [], np.ones(len(closed), bool)
    # what is in doubt for a grave reason stands for itself, whatever else there is beside it
    reasons[ENDLESS] = endless = _endless(contour, closed) & ~hidden
    kinds = [hidden, endless]
    for reason in (UNSUITED, DRAWN):
        kinds.append(reasons[reason] & ~np.any(kinds, axis=0))
    kinds.append(closed & ~np.any(kinds, axis=0))
    for first, last in (run for kind in kinds for run in ring_runs(kind)):
        rows = run_rows(first, last, len(closed))
        if len(rows) >= LEAST_MM and doubtful[rows].any():
            rest[rows] = False
            most = max(reasons, key=lambda name: (int(reasons[name][rows].sum()), name in GRAVE))
            doubts.append(told(first, last, most))
    if rest.mean() < 1 - WHOLE:
        doubts += [told(first, last, REST) for first, last in ring_runs(rest)]
    return tuple(doubts)


def _endless(contour: Contour, doubtful: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """Where (n,) the butt ends, if all of that is ``doubtful`` (n,)."""
    y_mm = contour.ring_mm[:, 1]
    end = y_mm < y_mm.min() + END_ROWS_MM
    return np.asarray(end & (doubtful[end].mean() >= END_SHARE))


def _reasons(
    contour: Contour, looks: Looks | None, hollow: npt.NDArray[np.bool_]
) -> dict[str, npt.NDArray[np.bool_]]:
    """Where (n,) each reason holds; of those that hold equally far a grave one counts, else the first."""
    faint = contour.strength < FAINT_EDGE
    sides = contour.borrowed | (np.abs(contour.apart_mm) > UNEQUAL_MM)
    y_mm = contour.ring_mm[:, 1]
    hidden = contour.hides_cap & (y_mm < y_mm.min() + BUTT_MM)
    drawn = np.zeros_like(faint) if contour.drawn is None else contour.drawn
    if looks is None:
        return {HIDDEN: hidden, DRAWN: drawn, HOLLOW: hollow, SIDES: sides, FAINT: faint}
    alike = faint & looks.alike
    doubtful = hidden | drawn | hollow | looks.shadow | looks.unlike | looks.rival | alike | sides | faint
    # Stains and things beside a racquet are on one side only. Shadows are, too, but may have moved the axis.
    confirmed = ~mirrored(doubtful) & _near_twin(contour)
    return {
        HIDDEN: hidden,
        DRAWN: drawn,
        HOLLOW: hollow,
        SHADOW: looks.shadow,
        UNLIKE: looks.unlike & ~confirmed,
        RIVAL: looks.rival,
        ALIKE: alike,
        SIDES: sides,
        FAINT: faint,
    }


def _near_twin(contour: Contour) -> npt.NDArray[np.bool_]:
    """Where (n,) the edges found on both sides mirror each other, about the axis that suits them best."""
    unlike = odd(contour.apart_mm)
    found = ~contour.borrowed & ~mirrored(contour.borrowed)
    terms = axis_terms(contour.ring_mm, ring_normals(contour.ring_mm))
    clear = found * contour.strength * mirrored(contour.strength)
    weight = clear
    for _ in range(_PASSES):
        root = np.sqrt(weight)
        fit = np.linalg.lstsq(terms * root[:, None], unlike * root, rcond=None)[0]
        left = unlike - terms @ fit
        weight = clear / (1 + (left / CONFIRMED_MM) ** 2)
    return np.asarray(found & (np.abs(left) < CONFIRMED_MM))


def _side(points_mm: FloatArray, ring_mm: FloatArray) -> str:
    """Which side, or which end where the stretch lies about the long axis."""
    x_mm, y_mm = points_mm.T
    if x_mm.min() < 0 < x_mm.max():
        low, high = ring_mm[:, 1].min(), ring_mm[:, 1].max()
        if y_mm.max() < low + END_MM:
            return "butt end"
        if y_mm.min() > high - END_MM:
            return "tip"
    return "right side" if x_mm.mean() > 0 else "left side"


def _where(points_mm: FloatArray, ring_mm: FloatArray, face_from_mm: float | None) -> str:
    """By the clock on the face, else by the distance from the butt."""
    low, high = float(points_mm[:, 1].min()), float(points_mm[:, 1].max())
    if face_from_mm is None or low < face_from_mm:
        return f"{low:.0f} to {high:.0f} mm from the butt"
    middle = np.array([0.0, (face_from_mm + float(ring_mm[:, 1].max())) / 2])
    # The ring runs counter-clockwise: the clock's way is from the last point to the first.
    first, last = _hour(points_mm[-1] - middle), _hour(points_mm[0] - middle)
    return f"at {first}" if first == last else f"{first} to {last}"


def _hour(from_middle_mm: FloatArray) -> str:
    """The clock position of a direction, to half an hour: ``3 o'clock``, ``half past 3``."""
    halves = round(float(np.degrees(np.arctan2(from_middle_mm[0], from_middle_mm[1]))) / 15) % 24
    hour = halves // 2 or 12
    return f"half past {hour}" if halves % 2 else f"{hour} o'clock"


def phrases(doubts: tuple[Doubt, ...]) -> list[str]:
    """Each stretch in words; those that are doubtful for the others' sake in one phrase."""
    return with_rest((doubt.reason, doubt.length_mm, doubt.words()) for doubt in doubts)


def with_rest(told: Iterable[tuple[str, float, str]]) -> list[str]:
    """The words of stretches, each told by its reason, length in mm and words; one phrase for all of REST."""
    told = list(told)
    own = [words for reason, _, words in told if reason != REST]
    rest_mm = sum(length_mm for reason, length_mm, _ in told if reason == REST)
    return [*own, f"all the rest, {rest_mm:.0f} mm: {REST}"] if rest_mm else own


def doubtful_share(left: Iterable[tuple[str, float]], around_mm: float) -> float:
    """Share of an outline ``around_mm`` long that is in the doubts ``left``, each a reason and its mm."""
    return sum(mm for _, mm in left) / around_mm


def calls_for_hand(left: Iterable[tuple[str, float]], around_mm: float) -> bool:
    """Whether an outline with these doubts is to be corrected by hand; arguments as for ``doubtful_share``.

    So it is, too, where the butt cap may be hidden, nothing says where the butt ends, a grip is none of its
    thickness or something had to be drawn, however little else is in doubt: of nine, two and 23 such outlines
    of some 1,600 eight, one and 20 were wrong, and all of 26 such grips of 2,283.
    """
    told = list(left)
    return any(reason in GRAVE for reason, _ in told) or doubtful_share(told, around_mm) > MUCH


def widened(spread: OutlineSpread, contour: Contour, doubts: tuple[Doubt, ...]) -> OutlineSpread:
    """The spread with what a doubtful stretch at an end or at a widest place adds to length or width."""
    own = spread.own_mm2.copy()
    x_mm, y_mm = contour.ring_mm.T
    tip, butt = int(y_mm.argmax()), int(y_mm.argmin())
    # both sides are alike, so which of two twins lies farthest along is chance, and an end lies where what
    # is beside it does
    beside = range(-BESIDE_ROWS, BESIDE_ROWS + 1)
    ends = tuple([twin + step for twin in (end, -end) for step in beside] for end in (tip, butt))
    sides = ([int(x_mm.argmin())], [int(x_mm.argmax())])
    for size, extremes in enumerate((ends, sides)):
        for places in extremes:
            here = [d.sd_mm for d in doubts if any(_covers(d, place, len(x_mm)) for place in places)]
            own[size, size] += max(here, default=0.0) ** 2
    return spread_of(spread.length_mm, spread.width_mm, own, spread.shared_mm)


def _covers(doubt: Doubt, place: int, count: int) -> bool:
    return (place - doubt.first) % count <= (doubt.last - doubt.first) % count
