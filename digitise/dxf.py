"""The outline as a DXF drawing in mm, for cutting jigs and covers."""

from __future__ import annotations

from io import StringIO
from pathlib import Path

from ezdxf import units
from ezdxf.filemanagement import new

from digitise.svg_write import named_lines, page_of
from model.racquet_file import RacquetFile
from model.recalibrate import traced_of
from model.storage import write_bytes

RELEASE = "R2010"
LAYERS = {"outline": 1, "openings": 3, "landmarks": 8}
"""Layer names and their colours, by AutoCAD's colour index."""


def write_dxf(file: RacquetFile, path: Path) -> None:
    """Closed polylines with the file's own points on layers outline and openings; landmarks as lines.

    x to the right as seen, y from the butt to the tip, unit mm.
    """
    drawing = new(RELEASE, setup=False)
    drawing.units = units.MM
    space = drawing.modelspace()
    for name, colour in LAYERS.items():
        drawing.layers.add(name, color=colour)
    outline, _, _ = traced_of(file)
    for layer, rings in (("outline", [outline.outer_mm]), ("openings", outline.openings_mm)):
        for ring in rings:
            points = [(float(x), float(y)) for x, y in ring]
            space.add_lwpolyline(points, close=True, dxfattribs={"layer": layer})
    for ends in named_lines(file, page_of(outline)).values():
        (x1, y1), (x2, y2) = ends.tolist()
        space.add_line((x1, y1), (x2, y2), dxfattribs={"layer": "landmarks"})
    stream = StringIO()
    drawing.write(stream)
    write_bytes(path, drawing.encode(stream.getvalue()))
