"""What a person measured on the racquet, as it stands in the racquet file.

One type for each way of measuring, told apart by ``kind``. Every reading has a standard
deviation, and a flag ``used``: a reading that is not used is kept but does not count. Repeats
are kept as they were read; ``value`` is their mean. Distances are mm from the butt end.
"""

from __future__ import annotations

import re
from typing import Annotated, Literal

from pydantic import Field, TypeAdapter, model_validator

from model.measured import Measured
from model.record_base import Finite, NotNegative, Part, Positive

Count = Annotated[int, Field(gt=0)]

PLACE_SD_MM = 3.0  # a strip stuck on by eye and ruler
OFFSET_SD_MM = 1.0  # as exactly as the balance point is found by hand
SAME = 1e-6  # relative; a stored mean may differ from its repeats by rounding only

Inertia = Literal["swing", "twist", "recoil", "spin"]
Published = Literal["weight", "balance", "swing", "twist", "recoil", "spin"]


class ReadingBase(Part):
    """What all readings have.

    ``fitted``: taken with added pieces on, which the figures leave out; ``pieces`` counts which set of them,
    for other pieces may have been on before. ``even``: its error lies anywhere within √3 sd, as of rounding,
    and never beyond; else it is normal.
    """

    used: bool = True
    note: str = ""
    fitted: bool = False
    pieces: Annotated[int, Field(ge=1)] = 1
    even: bool = False

    @property
    def on(self) -> int:
        """Which set of pieces was on, 0 for the bare racquet."""
        return self.pieces if self.fitted else 0


class Repeated(ReadingBase):
    """A reading whose value may be the mean of several."""

    value: Positive
    sd: Positive
    repeats: list[Positive] = Field(default_factory=list)

    @model_validator(mode="after")
    def _mean_of_repeats(self) -> Repeated:
        if self.repeats and abs(sum(self.repeats) / len(self.repeats) - self.value) > SAME * self.value:
            raise ValueError("the value must be the mean of the repeats")
        return self

    @property
    def measured(self) -> Measured:
        """Value and sd."""
        return Measured(self.value, self.sd)


class WeightReading(Repeated):
    """The whole racquet on a scale, g."""

    kind: Literal["weight"] = "weight"


class BalanceReading(Repeated):
    """Where the racquet balances on a straight edge, mm; a flat edge ``support_width_mm`` wide blurs it."""

    kind: Literal["balance"] = "balance"
    support_width_mm: NotNegative = 0.0


class ScaleCheckReading(ReadingBase):
    """A known mass on the same scale, g: every scale reading is corrected by what it shows."""

    kind: Literal["scale_check"] = "scale_check"
    known_g: Positive
    value: Positive
    sd: Positive


class TwoSupportsReading(Repeated):
    """The racquet laid across a block and a scale; ``value`` is what the scale shows, g.

    ``tilt_deg`` is positive when the tip is the higher end, ``height_mm`` how far the balance point
    lies above the line between the two contacts. See ``supports``.
    """

    kind: Literal["two_supports"] = "two_supports"
    block_mm: Finite
    scale_mm: Finite
    place_sd_mm: Positive = 1.0
    support_width_mm: NotNegative = 0.0
    tilt_deg: Annotated[float, Field(gt=-45, lt=45)] = 0.0
    tilt_sd_deg: NotNegative = 0.5
    height_mm: NotNegative = 10.0

    @model_validator(mode="after")
    def _apart(self) -> TwoSupportsReading:
        if abs(self.scale_mm - self.block_mm) < 10:
            raise ValueError("block and scale must be at least 10 mm apart")
        return self


class TwoScalesReading(ReadingBase):
    """The racquet laid across two scales, what each shows, g: weight and balance in one."""

    kind: Literal["two_scales"] = "two_scales"
    low_mm: Finite
    high_mm: Finite
    low_g: Positive
    high_g: Positive
    sd: Positive
    place_sd_mm: Positive = 1.0
    support_width_mm: NotNegative = 0.0
    tilt_deg: Annotated[float, Field(gt=-45, lt=45)] = 0.0
    tilt_sd_deg: NotNegative = 0.5
    height_mm: NotNegative = 10.0

    @model_validator(mode="after")
    def _apart(self) -> TwoScalesReading:
        if self.high_mm - self.low_mm < 10:
            raise ValueError("the upper scale must be at least 10 mm nearer to the tip than the lower one")
        return self


class Timed(ReadingBase):
    """Timed swings: each of ``times_s`` is ``swings`` swings there and back.

    ``amplitude_deg`` is the mean angle from the middle to one end while it was timed.
    """

    swings: Count
    times_s: Annotated[list[Positive], Field(min_length=1)]
    time_sd_s: Positive = 0.1
    amplitude_deg: Annotated[float, Field(ge=0, le=60)] = 5.0
    amplitude_sd_deg: NotNegative = 3.0

    @property
    def mean_s(self) -> float:
        """Mean of the timed runs, s."""
        return sum(self.times_s) / len(self.times_s)


class PendulumReading(Timed):
    """The racquet hung from a pivot and left to swing; ``pivot_mm`` is where it rests on the pivot.

    ``leads`` says what goes ahead: the face (the swing's direction) or the edge (in the face's plane).
    ``in_air`` takes off what the air adds that a face carries along.
    """

    kind: Literal["pendulum"] = "pendulum"
    pivot_mm: Finite
    pivot_sd_mm: NotNegative = 0.5
    pivot_radius_mm: NotNegative = 0.0
    leads: Literal["face", "edge"] = "face"
    in_air: bool = False


class BifilarReading(Timed):
    """The racquet hung on two threads and turned a little about the upright line.

    Handle upright gives ``twist``, level with the face upright ``recoil``, level with the face flat
    ``spin``. ``offset_mm`` is how far the balance point is off the middle between the threads. ``in_air``
    takes off what the air adds that a face carries along; a spin carries none.
    """

    kind: Literal["bifilar"] = "bifilar"
    figure: Literal["twist", "recoil", "spin"]
    thread_mm: Positive
    spacing_mm: Positive
    top_spacing_mm: Positive | None = None
    offset_mm: Finite = 0.0
    offset_sd_mm: NotNegative = OFFSET_SD_MM
    in_air: bool = False
    thread_sd_mm: NotNegative = 1.0
    spacing_sd_mm: NotNegative = 0.3

    @model_validator(mode="after")
    def _hangs(self) -> BifilarReading:
        top = self.spacing_mm if self.top_spacing_mm is None else self.top_spacing_mm
        if abs(top - self.spacing_mm) / 2 >= self.thread_mm:
            raise ValueError("the threads are too short to span the difference of the two spacings")
        if abs(self.offset_mm) >= self.spacing_mm / 2:
            raise ValueError("the balance point must lie between the two threads")
        return self


class MachineReading(ReadingBase):
    """An inertia machine's or twist machine's reading, kg cm²; a swing weight with its axis."""

    kind: Literal["machine"] = "machine"
    figure: Inertia
    axis_mm: Finite | None = None
    value: Positive
    sd: Positive

    @model_validator(mode="after")
    def _axis(self) -> MachineReading:
        _check_axis(self.figure, self.axis_mm)
        return self


class PublishedReading(ReadingBase):
    """What the maker publishes of the model: g, mm or kg cm², with a wide sd, for racquets differ."""

    kind: Literal["published"] = "published"
    figure: Published
    axis_mm: Finite | None = None
    value: Positive
    sd: Positive

    @model_validator(mode="after")
    def _axis(self) -> PublishedReading:
        _check_axis(self.figure, self.axis_mm)
        return self


class ComponentReading(ReadingBase):
    """A piece whose mass is known, g: a whole part (``butt cap``), something on the handle, or tape.

    A name that is no part's lies evenly over the outline from ``from_mm`` to ``to_mm`` (a grip or wrap
    without them over the whole handle), or where ``strip`` says. If it does not ``count``, it was on the
    racquet when it was measured but the figures are those of the racquet without it; ``fitted`` ones were
    on it for the readings of their set only. ``by_length``: a strip's mass follows from its tape's weight per
    length, so that all such strips of one tape err together. Each piece of a ``strip`` lies within
    ``place_sd_mm`` (one sd) of where that says.
    """

    kind: Literal["component"] = "component"
    name: Annotated[str, Field(min_length=1)]
    value: Positive
    sd: Positive
    from_mm: Finite | None = None
    to_mm: Finite | None = None
    strip: str | None = None
    place_sd_mm: NotNegative = PLACE_SD_MM
    by_length: bool = False
    mirror: bool = False
    counts: bool = True

    @model_validator(mode="after")
    def _place(self) -> ComponentReading:
        if (self.from_mm is None) != (self.to_mm is None):
            raise ValueError("a component's place needs both its ends")
        if self.from_mm is not None and self.to_mm is not None and not self.from_mm < self.to_mm:
            raise ValueError("a component must end nearer to the tip than it begins")
        return self


class LengthReading(Repeated):
    """The overall length by tape measure, mm."""

    kind: Literal["length"] = "length"


class WidthReading(Repeated):
    """The largest width by tape measure, mm."""

    kind: Literal["width"] = "width"


Reading = Annotated[
    WeightReading
    | BalanceReading
    | ScaleCheckReading
    | TwoSupportsReading
    | TwoScalesReading
    | PendulumReading
    | BifilarReading
    | MachineReading
    | PublishedReading
    | ComponentReading
    | LengthReading
    | WidthReading,
    Field(discriminator="kind"),
]
READING: TypeAdapter[Reading] = TypeAdapter(Reading)


def plain_name(name: str) -> str:
    """A part's name for comparing: without capitals, spaces, hyphens and underscores."""
    return re.sub(r"[\s_-]", "", name.lower())


def _check_axis(figure: str, axis_mm: float | None) -> None:
    if (figure == "swing") != (axis_mm is not None):
        raise ValueError("a swing weight needs its axis, mm from the butt, and no other figure has one")
