"""Where the handle ends, by the picture: lines straight across it near where its width says that it ends.

A grip ends in a line across its whole width: the end of the wrap, or the two edges of a collar of about 8 mm
round it. Turns of the wrap run aslant and holes in it are small, so a median across the handle leaves
neither. Each line votes for an end, the width holds the votes together, and what spread is left is the sd.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from digitise.camera import Camera
from digitise.contour import Contour
from digitise.landmarks import LEAST_TOP_MM, WIDENED_SD_MM, HandleMarks
from digitise.linear import LinearPhoto
from digitise.resting import Body, Resting
from digitise.tone import FloatArray, log_colour

ALONG_MM, COLUMNS, WIDTH_SHARE = 0.5, 45, 0.8
"""Step along the handle, samples across it, and the share of its width that is looked at."""
STEP_MM = 1.5
"""Compared is the median colour of as much on either side of a line."""
COLOUR_WEIGHT = np.array([1.0, 1.5, 1.5])
HALF_STEP, LEAST_STEP, TEXTURE_TIMES = 0.15, 0.04, 3.0
"""Step of log colour that counts half of a strong one, the least that counts at all, and how many times what
is usual on the grip does not count."""
APART_MM = 3.0
"""Lines are at least as far from each other."""
REACH_MM, BEYOND_MM = 45.0, 35.0
"""How far before and after the end by width lines are looked for."""


@dataclass(frozen=True)
class Vote:
    """How much likelier a clear line makes it that the handle ends ``before_mm`` from it (negative: beyond
    it), within the sd."""

    odds: float
    before_mm: float
    sd_mm: float


VOTES_PLAIN = (Vote(200.0, 0.2, 1.2), Vote(8.0, -8.0, 2.0))
"""Of the line at the end itself, seen at it or a little beyond, and of a collar's lower edge."""
VOTES_THICK = (Vote(3.0, 0.7, 1.6), Vote(120.0, -10.0, 3.5))
"""The same where the face is at least as thick as the grip: its root lies over the end and hides it, and the
line that shows is the root's lower end. It lies 2 to 10 mm before the end on racquets of ``tests.render`` and
12 to 14 on those made elsewhere; the vote stands between them."""
UNDER_ROOT_MM, UNDER_ROOT_SD_MM = 4.0, 5.0
"""How much farther the grip goes on under a thick face's neck, and the sd of where it ends: 8 to 13 mm beyond
where the neck begins on racquets of ``tests.render``, 0 to 5 on those made elsewhere."""
COLLAR_ODDS, COLLAR_SD_MM, HALF_FALL_MM = 30.0, 2.0, 0.5
"""How much likelier a place becomes by a clear fall of the width behind a collar, how exactly the fall's
middle tells, and the fall that counts half of a clear one."""
STRAY = 0.003
"""Weight of anywhere within SPAN_MM, to that of the likeliest place by width, which may be wrong."""
SHAFT_MM, ON_SHAFT = 90.0, 0.1
"""How long the shaft of a frame may go on as wide as its grip, and the weight of anywhere there where the
width alone tells of no more than the neck."""
SPAN_MM, GRID_MM = 30.0, 0.25
SAME_MM, LEAST_SD_MM = 3.0, 0.8
"""The answer is the mean over what is within SAME_MM of the likeliest place; no answer is surer."""


def seen_top(
    linear: LinearPhoto, camera: Camera, contour: Contour, body: Body, marks: HandleMarks
) -> HandleMarks:
    """``marks`` with the handle top as the picture shows it. ``contour`` starts at the butt's end."""
    shaft_mm = SHAFT_MM if body.is_tube and marks.top_sd_mm >= WIDENED_SD_MM else 0.0
    low = max(marks.top_mm - max(REACH_MM, shaft_mm + STEP_MM), 0.0)
    y_mm = np.arange(low, min(marks.top_mm + BEYOND_MM, body.length_mm), ALONG_MM)
    if len(y_mm) < 4 * STEP_MM / ALONG_MM:
        return marks
    colour = _strip(linear, camera, contour, body, y_mm)
    lines = cross_lines(y_mm, colour, marks.top_mm)
    thick = body.face_thickness_mm > body.handle_thickness_mm - 2.0
    if thick:
        at_mm, density = end_density(lines, under_root(marks), VOTES_THICK)
    else:
        at_mm, density = end_density(lines, marks, VOTES_PLAIN, shaft_mm)
    top_mm, sd_mm = most_likely(at_mm, density)
    return replace(marks, top_mm=top_mm, top_sd_mm=sd_mm)


def under_root(marks: HandleMarks) -> HandleMarks:
    """What the width says where a thick face's neck lies over the grip's end and hides it."""
    sd_mm = max(marks.top_sd_mm, UNDER_ROOT_SD_MM)
    return replace(marks, top_mm=marks.top_mm + UNDER_ROOT_MM, top_sd_mm=sd_mm)


def _strip(linear: LinearPhoto, camera: Camera, contour: Contour, body: Body, y_mm: FloatArray) -> FloatArray:
    """Log colour (n, COLUMNS, 3) of the handle's upper side at places ``y_mm`` (n,)."""
    lying = contour.resting
    upper = Resting(lying.axis, lying.height_mm + body.handle_thickness_mm / 2, lying.slope)
    x_mm = np.linspace(-0.5, 0.5, COLUMNS) * WIDTH_SHARE * body.handle_width_mm
    grid_x, grid_y = np.meshgrid(x_mm, y_mm)
    px = upper.to_pixels(camera, np.column_stack([grid_x.ravel(), grid_y.ravel()]))
    return np.asarray(log_colour(linear.at(px).reshape(*grid_x.shape, 3)), float)


def cross_lines(y_mm: FloatArray, colour: FloatArray, top_mm: float) -> FloatArray:
    """Lines straight across (k, 2): place and strength 0 to 1, of log colour (n, columns, 3) at ``y_mm``."""
    span = round(STEP_MM / ALONG_MM)
    sums = np.cumsum(np.pad(colour * COLOUR_WEIGHT, ((1, 0), (0, 0), (0, 0))), axis=0)
    steps = (sums[2 * span :] - 2 * sums[span:-span] + sums[: -2 * span]) / span
    places = y_mm[span : len(y_mm) - span + 1] - ALONG_MM / 2
    size = np.linalg.norm(np.median(steps, axis=1), axis=1)
    grip = places < top_mm - 15.0
    usual = float(np.median(size[grip])) if grip.any() else 0.0
    size = np.maximum(size - TEXTURE_TIMES * usual, 0.0)
    lines: list[tuple[float, float]] = []
    for index in np.argsort(-size, kind="stable"):
        if size[index] < LEAST_STEP:
            break
        if all(abs(places[index] - place) > APART_MM for place, _ in lines):
            lines.append((float(places[index]), float(size[index] / (size[index] + HALF_STEP))))
    return np.array(lines, float).reshape(-1, 2)


def end_density(
    lines: FloatArray, marks: HandleMarks, votes: tuple[Vote, ...], shaft_mm: float = 0.0
) -> tuple[FloatArray, FloatArray]:
    """Places (m,) and how likely (m,), summing to 1, the handle ends there, from ``lines`` (k, 2) and from
    what the width says: within its sd, or up to ``shaft_mm`` before."""
    low_mm = max(marks.top_mm - max(SPAN_MM, shaft_mm), LEAST_TOP_MM)
    at_mm = np.arange(low_mm, marks.top_mm + SPAN_MM, GRID_MM)
    density = np.exp(-0.5 * ((at_mm - marks.top_mm) / marks.top_sd_mm) ** 2) + STRAY
    density += ON_SHAFT * ((at_mm > marks.top_mm - shaft_mm) & (at_mm < marks.top_mm))
    if marks.collar is not None:
        end_mm, fall_mm = marks.collar
        near = fall_mm / (fall_mm + HALF_FALL_MM) * np.exp(-0.5 * ((at_mm - end_mm) / COLLAR_SD_MM) ** 2)
        density = density * (1 + COLLAR_ODDS * near)
    for vote in votes:
        away = (lines[:, :1] - at_mm - vote.before_mm) / vote.sd_mm
        near = lines[:, 1:] * np.exp(-0.5 * away**2)
        density = density * (1 + vote.odds * near.max(axis=0, initial=0.0))
    return at_mm, density / density.sum()


def most_likely(at_mm: FloatArray, density: FloatArray) -> tuple[float, float]:
    """The likeliest place and the root mean square distance of all from it."""
    # Summed over a little, so that neither a single place nor the grid's phase decides.
    smooth = np.convolve(density, np.ones(9), "same")
    near = np.abs(at_mm - at_mm[int(np.argmax(smooth))]) < SAME_MM
    top_mm = float(np.average(at_mm[near], weights=density[near]))
    return top_mm, float(np.sqrt((density * (at_mm - top_mm) ** 2).sum() + LEAST_SD_MM**2))
