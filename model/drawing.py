"""Figures on paper: sizes in mm, saved as PNG, SVG or PDF whole or not at all, readable in grey.

matplotlib does the drawing. It is an extra of the package, loaded only here.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from model.errors import PictureError
from model.units import INCH_MM

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Array = NDArray[np.float64]

KINDS = (".png", ".svg", ".pdf")
PNG_DPI = 150
TEXT_PT = 9.0
# Lines told apart without colour.
DASHES: tuple[Any, ...] = ("-", (0, (5, 2)), (0, (1, 1.5)), (0, (6, 2, 1, 2)), (0, (3, 1, 1, 1, 1, 1)))
MARKS = ("o", "s", "^", "D", "v", "P", "X")
GREYS = ("0.0", "0.35", "0.0", "0.35", "0.0")


@dataclass(frozen=True, eq=False)
class Line:
    """One line of a chart: its name and x, y (n,); ``marked`` shows the points themselves."""

    name: str
    x: Array
    y: Array
    marked: bool = False


def check_picture(path: Path) -> None:
    """Raise PictureError, before any work, when a picture can't be drawn into this file."""
    if path.is_dir():
        raise PictureError(f"{path} is a folder: give the name of a picture in it")
    if path.suffix.lower() not in KINDS:
        raise PictureError(
            f"{path.name} is no picture this program draws: end the name with {', '.join(KINDS)}"
        )
    try:
        import matplotlib  # noqa: F401
    except ImportError:
        raise PictureError(
            "drawing needs the library matplotlib: install it with pip install 'racquet-digitise[pictures]'"
        ) from None


def paper(width_mm: float, height_mm: float) -> Figure:
    """An empty figure of a size on paper."""
    from matplotlib.figure import Figure

    return Figure(figsize=(width_mm / INCH_MM, height_mm / INCH_MM))


def save_figure(figure: Figure, path: Path) -> None:
    """Write a figure by its suffix. Raises PictureError; nothing is left behind then."""
    save_figures([figure], path)


def save_figures(figures: Sequence[Figure], path: Path) -> None:
    """Write pages: a PDF holds them all, any other kind only one."""
    from model.storage import write_bytes

    check_picture(path)
    content = as_bytes(figures, path.suffix.lower().lstrip("."))
    try:
        write_bytes(path, content)
    except OSError as error:
        raise PictureError(f"{path} can't be written: {error.strerror or error}") from None


def as_bytes(figures: Sequence[Figure], kind: str) -> bytes:
    """Pages as a picture file's bytes, the same for the same figures."""
    from matplotlib import rc_context
    from matplotlib.backends.backend_pdf import PdfPages

    stream = io.BytesIO()
    # Text stays text, so that it can be searched and edited; no date, so that files compare.
    with rc_context({"svg.fonttype": "none", "pdf.fonttype": 42, "svg.hashsalt": "racquet"}):
        if kind == "pdf":
            with PdfPages(stream, metadata={"CreationDate": None}) as pages:
                for figure in figures:
                    pages.savefig(figure)
        else:
            extra: dict[str, Any] = {"metadata": {"Date": None}} if kind == "svg" else {"dpi": PNG_DPI}
            figures[0].savefig(stream, format=kind, **extra)
    return stream.getvalue()


def tidy(axes: Axes, title: str, x_label: str, y_label: str) -> None:
    """Title, axis names, a faint grid."""
    axes.set_title(title, fontsize=TEXT_PT + 1)
    axes.set_xlabel(x_label, fontsize=TEXT_PT)
    axes.set_ylabel(y_label, fontsize=TEXT_PT)
    axes.tick_params(labelsize=TEXT_PT - 1)
    axes.grid(color="0.85", linewidth=0.5)
    axes.set_axisbelow(True)


def line_chart(lines: Sequence[Line], title: str, x_label: str, y_label: str) -> Figure:
    """Lines over one pair of axes, told apart by dashes and marks, named in a legend."""
    figure = paper(160, 110)
    axes = figure.add_axes((0.12, 0.14, 0.84, 0.76))
    draw_lines(axes, lines)
    tidy(axes, title, x_label, y_label)
    return figure


def draw_lines(axes: Axes, lines: Sequence[Line]) -> None:
    """Lines and their legend on axes."""
    for i, line in enumerate(lines):
        axes.plot(
            line.x,
            line.y,
            label=line.name,
            color=GREYS[i % len(GREYS)],
            linestyle=DASHES[i % len(DASHES)] if len(line.x) > 1 else "none",
            marker=MARKS[i % len(MARKS)] if line.marked or len(line.x) == 1 else None,
            markersize=5,
            linewidth=1.4,
        )
    if len(lines) > 1:
        axes.legend(fontsize=TEXT_PT - 1, framealpha=0.9)
