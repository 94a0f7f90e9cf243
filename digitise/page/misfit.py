"""What is wrong with something the browser said, as a sentence for the person."""

from __future__ import annotations

from pydantic import ValidationError

NAMES = {
    "handle_top_mm": "the handle top",
    "throat_top_mm": "the throat top",
    "butt_mm": "the butt line",
    "at_butt_mm": "the axis at the butt",
    "at_tip_mm": "the axis at the tip",
    "card_px": "a corner of the card",
    "corners": "a corner of the card",
    "outer": "a point of the outline",
    "openings": "a point of an opening",
    "line": "a spot of the line",
}
"""What the parts of what is said are called on the page."""
OFF = {"less_than_equal", "greater_than_equal", "finite_number"}
UNKNOWN = "The page sent something that the program does not understand: load the page again."


def misfit(error: ValidationError) -> str:
    """The first fault of what was said, in plain words.

    >>> from digitise.page.edit import EditAxis
    >>> try:
    ...     EditAxis(at_tip_mm=1e9)
    ... except ValidationError as error:
    ...     misfit(error)
    'The axis at the tip is far off any racquet: check the decimal point.'
    """
    first = error.errors()[0]
    name = next((NAMES[step] for step in first["loc"] if step in NAMES), None)
    if name is None:
        return UNKNOWN
    if first["type"] in OFF:
        return f"{name[:1].upper()}{name[1:]} is far off any racquet: check the decimal point."
    if first["type"] == "too_short":
        return f"{name[:1].upper()}{name[1:]} is missing."
    if first["type"] == "too_long":
        return f"{name[:1].upper()}{name[1:]} is one too many."
    return UNKNOWN
