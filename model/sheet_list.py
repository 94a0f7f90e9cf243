"""The bench sheet's cut list: a block of lines for each piece, then the notes, in columns."""

from __future__ import annotations

from dataclasses import dataclass
from textwrap import wrap
from typing import TYPE_CHECKING

from model.sheet import Cut, Sheet

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LINE_MM = 3.4
UNDER_MM = 2.6  # from a block's last line to the next one's first
NOTE_LINE_MM = 3.0
NOTE_LETTERS = 68
INDENT_MM = 6.0
HEAD_MM = 10.0  # from the list's top to its first line
NOTE_PT, LIST_PT = 6.5, 7.5


@dataclass(frozen=True)
class Block:
    """A piece's lines with its number, or a note's without."""

    number: int | None
    lines: tuple[str, ...]

    @property
    def height_mm(self) -> float:
        """What it takes of a column."""
        if self.number is None:
            return NOTE_LINE_MM * len(self.lines)
        return LINE_MM * len(self.lines) + UNDER_MM


def blocks_of(sheet: Sheet) -> list[Block]:
    """All that the list says, in order."""
    notes = [Block(None, tuple(wrap(f"Note: {note}.", NOTE_LETTERS))) for note in sheet.notes]
    return [*(_block(cut) for cut in sheet.cuts), *notes]


def list_height_mm(blocks: list[Block]) -> float:
    """The length of one column that holds all of them, with the head above it."""
    return HEAD_MM + sum(block.height_mm for block in blocks)


def in_columns(blocks: list[Block], height_mm: float) -> list[list[Block]]:
    """The blocks in columns of a height, each as full as it can be."""
    columns: list[list[Block]] = [[]]
    for block in blocks:
        if columns[-1] and list_height_mm([*columns[-1], block]) > height_mm:
            columns.append([])
        columns[-1].append(block)
    return columns


def draw_column(axes: Axes, blocks: list[Block], head: str, x: float, top: float, right: float) -> None:
    """One column on paper, its head first; 1 unit of the axes is 1 mm."""
    axes.text(x, top - 4, head, fontsize=LIST_PT + 2, weight="bold")
    y = top - HEAD_MM
    for block in blocks:
        if block.number is None:
            for line in block.lines:
                axes.text(x, y, line, fontsize=NOTE_PT)
                y -= NOTE_LINE_MM
            continue
        axes.text(x + 2, y, f"{block.number}", fontsize=LIST_PT + 1, weight="bold", ha="center")
        for line in block.lines:
            axes.text(x + INDENT_MM, y, line, fontsize=LIST_PT)
            y -= LINE_MM
        axes.plot([x, right], [y + 1.2, y + 1.2], color="0.75", linewidth=0.4)
        y -= UNDER_MM


def _block(cut: Cut) -> Block:
    layers = f"{cut.layers} layers" if cut.layers > 1 else "1 layer"
    weight = f"{cut.mass_g:.2f} g" + (f" ± {cut.mass_sd_g:.2f}" if cut.mass_sd_g else "")
    lines = [f"{cut.what}, {cut.size}, {layers}, {weight}", cut.where]
    if cut.from_tip:
        lines += [f"from the tip: {cut.from_tip}", f"from the handle top: {cut.from_handle_top}"]
    return Block(cut.number, tuple(lines))
