"""How the racquet lies: its middle plane's height and tilt, and the rim's thickness as a camera sees it.

The outline asked for is that of the middle plane. It floats above the table, tilted where the handle is
thicker than the face, and what the camera sees of the rim is not the middle but where its line of sight
touches the rounded side. Both shift the outline by millimetres, and both follow from the thicknesses.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from digitise.axis import Axis
from digitise.camera import Camera, Plane
from digitise.tone import FloatArray

BUTT_RADIUS_MM, BUTT_RADIUS_SD_MM = 4.0, 4.0 / math.sqrt(12)
"""Rounding of a butt cap's end, seldom measured: any from 2 to 6 mm. Its spread is part of the length's."""
BUTT_END_MM, PAST_END_MM = 8.0, 12.0
"""Up to where an edge that faces down is the butt's end, and from where on it is a side."""

TOUCHES_MM = 1e-9
"""What lies no farther below a line than this is on it."""
_ROUNDS = 4  # each brings the shift nearer by a thickness over the camera's height, a factor of 30


@dataclass(frozen=True)
class Body:
    """What is known of the racquet's shape across its face, mm.

    ``rim_radius_mm`` is the rounding of the face's edge; for a tube it is half its thickness, and
    ``rim_half_width_mm`` half its width as seen (None for a plate: the rounding is circular).
    ``balance_share`` is where along its length it balances: it rests on the points either side of that.
    ``card_on_face``: the world's z = 0 is the face's upper side, not the table. ``butt_radius_mm`` is the
    rounding of the butt's end.
    """

    length_mm: float
    handle_top_mm: float
    face_thickness_mm: float
    handle_thickness_mm: float
    butt_thickness_mm: float
    handle_width_mm: float
    rim_radius_mm: float
    rim_half_width_mm: float | None
    balance_share: float
    card_on_face: bool = False
    butt_radius_mm: float = BUTT_RADIUS_MM

    @property
    def is_tube(self) -> bool:
        """Whether the face's edge is a frame's tube, whose border is its own, and no plate's."""
        return self.rim_half_width_mm is not None

    def half_thickness_mm(self, y_mm: FloatArray) -> FloatArray:
        """Half the thickness (n,) at distances from the butt (n,): butt cap, handle, a short taper, face."""
        knots = [0.0, 4.0, 14.0, 22.0, self.handle_top_mm, self.handle_top_mm + 20.0, self.length_mm]
        butt, handle, face = self.butt_thickness_mm, self.handle_thickness_mm, self.face_thickness_mm
        return np.asarray(np.interp(y_mm, knots, [butt, butt, butt, handle, handle, face, face]) / 2)


@dataclass(frozen=True)
class Resting:
    """The racquet's frame in the world: ``axis`` as seen from above, and its middle plane's
    ``height_mm`` above the table at the butt, rising by ``slope`` per mm towards the tip."""

    axis: Axis
    height_mm: float
    slope: float

    @property
    def plane(self) -> Plane:
        """The middle plane in the world."""
        rise = self.slope * self.axis.up
        return Plane(self.height_mm - float(rise @ self.axis.origin_mm), float(rise[0]), float(rise[1]))

    @property
    def foreshortening(self) -> float:
        """Horizontal length of one mm along the tilted axis."""
        return 1.0 / math.hypot(1.0, self.slope)

    @property
    def origin_mm(self) -> FloatArray:
        """The frame's zero in the world (3,)."""
        return np.array([*self.axis.origin_mm, self.height_mm])

    @property
    def sides_mm(self) -> FloatArray:
        """One mm to the racquet's right and one mm towards its tip, in the world (2, 3)."""
        along = self.foreshortening
        return np.array([[*self.axis.right, 0.0], [*(along * self.axis.up), along * self.slope]])

    def to_world(self, racquet_mm: FloatArray) -> FloatArray:
        """World points (n, 3) of points (n, 2) of the racquet's middle plane."""
        return np.asarray(np.asarray(racquet_mm, float) @ self.sides_mm + self.origin_mm)

    def to_pixels(self, camera: Camera, racquet_mm: FloatArray) -> FloatArray:
        """Pixels (n, 2) of points (n, 2) of the racquet's middle plane."""
        return camera.project_plane(self.origin_mm, self.sides_mm, racquet_mm)

    def to_pixels_apart(self, camera: Camera, x_mm: FloatArray, y_mm: FloatArray) -> npt.NDArray[np.float32]:
        """The same, but x and y apart, (2, ...), of points of which these stand apart, too, each (...)."""
        return camera.project_apart(self.origin_mm, self.sides_mm, x_mm, y_mm).astype(np.float32)

    def lines_to_pixels(
        self, camera: Camera, starts: FloatArray, ways: FloatArray, along: FloatArray
    ) -> npt.NDArray[np.float32]:
        """Pixels (2, n, k), x and y, of the places ``starts + along * ways`` of the middle plane, see
        ``project_lines``."""
        return camera.project_lines(self.origin_mm, self.sides_mm, starts, ways, along)

    def from_pixels(self, camera: Camera, points_px: FloatArray) -> FloatArray:
        """Points (n, 2) of the racquet's middle plane that stand at pixels (n, 2)."""
        level = self.axis.to_racquet(camera.to_plane(points_px, self.plane))
        return np.asarray(level / np.array([1.0, self.foreshortening]))

    def moved(self, turn_rad: float, right_mm: float, up_mm: float) -> Resting:
        """The frame moved within its plane."""
        level_up = up_mm * self.foreshortening
        return Resting(
            self.axis.moved(turn_rad, right_mm, level_up), self.height_mm + self.slope * level_up, self.slope
        )


def rest(axis: Axis, body: Body) -> Resting:
    """Lay ``body`` on the table: it touches at two places, one either side of its balance point.

    Those are where the line under the lower profile's convex hull passes below the balance point.
    With the card on the face, that face is level by the choice of the world.
    """
    if body.card_on_face:
        return Resting(axis, -body.face_thickness_mm / 2, 0.0)
    y_mm = np.arange(0.0, body.length_mm + 0.5, 1.0)
    below = -body.half_thickness_mm(y_mm)
    # The rounded ends cannot carry: contact is no nearer to an end than the rounding.
    below[:3] += (3 - y_mm[:3]) / 2
    below[-3:] += (3 - (y_mm[-1] - y_mm[-3:])) / 2
    first, last = _support(y_mm, below, body.balance_share * body.length_mm)
    lean = (below[last] - below[first]) / (y_mm[last] - y_mm[first])
    return Resting(axis, float(-(below[first] - lean * y_mm[first])), float(-lean))


def _support(y_mm: FloatArray, below_mm: FloatArray, balance_mm: float) -> tuple[int, int]:
    """Indices of the two hull vertices of the lower profile that stand either side of the balance.

    From the two ends on, what lies farthest below the line between the two takes the place of one.
    """
    first, last = 0, len(y_mm) - 1
    while True:
        slope = (below_mm[last] - below_mm[first]) / (y_mm[last] - y_mm[first])
        above = below_mm - below_mm[first] - slope * (y_mm - y_mm[first])
        low = int(above.argmin())
        if above[low] > -TOUCHES_MM or low in (first, last):
            return first, last
        if y_mm[low] < balance_mm:
            first = low
        else:
            last = low


def rim_shift_mm(
    camera: Camera, resting: Resting, body: Body, points_mm: FloatArray, normals: FloatArray
) -> FloatArray:
    """How far outside the middle plane's outline (n, 2) its rim is seen, (n,), mm in that plane.

    ``seen_rim_shift_mm`` the other way round, and exactly so: the line of sight leans as it does where it
    meets the plane, which is as far out as is asked for.
    """
    shift: FloatArray = np.zeros(len(points_mm))
    for _ in range(_ROUNDS):
        seen_mm = points_mm + shift[:, None] * normals
        shift = seen_rim_shift_mm(camera, resting, body, seen_mm, normals)
    return shift


def rim_narrower_mm(
    camera: Camera, resting: Resting, body: Body, points_mm: FloatArray, normals: FloatArray
) -> FloatArray:
    """How much narrower (n,), mm in the middle plane, a rim of the face's upper side looks than it is.

    At points (n, 2) of its outline: the lens shows the upper side farther out than the rounded edge.
    """
    upper = replace(resting, height_mm=resting.height_mm + body.face_thickness_mm / 2)
    seen_mm = resting.from_pixels(camera, upper.to_pixels(camera, points_mm))
    out_mm = np.sum((seen_mm - points_mm) * normals, axis=1)
    return np.asarray(out_mm - rim_shift_mm(camera, resting, body, points_mm, normals))


def seen_rim_shift_mm(
    camera: Camera, resting: Resting, body: Body, seen_mm: FloatArray, normals: FloatArray
) -> FloatArray:
    """How far inside the places (n, 2) of the middle plane at which a rim is seen its outline lies, (n,), mm.

    With the line of sight leaning outward by ``lean`` per mm of height, the side seen farthest out is
    that whose support function in the direction (1, lean) is largest: for a rounded plate of half
    thickness h and radius r this is |lean| (h - r) + r (sqrt(1 + lean²) - 1), and for an elliptic tube
    of half width a it is sqrt(a² + lean² h²) - a, both beyond the middle's own place.
    """
    x_mm, y_mm = np.ascontiguousarray(seen_mm.T)
    n_x, n_y = np.ascontiguousarray(normals.T)
    from_lens, (right, up) = resting.origin_mm - camera.centre_mm, resting.sides_mm
    # Coordinate by coordinate: a last axis of two or three is slow work for numpy.
    sight = [x_mm * right[k] + y_mm * up[k] + from_lens[k] for k in range(3)]
    ahead = [n_x * right[k] + n_y * up[k] for k in range(3)]
    lean = (ahead[0] * sight[0] + ahead[1] * sight[1]) / -sight[2] - ahead[2]
    half = body.half_thickness_mm(y_mm)
    in_head = np.clip((y_mm - body.handle_top_mm) / 20.0, 0, 1)
    handle = _tube_shift(lean, half, body.handle_width_mm / 2)
    if body.rim_half_width_mm is None:
        head = _plate_shift(lean, half, body.rim_radius_mm)
    else:
        head = _tube_shift(lean, half, body.rim_half_width_mm)
    side = handle + in_head * (head - handle)
    # The butt's end is a flat cap with rounded corners, seen on its own side only.
    at_end = np.clip((PAST_END_MM - y_mm) / (PAST_END_MM - BUTT_END_MM), 0.0, 1.0)
    end = at_end * np.minimum(n_y, 0.0) ** 2
    return np.asarray(side + end * (_plate_shift(lean, half, body.butt_radius_mm) - side))


def _plate_shift(lean: FloatArray, half_thickness_mm: FloatArray, radius_mm: float) -> FloatArray:
    radius = np.minimum(half_thickness_mm, radius_mm)
    return np.asarray(np.abs(lean) * (half_thickness_mm - radius) + radius * (np.sqrt(1 + lean**2) - 1))


def _tube_shift(lean: FloatArray, half_thickness_mm: FloatArray, half_width_mm: float) -> FloatArray:
    return np.asarray(np.sqrt(half_width_mm**2 + (lean * half_thickness_mm) ** 2) - half_width_mm)
