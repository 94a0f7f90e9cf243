"""The map of effective mass over the face: before, after and difference, as a picture."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from shapely import contains_xy
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from model.drawing import TEXT_PT, paper, tidy
from model.impact import FreeBody, effective_mass_g, steadiness
from model.laying import Laid
from model.outline import Outline

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Array = NDArray[np.float64]

GRID_MM = 2.0
ABOVE_PIECES = 5.0  # the drawing order of numbers; lines and patches have 2 and less


def face_grid(face: BaseGeometry, step_mm: float = GRID_MM) -> tuple[Array, Array, NDArray[np.bool_]]:
    """x (n,), y (m,) and which of the (m, n) points lie on the face."""
    x0, y0, x1, y1 = face.bounds
    x, y = np.arange(x0, x1 + step_mm, step_mm), np.arange(y0, y1 + step_mm, step_mm)
    xs, ys = np.meshgrid(x, y)
    return x, y, np.asarray(contains_xy(face, xs, ys))


def impact_map(body: FreeBody, face: BaseGeometry, step_mm: float = GRID_MM) -> tuple[Array, Array, Array]:
    """x (n,), y (m,) and effective mass (m, n) in g, not a number off the face."""
    x, y, inside = face_grid(face, step_mm)
    values = effective_mass_g(body, np.stack(np.meshgrid(x, y), axis=-1))
    return x, y, np.where(inside, values, np.nan)


def draw_impact(
    before: FreeBody, after: FreeBody, outline: Outline, face: BaseGeometry, laid: Sequence[Laid]
) -> Figure:
    """Three maps side by side, each with labelled lines of equal effective mass.

    The thick dashed line bounds where it is within 10 % of that map's best; what was stuck on
    is black on the second and third.
    """
    figure = paper(260, 150)
    x, y, mass_before = impact_map(before, face)
    mass_after = impact_map(after, face)[2]
    panels = (
        ("before", mass_before, before, ()),
        ("after", mass_after, after, laid),
        ("change", mass_after - mass_before, None, laid),
    )
    for i, (name, values, body, pieces) in enumerate(panels):
        axes = figure.add_axes((0.06 + 0.315 * i, 0.11, 0.29, 0.78))
        title = f"{name}: effective mass, g"
        if body is not None:
            found = steadiness(body, face)
            title += f"\nwithin 10 % of {found.best_g:.0f} g over {found.area_cm2:.0f} cm²"
            _draw_area(axes, found.area)
        _draw_panel(axes, outline, x, y, values, pieces)
        tidy(axes, title, "mm from the long axis", "mm from the butt" if i == 0 else "")
        axes.grid(visible=False)
        axes.tick_params(labelleft=i == 0)  # all three have the first's scale, and no room for their own
    figure.text(
        0.5,
        0.02,
        "Effective mass a ball meets, racquet taken as a free rigid body. Dashed: within 10 % of the best.",
        ha="center",
        fontsize=TEXT_PT,
    )
    return figure


def draw_ring(axes: Axes, shape: BaseGeometry, **style: object) -> None:
    """Every ring of a polygon or collection as a line."""
    for piece in getattr(shape, "geoms", [shape]):
        if isinstance(piece, Polygon) and not piece.is_empty:
            for ring in (piece.exterior, *piece.interiors):
                axes.plot(*np.asarray(ring.coords).T, **style)  # type: ignore[arg-type]


def fill_shape(axes: Axes, shape: BaseGeometry, **style: object) -> None:
    """Every polygon of a shape filled."""
    for piece in getattr(shape, "geoms", [shape]):
        if isinstance(piece, Polygon) and not piece.is_empty:
            axes.fill(*np.asarray(piece.exterior.coords).T, **style)  # type: ignore[arg-type]


def _draw_panel(
    axes: Axes, outline: Outline, x: Array, y: Array, values: Array, pieces: Sequence[Laid]
) -> None:
    spread = float(np.nanmax(values) - np.nanmin(values))
    if spread > 1e-9:
        axes.contourf(x, y, values, levels=12, cmap="Greys", alpha=0.45)
        lines = axes.contour(x, y, values, levels=8, colors="black", linewidths=0.7)
        for label in axes.clabel(lines, fontsize=TEXT_PT - 2, fmt="%g", zorder=ABOVE_PIECES):
            label.set_bbox({"facecolor": "white", "alpha": 0.8, "pad": 0.4, "linewidth": 0})
    draw_ring(axes, outline.filled, color="black", linewidth=1.2)
    for one in pieces:
        fill_shape(axes, one.cover.buffer(1.0), facecolor="black", edgecolor="white", linewidth=0.5)
    axes.set_aspect("equal")
    low = float(np.nanmin(y)) - 15
    axes.set_ylim(low, float(outline.outer_mm[:, 1].max()) + 10)
    axes.set_xlim(float(outline.outer_mm[:, 0].min()) - 12, float(outline.outer_mm[:, 0].max()) + 12)


def _draw_area(axes: Axes, area: BaseGeometry) -> None:
    draw_ring(axes, area, color="black", linewidth=2.4, linestyle=(0, (4, 1.5)))
