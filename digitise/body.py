"""What each construction is like across its face, as far as the camera's view of the rim needs it."""

from __future__ import annotations

from dataclasses import dataclass

from digitise.landmarks import HandleMarks
from digitise.resting import Body


@dataclass(frozen=True)
class Build:
    """``rim_radius`` of the face's edge, a share of its half thickness, at most ``rim_radius_max_mm``.

    ``tube_half_width_mm`` is half a tube's width as seen, None for a plate. ``balance_share`` as in Body.
    """

    rim_radius: float
    rim_radius_sd: float
    rim_radius_max_mm: float
    tube_half_width_mm: float | None
    balance_share: float


BUILDS = {
    # An edge guard or a foam rim is rounded over by 3 to 4 mm on each side, whatever the thickness.
    "solid": Build(0.6, 0.12, 3.6, None, 0.58),
    # A tube laminated round a thick face, 36 to 38 mm: its outer side is rounded by 6 to 13 mm.
    "perforated": Build(0.515, 0.11, 12.0, None, 0.56),
    # A tube of elliptic section, from 9 to 13 mm wide.
    "strung": Build(1.0, 0.0, 20.0, 5.5, 0.48),
}


def body_of(
    construction: str,
    length_mm: float,
    marks: HandleMarks,
    face_mm: float,
    handle_mm: float,
    card_on_face: bool = False,
) -> Body:
    """The body of a racquet of this construction, length and thicknesses, all mm.

    The butt cap is as much thicker than the handle as it is wider: it stands out alike all round. One that an
    outline has much narrower is no thinner than half the handle.
    """
    build = BUILDS[construction]
    half = face_mm / 2
    tube = None if build.tube_half_width_mm is None else min(build.tube_half_width_mm, half)
    return Body(
        length_mm=length_mm,
        handle_top_mm=marks.top_mm,
        face_thickness_mm=face_mm,
        handle_thickness_mm=handle_mm,
        butt_thickness_mm=max(handle_mm + marks.butt_width_mm - marks.width_mm, handle_mm / 2),
        handle_width_mm=marks.width_mm,
        rim_radius_mm=min(build.rim_radius * half, build.rim_radius_max_mm),
        rim_half_width_mm=tube,
        balance_share=build.balance_share,
        card_on_face=card_on_face,
    )
