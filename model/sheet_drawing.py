"""The bench sheet on paper: fitted to one page, and at true size in tiles. One unit of the axes is 1 mm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from shapely.affinity import affine_transform
from shapely.geometry import Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from model.drawing import paper
from model.errors import PictureError
from model.impact_picture import draw_ring, fill_shape
from model.laying import Laid
from model.sheet import Sheet
from model.sheet_list import LINE_MM, Block, blocks_of, draw_column, in_columns, list_height_mm

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Array = NDArray[np.float64]

PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
MARGIN_MM = 10.0
OVERLAP_MM = 10.0  # what neighbouring tiles share, to glue or tape them
BAR_MM = 100.0
TOP_MM = 34.0  # for the heading
LIST_BOTTOM_MM = 86.0  # under the cut list: the figures and the cautions
AROUND_MM = 16.0  # room round the racquet for numbers
OUTLINE, PIECES = 0.9, 1.0  # orders of drawing; all other lines have 2 and words 3
SMALL, PLAIN, LARGE = 6.5, 7.5, 13.0
END_OFF_MM = 6.0  # of paper, from a strip's end to its distance
WORDS_MM = np.array([5.0, 2.6])  # of paper, how wide and high such a distance is, with some room
NUMBER_OFF_MM = 7.0  # of paper, from a piece to its number
NUMBERS_APART_MM = 5.2  # of paper, between two numbers' middles: their circles are 4 to 5 mm wide


@dataclass(frozen=True)
class View:
    """From the racquet's mm to the paper's: scale, then shift."""

    scale: float
    x_mm: float
    y_mm: float

    def points(self, points: Array) -> Array:
        """Points (n, 2) on paper."""
        return np.asarray(points * self.scale + np.array([self.x_mm, self.y_mm]))

    def shape(self, shape: BaseGeometry) -> BaseGeometry:
        """A shapely geometry on paper."""
        return affine_transform(shape, [self.scale, 0, 0, self.scale, self.x_mm, self.y_mm])


def paper_size(name: str) -> tuple[float, float]:
    """Width and height of a paper, mm. Raises PictureError for an unknown one."""
    if name.lower() not in PAPERS:
        raise PictureError(f"the paper {name!r} is unknown: use {' or '.join(PAPERS)}")
    return PAPERS[name.lower()]


def fitted_pages(sheet: Sheet, size: tuple[float, float], several: bool = True) -> list[Figure]:
    """Drawing, cut list, figures and cautions on one page; what of the list it can't hold, on more.

    A file that holds but one page (``several`` is not set) gets one that is longer by so much.
    """
    width, height = size
    blocks = blocks_of(sheet)
    lacking = list_height_mm(blocks) - (height - TOP_MM - LIST_BOTTOM_MM)
    if lacking <= 0 or not several:
        return [_first_page(sheet, (width, height + max(lacking, 0.0)), height, blocks, "")]
    room = height - TOP_MM - LIST_BOTTOM_MM - LINE_MM  # a line says that there is more
    first, *_ = in_columns(blocks, room)
    rest = in_columns(blocks[len(first) :], height - TOP_MM - MARGIN_MM)
    pages = [rest[i : i + 2] for i in range(0, len(rest), 2)]
    more = f"more on the next page{'s' if len(pages) > 1 else ''}"
    words = [f"cut list, page {i + 2} of {len(pages) + 1}" for i in range(len(pages))]
    return [
        _first_page(sheet, size, height, first, more),
        *(_list_page(sheet, size, columns, said) for columns, said in zip(pages, words, strict=True)),
    ]


def _first_page(
    sheet: Sheet, size: tuple[float, float], drawn_mm: float, blocks: list[Block], more: str
) -> Figure:
    """The drawing as large as on a page ``drawn_mm`` high, at the top."""
    figure, axes = _page(*size)
    width, height = size
    _heading(axes, sheet, width, height)
    top = height - TOP_MM
    bottom = top - (drawn_mm - TOP_MM - 92.0)
    view = _fitted_view(sheet, 0.43 * width, top - bottom, MARGIN_MM, bottom)
    room = box(MARGIN_MM / 2, bottom, 0.47 * width - NUMBERS_APART_MM / 2, top)
    _draw_racquet(axes, sheet, view, room)
    ratio = 1 / view.scale
    axes.text(MARGIN_MM, bottom - 4, f"scale 1 : {ratio:.2f}", fontsize=SMALL)
    _bar(axes, MARGIN_MM + 22, bottom - 4, BAR_MM * view.scale, "100 mm on the racquet")
    draw_column(axes, blocks, "Cut and stick", 0.47 * width, top, width - MARGIN_MM)
    if more:
        axes.text(0.47 * width, LIST_BOTTOM_MM, more, fontsize=PLAIN, weight="bold")
    _figure_table(axes, sheet, MARGIN_MM, 80.0, width - MARGIN_MM)
    _cautions(axes, sheet, MARGIN_MM, 25.0)
    return figure


def _list_page(sheet: Sheet, size: tuple[float, float], columns: list[list[Block]], words: str) -> Figure:
    figure, axes = _page(*size)
    width, height = size
    _titled(axes, sheet, width, height)
    axes.text(MARGIN_MM, height - 20.5, words, fontsize=PLAIN)
    for i, blocks in enumerate(columns):
        left, right = (MARGIN_MM, width / 2 - 3) if i == 0 else (width / 2 + 3, width - MARGIN_MM)
        draw_column(axes, blocks, "Cut and stick" if i == 0 else "", left, height - TOP_MM, right)
    return figure


def true_size_pages(sheet: Sheet, size: tuple[float, float]) -> list[Figure]:
    """The drawing at 1 : 1 in as many pages as it takes, sheets to be laid edge over edge."""
    low, high = _extent(sheet)
    usable = np.array(size) - 2 * MARGIN_MM - np.array([0.0, 12.0])
    step = usable - OVERLAP_MM
    across, up = (max(1, ceil((high[k] - low[k] - OVERLAP_MM) / step[k])) for k in (0, 1))
    spare = np.array([across, up]) * step + OVERLAP_MM - (high - low)
    start = low - spare / 2
    pages: list[Figure] = []
    for row in reversed(range(up)):
        for column in range(across):
            corner = start + np.array([column, row]) * step
            place = f"column {column + 1} of {across}, row {up - row} of {up}"
            words = f"sheet {len(pages) + 1} of {across * up}: {place}"
            pages.append(_tile(sheet, size, usable, corner, words))
    return pages


def true_size_page(sheet: Sheet) -> Figure:
    """The drawing at 1 : 1 on one page of its own size."""
    low, high = _extent(sheet)
    width, height = high - low
    figure, axes = _page(width, height + 14.0)
    view = View(1.0, -float(low[0]), 14.0 - float(low[1]))
    _draw_racquet(axes, sheet, view, view.shape(box(*low, *high)))
    _bar(axes, 12.0, 6.0, BAR_MM, "must measure 100 mm")
    return figure


def _page(width: float, height: float) -> tuple[Figure, Axes]:
    figure = paper(width, height)
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_xlim(0, width)
    axes.set_ylim(0, height)
    axes.axis("off")
    return figure, axes


def _extent(sheet: Sheet) -> tuple[Array, Array]:
    ring = sheet.site.outline.outer_mm
    return ring.min(axis=0) - AROUND_MM, ring.max(axis=0) + AROUND_MM


def _fitted_view(sheet: Sheet, width: float, height: float, x: float, y: float) -> View:
    ring = sheet.site.outline.outer_mm
    low, high = ring.min(axis=0), ring.max(axis=0)
    room = np.array([width, height]) - 2 * (NUMBER_OFF_MM + 3)
    scale = float((room / (high - low)).min())
    middle = (low + high) / 2
    return View(scale, x + width / 2 - scale * float(middle[0]), y + height / 2 - scale * float(middle[1]))


def _tile(sheet: Sheet, size: tuple[float, float], usable: Array, corner: Array, words: str) -> Figure:
    from matplotlib.patches import Rectangle

    figure, axes = _page(*size)
    x, y = MARGIN_MM, MARGIN_MM + 12.0
    frame = Rectangle((x, y), *usable, fill=False, linewidth=0.4, edgecolor="0.5", linestyle=(0, (2, 3)))
    axes.add_patch(frame)
    before = len(axes.lines), len(axes.patches), len(axes.texts)
    view = View(1.0, x - float(corner[0]), y - float(corner[1]))
    _draw_racquet(axes, sheet, view, view.shape(box(*np.ravel(_extent(sheet)))))
    for drawn in (*axes.lines[before[0] :], *axes.patches[before[1] :], *axes.texts[before[2] :]):
        drawn.set_clip_path(frame)
        drawn.set_clip_on(True)  # words are not cut otherwise
    # In the middle of the overlap, so that neighbours' crosses are at one place of the racquet.
    for dx in (OVERLAP_MM / 2, usable[0] - OVERLAP_MM / 2):
        for dy in (OVERLAP_MM / 2, usable[1] - OVERLAP_MM / 2):
            axes.plot([x + dx - 3, x + dx + 3], [y + dy] * 2, color="0.4", linewidth=0.5)
            axes.plot([x + dx] * 2, [y + dy - 3, y + dy + 3], color="0.4", linewidth=0.5)
    title = f"{sheet.title}: true size, print at 100 %. Lay the crosses of neighbouring sheets on each other."
    axes.text(x, size[1] - 6.5, title, fontsize=PLAIN)
    axes.text(size[0] - MARGIN_MM, MARGIN_MM + 1.5, words, fontsize=PLAIN, ha="right")
    _bar(axes, x, MARGIN_MM + 2.0, BAR_MM, "must measure 100 mm")
    return figure


def _draw_racquet(axes: Axes, sheet: Sheet, view: View, room: BaseGeometry) -> None:
    """Outline and pieces; the pieces' numbers stand in the ``room`` there is on paper."""
    site = sheet.site
    for ring in site.outline.openings_mm:
        axes.plot(*view.points(np.vstack([ring, ring[:1]])).T, color="0.55", linewidth=0.4)
    outer = site.outline.outer_mm
    closed = np.vstack([outer, outer[:1]])
    axes.plot(*view.points(closed).T, color="black", linewidth=0.9, zorder=OUTLINE)
    tip, butt = float(outer[:, 1].max()), float(outer[:, 1].min())
    half = float(np.abs(outer[:, 0]).max())
    axes.plot(*view.points(np.array([[0.0, butt], [0.0, tip]])).T, color="0.5", linewidth=0.4, linestyle="-.")
    level = np.array([[-0.45 * half, site.handle_top_mm], [0.45 * half, site.handle_top_mm]])
    axes.plot(*view.points(level).T, color="0.3", linewidth=0.6, linestyle=(0, (4, 3)))
    x, y = view.points(level)[1]
    axes.text(x + 1, y, "handle top", fontsize=SMALL - 1, va="center")
    x, y = view.points(np.array([[0.0, tip]]))[0]
    axes.text(x, y + 1.5, "tip", fontsize=SMALL - 1, ha="center")
    taken: list[Array] = []
    _draw_pieces(axes, sheet.laid, view)
    inside = view.shape(Polygon(outer).buffer(-WORDS_MM[0] / 2 / view.scale))
    told: dict[str, list[Array]] = {}
    for one in sheet.laid:
        _end_marks(axes, one, view, taken, inside, told)
    for i, one in enumerate(sheet.laid):
        taken.append(_draw_number(axes, i + 1, one, view, taken, room))


def _draw_pieces(axes: Axes, laid: Sequence[Laid], view: View) -> None:
    """Pieces over the outline and under numbers: the larger ones first and lighter where others lie on them,
    those others with a light gap round them."""
    stacked = sorted(laid, key=lambda one: -one.cover.area)
    for i, one in enumerate(stacked):
        shape, order = view.shape(one.cover), PIECES + 0.9 * i / len(stacked)
        if one.surfaces <= {"back", "under the grip", "butt"}:
            draw_ring(axes, shape, color="black", linewidth=0.8, linestyle=(0, (2, 1.5)), zorder=order)
            continue
        over, under = (
            any(one.cover.intersects(other.cover) for other in others)
            for others in (stacked[:i], stacked[i + 1 :])
        )
        if over:
            draw_ring(axes, shape, color="white", linewidth=2.6, zorder=order)
        face, edge = ("0.85", "0.6") if under else ("0.45", "black")
        fill_shape(axes, shape, facecolor=face, edgecolor=edge, linewidth=0.8, zorder=order)


def _draw_number(
    axes: Axes, number: int, one: Laid, view: View, taken: list[Array], room: BaseGeometry
) -> Array:
    """A piece's number beside it; gives its place (2,) on paper."""
    middle = view.points(_marked_mm(one)[None])[0]
    place = number_place(middle, _outwards(one), taken, room)
    axes.plot(*np.array([middle, middle + 0.7 * (place - middle)]).T, color="black", linewidth=0.4)
    axes.text(
        float(place[0]),
        float(place[1]),
        f"{number}",
        fontsize=PLAIN,
        ha="center",
        va="center",
        bbox={"boxstyle": "circle,pad=0.2", "facecolor": "white", "edgecolor": "black", "linewidth": 0.6},
    )
    return place


def number_place(middle: Array, outwards: Array, taken: list[Array], room: BaseGeometry) -> Array:
    """Where (2,) on paper a number goes: outwards from its piece, turned or further away if that is taken or
    not in the ``room``."""
    turns = np.radians([0.0, 45.0, -45.0, 90.0, -90.0, 135.0, -135.0, 180.0])
    for ring in range(1, len(taken) + 2):
        for turn in turns:
            c, s = np.cos(turn), np.sin(turn)
            way = np.array([c * outwards[0] - s * outwards[1], s * outwards[0] + c * outwards[1]])
            place = np.asarray(middle + ring * NUMBER_OFF_MM * way)
            free = all(np.hypot(*(place - other)) >= NUMBERS_APART_MM for other in taken)
            if free and room.contains(Point(place)):
                return place
    return np.asarray(middle + NUMBER_OFF_MM * outwards)


def _marked_mm(one: Laid) -> Array:
    """Where (2,) a piece's number points to: its middle, or its curve's where that lies off the piece."""
    middle = one.integrals[1:3] / one.integrals[0]
    if one.along_mm is None or one.cover.contains(Point(middle)):
        return np.asarray(middle)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(one.curve_mm, axis=0).T))])
    return np.array([np.interp(along[-1] / 2, along, one.curve_mm[:, k]) for k in (0, 1)])


def _end_marks(
    axes: Axes, one: Laid, view: View, taken: list[Array], inside: BaseGeometry, told: dict[str, list[Array]]
) -> None:
    """How far from the tip, along the edge, each end of a strip lies; adds the places to those ``taken``.

    ``inside`` is where such words lie within the outline; ``told`` are ends (2,) on paper by what stands
    there already, which is not said twice. A line leads to words that could not stand beside their end.
    """
    if one.along_mm is None:
        return
    curve = one.curve_mm
    for s, end, next_to in zip(one.along_mm, (0, -1), (1, -2), strict=True):
        step = (curve[next_to] - curve[end]) * (1.0 if end == 0 else -1.0)
        inwards = np.array([step[1], -step[0]]) / max(float(np.hypot(*step)), 1e-9)
        at, words = view.points(curve[[end]])[0], f"{abs(s):.0f}"
        if any(np.hypot(*(at - other)) < WORDS_MM[0] / 2 for other in told.get(words, [])):
            continue
        told.setdefault(words, []).append(at)
        place = end_place(at, inwards, taken, inside)
        taken.append(place)
        if np.hypot(*(place - at)) > 1.5 * END_OFF_MM:
            axes.plot(*np.array([at, at + 0.85 * (place - at)]).T, color="0.5", linewidth=0.3)
        axes.text(float(place[0]), float(place[1]), words, fontsize=SMALL - 1, ha="center", va="center")


def end_place(end: Array, inwards: Array, taken: list[Array], inside: BaseGeometry) -> Array:
    """Where (2,) on paper the distance of an end (2,) goes: inwards from it, further if that is taken, or out
    of the outline where there is no room ``inside`` it."""
    within = [np.asarray(end + far * END_OFF_MM * inwards) for far in (1.0, 1.9, 2.8)]
    without = [np.asarray(end - far * END_OFF_MM * inwards) for far in (1.0, 1.9)]
    places = [place for place in within if inside.contains(Point(place))] + without
    free = (place for place in places if not any((np.abs(place - other) < WORDS_MM).all() for other in taken))
    return next(free, places[0])


def _outwards(one: Laid) -> Array:
    """Away from the racquet's middle for pieces on the edge, to the right for others."""
    if one.along_mm is None:
        return np.array([1.0, 0.3])
    step = one.curve_mm[-1] - one.curve_mm[0]
    length = float(np.hypot(*step))
    return np.array([-step[1], step[0]]) / length if length > 0 else np.array([0.0, 1.0])


def _bar(axes: Axes, x: float, y: float, length: float, words: str) -> None:
    axes.plot([x, x + length], [y, y], color="black", linewidth=1.2, solid_capstyle="butt")
    for end in (x, x + length):
        axes.plot([end, end], [y - 1.2, y + 1.2], color="black", linewidth=0.6)
    axes.text(x + length + 2, y, words, fontsize=SMALL, va="center")


def _heading(axes: Axes, sheet: Sheet, width: float, height: float) -> None:
    _titled(axes, sheet, width, height)
    for i, line in enumerate(sheet.lines):
        axes.text(MARGIN_MM, height - 20.5 - 3.6 * i, line, fontsize=PLAIN)


def _titled(axes: Axes, sheet: Sheet, width: float, height: float) -> None:
    axes.text(MARGIN_MM, height - 15, sheet.title, fontsize=LARGE, weight="bold")
    axes.text(width - MARGIN_MM, height - 15, sheet.date, fontsize=PLAIN + 1, ha="right")


def _figure_table(axes: Axes, sheet: Sheet, x: float, top: float, right: float) -> None:
    columns = np.array([0.0, 0.30, 0.48, 0.66, 0.83]) * (right - x) + x
    heads = ("figure", "before", "after", "change", "measured after")
    for at, head in zip(columns, heads, strict=True):
        axes.text(at, top, head, fontsize=PLAIN, weight="bold")
    axes.plot([x, right], [top - 1.6] * 2, color="black", linewidth=0.7)
    for i, line in enumerate(sheet.figures):
        y = top - 6.2 - 7.0 * i
        cells = (f"{line.name}, {line.unit}", line.before, line.after, line.change)
        for at, cell in zip(columns, cells, strict=False):
            axes.text(at, y, cell, fontsize=PLAIN)
        axes.plot([columns[-1], right], [y - 1.0] * 2, color="black", linewidth=0.6)


def _cautions(axes: Axes, sheet: Sheet, x: float, top: float) -> None:
    for i, line in enumerate(sheet.cautions):
        axes.text(x, top - 4.0 * i, line, fontsize=PLAIN)
