"""A few strokes on a sheet, as SVG."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

INK, SOFT, FILL, ACCENT = "#22303c", "#8a97a3", "#dfe6ec", "#b4452c"

Points = Sequence[tuple[float, float]]


class Sheet:
    """A white sheet; lengths in its own units, y down."""

    def __init__(self, width: float, height: float, title: str) -> None:
        self.width, self.height, self.title = width, height, title
        self.marks: list[str] = []

    def line(self, points: Points, colour: str = INK, width: float = 2.0, dashed: bool = False) -> None:
        """An open line through points."""
        dash = ' stroke-dasharray="6 5"' if dashed else ""
        self.marks.append(
            f'<polyline points="{_points(points)}" fill="none" stroke="{colour}" '
            f'stroke-width="{width:g}" stroke-linejoin="round"{dash}/>'
        )

    def shape(self, points: Points, fill: str = FILL, colour: str = INK) -> None:
        """A closed, filled shape."""
        self.marks.append(
            f'<polygon points="{_points(points)}" fill="{fill}" stroke="{colour}" '
            'stroke-width="2" stroke-linejoin="round"/>'
        )

    def dot(self, x: float, y: float, radius: float = 4.0, colour: str = ACCENT) -> None:
        """A filled disc."""
        self.marks.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius:g}" fill="{colour}"/>')

    def text(self, x: float, y: float, words: str, middle: bool = True, colour: str = INK) -> None:
        """One line of words, its foot at y."""
        anchor = "middle" if middle else "start"
        self.marks.append(
            f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="{colour}" font-size="15" '
            f'font-family="sans-serif">{escape(words)}</text>'
        )

    def span(self, x0: float, x1: float, y: float, words: str) -> None:
        """A measured distance from x0 to x1, with end marks."""
        self.line([(x0, y), (x1, y)], ACCENT, 1.5)
        for x in (x0, x1):
            self.line([(x, y - 6), (x, y + 6)], ACCENT, 1.5)
        self.text((x0 + x1) / 2, y - 8, words, colour=ACCENT)

    def rise(self, x: float, y0: float, y1: float, words: str) -> None:
        """A measured distance from y0 to y1, the words to its right."""
        self.line([(x, y0), (x, y1)], ACCENT, 1.5)
        for y in (y0, y1):
            self.line([(x - 6, y), (x + 6, y)], ACCENT, 1.5)
        self.text(x + 10, (y0 + y1) / 2 + 5, words, middle=False, colour=ACCENT)

    def svg(self) -> str:
        """The whole sheet."""
        head = (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {self.width:g} {self.height:g}" '
            f'width="{self.width:g}" height="{self.height:g}" role="img">'
        )
        title = f"<title>{escape(self.title)}</title>"
        paper = f'<rect width="{self.width:g}" height="{self.height:g}" fill="#ffffff"/>'
        return "\n".join([head, title, paper, *self.marks, "</svg>"]) + "\n"


def _points(points: Points) -> str:
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
