"""The reference sheet's PDF read back as shapes in mm, without the program's own layout."""

from __future__ import annotations

import re
from dataclasses import dataclass

from shapely.affinity import scale
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

MM_PER_POINT = 25.4 / 72  # ISO 32000-1, 8.3.2.3: the default user space unit is 1/72 inch

Rectangle = tuple[float, float, float, float]


@dataclass(frozen=True)
class PrintedSheet:
    """Page size in mm, and rectangles (x, y, width, height) in mm from the page's middle, in order.

    ``black`` are filled dark, ``white`` are laid over them.
    """

    size_mm: tuple[float, float]
    black: tuple[Rectangle, ...]
    white: tuple[Rectangle, ...]

    def ink(self, factor: float = 1.0) -> BaseGeometry:
        """What the printer's black covers when it prints ``factor`` times too large."""
        dark = unary_union([_box(r) for r in self.black])
        light = unary_union([_box(r) for r in self.white])
        return scale(dark.difference(light), factor, factor, origin=(0, 0))


def _box(rectangle: Rectangle) -> BaseGeometry:
    x, y, width, height = rectangle
    return box(x, y, x + width, y + height)


def read_sheet(pdf: bytes) -> PrintedSheet:
    """The rectangles of an uncompressed one-page PDF whose fills are ``g`` and ``re`` operators."""
    text = pdf.decode("latin-1")
    media = re.search(r"/MediaBox \[ 0 0 ([0-9.]+) ([0-9.]+) \]", text)
    assert media is not None
    width, height = (float(value) * MM_PER_POINT for value in media.groups())
    shift = re.search(r"^1 0 0 1 ([0-9.]+) ([0-9.]+) cm$", text, re.MULTILINE)
    assert shift is not None
    left, low = (float(value) * MM_PER_POINT for value in shift.groups())
    black: list[Rectangle] = []
    white: list[Rectangle] = []
    grey = 0.0
    for line in text.splitlines():
        if found := re.fullmatch(r"([0-9.]+) g", line):
            grey = float(found[1])
        elif found := re.fullmatch(r"n (\S+) (\S+) (\S+) (\S+) re f\*?", line):
            x, y, w, h = (float(value) * MM_PER_POINT for value in found.groups())
            rectangle = (x + left - width / 2, y + low - height / 2, w, h)
            (white if grey > 0.5 else black).append(rectangle)
    return PrintedSheet((width, height), tuple(black), tuple(white))
