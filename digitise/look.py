"""One search for the outline along a rough one: for both sides together, then for each near the common one.

An edge counts that stands at mirrored places, as the lens sees each side of a thick rim; what the sides
differ by, as a whole, corrects the axis.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from digitise.band import ACROSS_MM, Band, even_ring, mirrored, sample_band, smooth_ring
from digitise.band_filters import highest_near
from digitise.best_line import best_closed_line, best_mirrored_line
from digitise.butt_end import without_horns
from digitise.camera import Camera
from digitise.clearest import Rival
from digitise.edge import EDGE_WORTH, MAX_STEPS, STEP_COST, Evidence, weigh
from digitise.flat import FlatView
from digitise.half_width import GRIP_OFF_MM, SymmetricShape
from digitise.linear import LinearPhoto
from digitise.loops import without_loops
from digitise.resting import Body, Resting
from digitise.table_beside import ground_along
from digitise.table_evidence import Ground
from digitise.table_model import TableModel
from digitise.tone import FloatArray, Image

Rows = npt.NDArray[np.intp] | None


@dataclass(frozen=True)
class Look:
    """One search along the outline: how far inside and outside, from where on it is surely table, how much
    the outline is smoothed first, and by how much an edge may be off on one side. ``inward_mm`` is how far
    inside a faint rim's border its edge may lie, or, if that is more, ``inward_share`` of the rim's width:
    the strong inner one is not much farther. ``rough`` as for ``weigh``."""

    reach_mm: tuple[float, float]
    clear_mm: float
    smooth_mm: float
    slack_mm: float
    inward_mm: float
    inward_share: float = 0.0
    rough: bool = True


LOOKS = (
    Look((12.0, 14.0), 8.0, 2.0, 1.5, 2.0, 0.5),
    Look((7.0, 10.0), 5.0, 1.0, 0.75, 0.75, rough=False),
    Look((5.0, 9.0), 4.0, 1.0, 0.25, 0.5, rough=False),
)
TOGETHER_WORTH, TOGETHER_MM = 2.0, 1.0
"""What it costs a side to leave the common outline, and the distance at which most of it is paid."""
LARGEST_DIFFERENCE_MM = 1.5
"""A side farther than this from the common outline is taken to have followed something else."""
LEAST_SHARE, BUTT_CAP_MM, FILLET_MM, OFF_COST = 0.65, 30.0, 15.0, 50.0
"""Least half width as a share of the rough one, where a handle may be wider than its sure width (at its butt
cap, and where it joins the head), and what it costs to be farther off."""
END_SLACK = 3.0
"""How many times as far as inside a faint rim's border the edge may lie inside a handle's sure end."""


@dataclass(frozen=True, eq=False)
class Scene:
    """What is looked at: the photo and its ``camera``, its ``view`` as a map, and the ``table`` in it, with
    its ``shade`` as in SymmetricShape."""

    linear: LinearPhoto
    camera: Camera
    view: FlatView
    table: TableModel
    shade: FloatArray | None = None

    @property
    def px_mm(self) -> float:
        """The size of a pixel of the photo on the racquet's plane."""
        return (self.camera.height_mm - self.view.plane_z_mm) / self.camera.focal_px

    def band(
        self,
        resting: Resting,
        body: Body,
        ring_mm: FloatArray,
        reach_mm: tuple[float, float],
        rows: Rows = None,
    ) -> Band:
        """The band about a ring (n, 2), as ``sample_band``."""
        return sample_band(self.linear, self.camera, resting, body, ring_mm, reach_mm, rows=rows)

    def ground(self, resting: Resting, band: Band) -> Ground:
        """The table along a band."""
        return replace(ground_along(self.view, self.table, resting, band), shade=self.shade)

    def along(self, found: Found, look: Look, rows: Rows = None) -> Both:
        """The outline for both sides together near what was found, in ``rows`` of that alone if given."""
        base_mm = smooth_ring(found.base_mm, look.smooth_mm)
        band = self.band(found.resting, found.body, base_mm, look.reach_mm, rows)
        ground = self.ground(found.resting, band)
        evidence = weigh(band, ground, self.px_mm, look.clear_mm, look.rough)
        evidence = _kept_to(band, evidence, found.shape, look)
        gain = _common_gain(evidence, look.slack_mm)
        common = best_mirrored_line(gain, STEP_COST, MAX_STEPS)
        return Both(found.resting, band, evidence, common, look.slack_mm, found.body, found.shape)

    def again(self, found: Found, look: Look) -> Found:
        """What another look along what was found finds."""
        return self.along(found, look).each_side()


@dataclass(frozen=True, eq=False)
class Both:
    """The outline for both sides together: columns ``common`` (n,) of a ``band``, found with edges off by up
    to ``slack_mm`` on one side."""

    resting: Resting
    band: Band
    evidence: Evidence
    common: npt.NDArray[np.int64]
    slack_mm: float
    body: Body
    shape: SymmetricShape

    def clear(self) -> FloatArray:
        """How clear it is (n,) at each of its places, to compare it with others by."""
        fair = replace(self.evidence, outside=self.evidence.fair)
        return at(_common_gain(fair, self.slack_mm), self.common)

    def edge(self) -> FloatArray:
        """How strong an edge (n,) it lies on."""
        return at(self.evidence.strength, self.common)

    def ring_mm(self) -> FloatArray:
        """Its points (n, 2)."""
        return self.band.points_mm(self.band.offset_mm[self.common])

    def rival(self) -> Rival:
        """It as one of several to choose from."""
        ring_mm = self.ring_mm()
        length_mm = float(np.ptp(ring_mm[:, 1]))
        world_mm = self.resting.to_world(ring_mm)[:, :2]
        return Rival(world_mm, self.edge(), length_mm, float(self.clear().mean()))

    def single(self) -> npt.NDArray[np.int64]:
        """Columns (n,) of each side for itself near the common outline."""
        return best_closed_line(_single_gain(self.evidence, self.common), STEP_COST, MAX_STEPS)

    def each_side(self) -> Found:
        """Each side for itself near the common outline, and the axis corrected by what they differ by."""
        single = self.single()
        strength = at(self.evidence.strength, single)
        together_mm = self.band.offset_mm[self.common]
        centred = _centred(self.resting, self.band, together_mm, single, strength)
        return Found(*begun_at_butt(*centred), self.body, self.shape)


@dataclass(frozen=True, eq=False)
class Found:
    """A symmetric outline ``base_mm`` (n, 2) on its way."""

    resting: Resting
    base_mm: FloatArray
    body: Body
    shape: SymmetricShape


def _common_gain(evidence: Evidence, slack_mm: float) -> FloatArray:
    """Gain (n, k) of one outline for both sides; edges off by up to ``slack_mm`` still count."""
    slack = 2 * round(slack_mm / ACROSS_MM) + 1
    strength = highest_near(evidence.strength, slack)
    gain = EDGE_WORTH * (strength + 0.1 * evidence.strength) + evidence.outside
    return np.asarray((gain + mirrored(gain)) / 2)


def _kept_to(band: Band, evidence: Evidence, shape: SymmetricShape, look: Look) -> Evidence:
    """The evidence with places ruled out that are far from a handle's sure width, far inside any other
    narrow part, for the search reaches in by more than a handle is wide, or across a faint rim."""
    base_mm, y_mm = np.abs(band.base_mm[:, :1]), band.base_mm[:, 1:]
    half_mm = np.sign(band.base_mm[:, :1]) * (band.base_mm[:, :1] + band.offset_mm * band.normal[:, :1])
    out = half_mm < LEAST_SHARE * base_mm
    cap = y_mm - band.base_mm[:, 1].min() < BUTT_CAP_MM
    sure_mm = shape.grip_to_mm - BUTT_CAP_MM / 2
    out |= (y_mm < sure_mm) & (half_mm < shape.grip_mm - shape.grip_off_mm)
    out |= (y_mm < sure_mm - FILLET_MM) & ~cap & (half_mm > shape.grip_mm + GRIP_OFF_MM)
    out &= np.abs(band.normal[:, :1]) > 0.7
    if shape.grip_mm > 0:
        butt = (y_mm < shape.grip_to_mm) & (band.normal[:, 1:] < -0.7)
        out |= butt & (band.offset_mm < -END_SLACK * look.inward_mm)
    if shape.rim_mm > 0:
        head = y_mm > max(shape.grip_to_mm, BUTT_CAP_MM)
        out |= head & (band.offset_mm < -max(look.inward_mm, look.inward_share * shape.rim_mm))
    return replace(evidence, outside=np.where(out, evidence.outside - OFF_COST, evidence.outside))


def _single_gain(evidence: Evidence, common: npt.NDArray[np.int64]) -> FloatArray:
    """Gain (n, k) of an outline for each side for itself, near columns ``common`` (n,)."""
    columns = np.arange(evidence.strength.shape[1])
    apart = (columns[None, :] - common[:, None]) * ACROSS_MM / TOGETHER_MM
    held = TOGETHER_WORTH * apart**2 / (apart**2 + 1)
    return np.asarray(EDGE_WORTH * evidence.strength + evidence.outside - held)


def _centred(
    resting: Resting,
    band: Band,
    together_mm: FloatArray,
    single: npt.NDArray[np.int64],
    strength: FloatArray,
) -> tuple[Resting, FloatArray]:
    """The frame turned and shifted so that the two sides agree, and the common outline, evenly spaced.

    A shift t and a turn a move the edge at p with normal n by n_x t + (p_x n_y - p_y n_x) a, and at the
    mirror place by the opposite.
    """
    offset = band.offset_mm[single]
    half = (offset - mirrored(offset)) / 2
    weight = np.minimum(strength, mirrored(strength)) * (np.abs(half) < LARGEST_DIFFERENCE_MM)
    p, n = band.base_mm, band.normal
    terms = np.column_stack([n[:, 0], p[:, 0] * n[:, 1] - p[:, 1] * n[:, 0]])
    fit: FloatArray = np.zeros(2)
    for _ in range(10):
        rest_mm = half - terms @ fit
        root = np.sqrt(weight / (1 + (rest_mm / 0.3) ** 2))
        fit = np.asarray(np.linalg.lstsq(terms * root[:, None], half * root, rcond=None)[0], float)
    ring = without_horns(without_loops(band.points_mm(together_mm)))
    return resting.moved(float(fit[1]), float(fit[0]), 0.0), even_ring(ring, 1.0)


def begun_at_butt(resting: Resting, ring_mm: FloatArray) -> tuple[Resting, FloatArray]:
    """The frame moved to where the outline begins, because the body's thickness is told from there on."""
    low = float(ring_mm[:, 1].min())
    return resting.moved(0.0, 0.0, low), ring_mm - np.array([0.0, low])


def at(image: Image, columns: npt.NDArray[np.int64]) -> FloatArray:
    """Values (n,) of an image (n, k) at a column of each row."""
    return np.asarray(image[np.arange(len(columns)), columns], float)
