"""A racquet as an SVG drawing at true size, for any vector editor.

One user unit is one mm; y runs down, so ``x = left + X`` and ``y = top - Y``. The outline and each opening
are a path of their own with a name (``outline``, ``opening-1``, ...), the landmarks are lines that must stay.
"""

from __future__ import annotations

import base64
from dataclasses import dataclass
from xml.sax.saxutils import quoteattr

import numpy as np

from digitise.tone import FloatArray
from model.outline import Outline
from model.racquet_file import RacquetFile
from model.recalibrate import traced_of
from model.spline import Curve
from model.spline_fit import fit_curve

MARGIN_MM = 25.0
PATH_SD_MM = 0.03
"""How near the smooth path keeps to the file's ring; what is not edited comes back as the ring itself."""
LINE_STYLES = {
    "outline": "fill:none;stroke:#d35400;stroke-width:0.3",
    "opening": "fill:none;stroke:#007a5e;stroke-width:0.3;stroke-dasharray:2 0.6",
    "landmark": "fill:none;stroke:#444444;stroke-width:0.2;stroke-dasharray:3 1 0.6 1",
}


@dataclass(frozen=True)
class Page:
    """Where the drawing's left top corner lies in the racquet frame, and its size, mm."""

    left_mm: float
    top_mm: float
    width_mm: float
    height_mm: float

    def of(self, points_mm: FloatArray) -> FloatArray:
        """Drawing coordinates (..., 2) of points of the racquet frame."""
        return (np.asarray(points_mm, float) - [self.left_mm, self.top_mm]) * [1.0, -1.0]

    def back(self, points: FloatArray) -> FloatArray:
        """Points of the racquet frame."""
        return np.asarray(points, float) * [1.0, -1.0] + [self.left_mm, self.top_mm]


def page_of(outline: Outline) -> Page:
    """A drawing with a margin all round, its corner at whole mm."""
    low, high = outline.outer_mm.min(axis=0) - MARGIN_MM, outline.outer_mm.max(axis=0) + MARGIN_MM
    left, top = float(np.floor(low[0])), float(np.ceil(high[1]))
    return Page(left, top, float(np.ceil(high[0] - left)), float(np.ceil(top - low[1])))


def named_curves(file: RacquetFile) -> dict[str, Curve]:
    """The smooth curve of each ring by its name in the drawing, in the racquet frame.

    The file's own curves, or near ones where it has none.
    """
    outline, _, traced = traced_of(file)
    if traced.smooth is not None:
        outer, openings = traced.smooth.outer, list(traced.smooth.openings)
    else:
        outer = fit_curve(outline.outer_mm, PATH_SD_MM)
        openings = [fit_curve(ring, PATH_SD_MM) for ring in outline.openings_mm]
    return {"outline": outer, **{f"opening-{i + 1}": curve for i, curve in enumerate(openings)}}


def named_lines(file: RacquetFile, page: Page) -> dict[str, FloatArray]:
    """Ends (2, 2) of the lines that mark axis, butt and landmarks, in the racquet frame."""
    _, landmarks, _ = traced_of(file)
    left, right = page.left_mm + 5, page.left_mm + page.width_mm - 5
    lines = {
        "axis": np.array([[0.0, page.top_mm - page.height_mm + 5], [0.0, page.top_mm - 5]]),
        "butt": np.array([[left, 0.0], [right, 0.0]]),
        "handle-top": np.array([[left, landmarks.handle_top_mm], [right, landmarks.handle_top_mm]]),
    }
    if landmarks.throat_top_mm is not None:
        lines["throat-top"] = np.array([[left, landmarks.throat_top_mm], [right, landmarks.throat_top_mm]])
    return lines


def svg_text(file: RacquetFile, name: str, picture: str | None = None) -> str:
    """The drawing. ``picture`` is the address of a JPEG that fills the page, or none."""
    page = page_of(traced_of(file)[0])
    width, height = f"{page.width_mm:g}", f"{page.height_mm:g}"
    parts = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'width="{width}mm" height="{height}mm" viewBox="0 0 {width} {height}">',
        f"<title>{_text(name)}</title>",
        "<desc>1 unit = 1 mm. Edit the paths outline and opening-N; leave the lines of the landmarks.</desc>",
    ]
    if picture is not None:
        parts.append(
            f'<image id="photo" x="0" y="0" width="{width}" height="{height}" '
            f'preserveAspectRatio="none" xlink:href={quoteattr(picture)}/>'
        )
    for key, ends in named_lines(file, page).items():
        (x1, y1), (x2, y2) = page.of(ends).tolist()
        line = f"M {_n(x1)},{_n(y1)} L {_n(x2)},{_n(y2)}"
        parts.append(f'<path id="{key}" d="{line}" style="{LINE_STYLES["landmark"]}"/>')
    for key, curve in named_curves(file).items():
        style = LINE_STYLES[key.split("-")[0]]
        parts.append(f'<path id="{key}" d="{path_data(curve, page)}" style="{style}"/>')
    return "\n".join([*parts, "</svg>", ""])


def path_data(curve: Curve, page: Page) -> str:
    """A curve as the ``d`` of a closed path of cubic Béziers."""
    pieces = page.of(curve.bezier_mm.reshape(-1, 2)).reshape(-1, 4, 2)
    start = f"M {_n(pieces[0, 0, 0])},{_n(pieces[0, 0, 1])}"
    moves = (" ".join(f"{_n(x)},{_n(y)}" for x, y in piece[1:]) for piece in pieces)
    return f"{start} " + " ".join(f"C {move}" for move in moves) + " Z"


def embedded(jpeg: bytes) -> str:
    """A picture as part of the drawing itself."""
    return "data:image/jpeg;base64," + base64.b64encode(jpeg).decode("ascii")


def _n(value: float) -> str:
    return f"{value:.4f}".rstrip("0").rstrip(".")


def _text(words: str) -> str:
    return words.replace("&", "&amp;").replace("<", "&lt;")
