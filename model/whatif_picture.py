"""What-if tables as pictures: six small charts, one for each figure's change."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from model.drawing import TEXT_PT, paper, tidy
from model.whatif import Row

if TYPE_CHECKING:
    from matplotlib.figure import Figure

PANELS = (
    ("weight", "g"),
    ("balance", "mm"),
    ("swing", "kg·cm²"),
    ("twist", "kg·cm²"),
    ("recoil", "kg·cm²"),
    ("spin", "kg·cm²"),
)


def draw_rows(rows: Sequence[Row], what: str, axis_mm: float) -> Figure:
    """A line over a sweep of numbers, bars over names; the change, or the figures where none changes."""
    figure = paper(240, 140)
    change = np.array([row.change for row in rows])
    changed = bool(np.abs(change).max(initial=0.0) > 0)
    values = change if changed else np.array([row.before for row in rows])
    numbers = all(row.at is not None for row in rows) and what.endswith((", mm", ", g"))
    for i, (name, unit) in enumerate(PANELS):
        axes = figure.add_axes((0.07 + 0.32 * (i % 3), 0.58 - 0.45 * (i // 3), 0.25, 0.31))
        title = f"{name} weight at {axis_mm:g} mm" if name == "swing" else name
        if numbers:
            axes.plot([row.at or 0.0 for row in rows], values[:, i], color="black", linewidth=1.4)
        else:
            axes.bar(range(len(rows)), values[:, i], color="0.6", edgecolor="black")
            labels = [row.label for row in rows]
            axes.set_xticks(range(len(rows)), labels, rotation=25, ha="right", fontsize=TEXT_PT - 3)
        tidy(axes, title, what if i >= 3 and numbers else "", f"{'change, ' if changed else ''}{unit}")
        if not numbers:
            axes.tick_params(axis="x", labelsize=TEXT_PT - 3)
    return figure
