"""What every record of the racquet file is made of: numbers, points, rings, values with their sd."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

Finite = Annotated[float, Field(allow_inf_nan=False)]
NotNegative = Annotated[float, Field(allow_inf_nan=False, ge=0)]
Positive = Annotated[float, Field(allow_inf_nan=False, gt=0)]
Point = Annotated[list[Finite], Field(min_length=2, max_length=2)]
Ring = Annotated[list[Point], Field(min_length=3)]
Row5 = Annotated[list[Finite], Field(min_length=5, max_length=5)]


class Part(BaseModel):
    """Base of everything in the file: unknown keys are wrong, values can't be swapped in place."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


class Value(Part):
    """A value and its standard deviation."""

    value: Finite
    sd: NotNegative


ABOVE_ZERO = {"properties": {"value": {"exclusiveMinimum": 0}}}
"""What the schema says of a value that must be more than zero."""


def above_zero(value: Value) -> Value:
    """The value as it is. Raises ValueError for one that is not more than zero."""
    if not value.value > 0:
        raise ValueError(f"must be more than zero, not {value.value:g}")
    return value


PositiveValue = Annotated[Value, AfterValidator(above_zero), Field(json_schema_extra=ABOVE_ZERO)]
