"""The openings of a racquet: string bed and open throat of a frame, holes of a perforated face."""

from __future__ import annotations

from digitise.camera import Camera
from digitise.contour import Contour
from digitise.face_throat import find_face_throat
from digitise.holes import find_holes
from digitise.linear import LinearPhoto
from digitise.resting import Body
from digitise.string_bed import find_string_bed, find_throat
from digitise.tone import FloatArray


def find_openings(
    linear: LinearPhoto,
    camera: Camera,
    contour: Contour,
    body: Body,
    construction: str,
    handle_top_mm: float,
    table_colour: FloatArray,
) -> tuple[FloatArray, ...]:
    """Rings (n, 2) in the racquet's frame of what is open; none for a solid face.

    ``table_colour`` (3,) is the log colour of the open table near the racquet.
    """
    if construction == "strung":
        bed = find_string_bed(linear, camera, contour, body)
        throat = find_throat(linear, camera, contour, body, bed, handle_top_mm)
        return (bed.ring_mm,) if throat is None else (bed.ring_mm, throat)
    if construction == "perforated":
        holes = find_holes(linear, camera, contour, body, handle_top_mm)
        face_low = min((float(hole[:, 1].min()) for hole in holes), default=0.6 * body.length_mm)
        span_mm = (handle_top_mm, face_low)
        throat = find_face_throat(linear, camera, contour, body, table_colour, span_mm)
        return holes if throat is None else (*holes, throat)
    return ()
