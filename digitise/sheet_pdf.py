"""The reference sheet as a PDF that prints 1:1: vectors only, so that no resolution rounds the markers."""

from __future__ import annotations

from io import BytesIO

import numpy as np
from reportlab.pdfgen.canvas import Canvas

from digitise.sheet import MARKER_MM, MODULES, RULER_MM, RULER_Y_MM, Paper, black_cells, centres_mm

_MM = 72.0 / 25.4  # PDF's unit is 1/72 inch
_LINES = (
    "Reference sheet for digitise",
    "Print at full size (100 %, no fitting to the page), on one side.",
    f"Then measure the line below from end to end. It should be {RULER_MM:.1f} mm;",
    "if it is not, give its length with --ruler-measured.",
    "Lay the sheet flat on the table beside the racquet, not under it, in even light.",
)


def sheet_pdf(paper: Paper) -> bytes:
    """The sheet for ``paper`` as the bytes of a one-page PDF."""
    buffer = BytesIO()
    # uncompressed: it is small, and can be read and checked with the eye; invariant: the same bytes each time
    canvas = Canvas(
        buffer, pagesize=(paper.width_mm * _MM, paper.height_mm * _MM), pageCompression=0, invariant=1
    )
    canvas.setTitle("Reference sheet for digitise")
    canvas.setViewerPreference("PrintScaling", "None")
    canvas.translate(paper.width_mm / 2 * _MM, paper.height_mm / 2 * _MM)
    for marker_id, (x, y) in centres_mm(paper).items():
        _marker(canvas, marker_id, float(x), float(y))
    _ruler(canvas)
    canvas.setFont("Helvetica", 9)
    for row, line in enumerate(_LINES):
        canvas.drawCentredString(0, (RULER_Y_MM + 42 - 6 * row) * _MM, line)
    canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def _marker(canvas: Canvas, marker_id: int, x_mm: float, y_mm: float) -> None:
    """A black square with its white cells laid on it, each run of a row in one piece."""
    left, top, cell = x_mm - MARKER_MM / 2, y_mm + MARKER_MM / 2, MARKER_MM / MODULES
    canvas.setFillGray(0)
    canvas.rect(left * _MM, (top - MARKER_MM) * _MM, MARKER_MM * _MM, MARKER_MM * _MM, stroke=0, fill=1)
    canvas.setFillGray(1)
    for row, black in enumerate(black_cells(marker_id)):
        edges = np.flatnonzero(np.diff(np.concatenate([[True], black, [True]]).astype(int)))
        for start, end in edges.reshape(-1, 2):
            canvas.rect(
                (left + cell * start) * _MM,
                (top - cell * (row + 1)) * _MM,
                cell * (end - start) * _MM,
                cell * _MM,
                stroke=0,
                fill=1,
            )
    canvas.setFillGray(0)


def _ruler(canvas: Canvas) -> None:
    """The line to measure, RULER_MM between the outer edges of its end ticks, with a tick each 10 mm."""
    thin, half = 0.2, RULER_MM / 2
    canvas.rect(-half * _MM, (RULER_Y_MM - thin / 2) * _MM, RULER_MM * _MM, thin * _MM, stroke=0, fill=1)
    for k in range(int(RULER_MM // 10) + 1):
        middle = -half + 10 * k
        # the end ticks lie inside the line, so that it is measured from outer edge to outer edge
        left = min(max(middle - thin / 2, -half), half - thin)
        tall = 8.0 if k in (0, RULER_MM // 10) else 3.0
        canvas.rect(left * _MM, (RULER_Y_MM - tall / 2) * _MM, thin * _MM, tall * _MM, stroke=0, fill=1)
    canvas.setFont("Helvetica", 9)
    canvas.drawCentredString(
        0, (RULER_Y_MM - 9) * _MM, f"{RULER_MM:g} mm between the outer edges of the end ticks"
    )
