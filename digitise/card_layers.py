"""What a camera sees across a card's sides: face, wall, shadow and table, one beside the other.

The card is a thin box on the table. Across a side lie its face, its wall where that is turned to the camera,
the strip of table that its own shadow and its nearness darken, and the open table. One light serves all
four sides: ``shadow`` is the vector of the shadow that the top edge throws (mm on the table, in the card's
frame), a share ``direct`` of the table's light comes from there, the rest from the whole sky. A wall facing
the light is as bright as its slant allows, its colour that of the card's core. All is blurred in light by
the lens, then stored through the sRGB curve (IEC 61966-2-1), and colour once more at JPEG's half resolution.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from digitise.tone import FloatArray, stored_slope, to_stored

OUTWARD = np.array([[0.0, -1.0], [1.0, 0.0], [0.0, 1.0], [-1.0, 0.0]])
"""Outward normals of sides 0 to 3 in the card's frame."""
YCC_OF_RGB = np.array([[0.299, 0.587, 0.114], [-0.168736, -0.331264, 0.5], [0.5, -0.418688, -0.081312]])
"""Rows: brightness and the two colour differences of a JPEG (ITU-T T.871)."""

SHARED = 10
"""Parameters common to all sides: ln blur, shadow x, y (mm), logit of the direct share, ln half width of
the shadow's soft edge (mm), ln core colour (3), ln colour blur, ln strength of the contact shade."""
OWN = 10
"""Parameters of one side: offset (units of the profiles), ln face colour (3), face slope, ln table colour
(3), table slope, ln wall factor."""

_FINE = 0.4
_STRAY_LIGHT = 0.01  # a wall is never black


@dataclass(frozen=True, eq=False)
class Setting:
    """The geometry of the profiles, lengths in units of their samples' own scale.

    ``across`` (m,) are the places of the samples, outward; ``wall`` (4,) is how far outside the top edge
    each wall's foot is seen, negative where it is hidden; ``per_mm`` units make a mm; ``thick_mm`` is the
    card's thickness.
    """

    across: FloatArray
    wall: FloatArray
    per_mm: float
    thick_mm: float

    @cached_property
    def fine(self) -> FloatArray:
        """Places at which the scene is laid out before it is blurred, shape (f,)."""
        reach = float(self.across[-1]) + 3.0
        return np.asarray(np.arange(-reach, reach + _FINE / 2, _FINE))


@dataclass(frozen=True, eq=False)
class Seen:
    """Stored brightness and colour differences ``values`` (..., 4, m, 3) across the four sides.

    ``slopes`` (SHARED + OWN, ..., 4, m, 3) are theirs by the shared parameters and by each side's own.
    """

    values: FloatArray
    slopes: FloatArray


def seen_profiles(parameters: FloatArray, setting: Setting) -> Seen:
    """What is seen across the four sides.

    ``parameters`` (..., SHARED + 4 OWN) as described at those two; leading axes hold other sets of them.
    """
    shared = parameters[..., None, :SHARED]  # the sides' axis before the last
    own = parameters[..., SHARED:].reshape(*parameters.shape[:-1], 4, OWN)
    light, slopes = _light(shared, own, setting)
    slopes *= stored_slope(light)
    return Seen(_as_stored(to_stored(light)), _as_stored(slopes))


def _as_stored(rgb: FloatArray) -> FloatArray:
    """Brightness and colours (..., 4, m, 3) of RGB (..., 2, m, 4, 3) blurred as either is."""
    stored = np.empty((*rgb.shape[:-4], *rgb.shape[-3:]))
    # as one long list of colours: numpy would multiply each four of them on their own
    for index, (rows, channels) in enumerate(zip(_ROWS, (slice(0, 1), slice(1, 3)), strict=True)):
        colours = rgb[..., index, :, :, :].reshape(-1, 3) @ rows.T
        stored[..., channels] = colours.reshape(*stored.shape[:-1], -1)
    return stored.swapaxes(-3, -2)


_ROWS = (YCC_OF_RGB[:1], YCC_OF_RGB[1:])


def _light(shared: FloatArray, own: FloatArray, setting: Setting) -> tuple[FloatArray, FloatArray]:
    """Blurred light (..., 2, m, 4, 3), as of brightness and of colour, and its slopes (20, ...)."""
    kernel, widening, widened_by = _kernels(shared[..., 0, :], setting)
    columns = _columns(shared, own, setting)
    flat = columns.reshape(*columns.shape[:-2], -1)[..., None, :, :]
    blurred = (kernel @ flat).reshape(*kernel.shape[:-1], 4, -1)[..., None]
    layers = columns[..., :3].reshape(*columns.shape[:-2], -1)[..., None, :, :]
    wider = (widening @ layers).reshape(*kernel.shape[:-1], 4, 3)[..., None]
    face, core, table = (
        np.exp(each)[..., None, None, :, :] for each in (own[..., 1:4], shared[..., 5:8], own[..., 5:8])
    )
    falls, by_towards, by_direct = (
        each[..., None, None, :, None] for each in _wall_light(shared, own[..., 9], setting)
    )
    bare = blurred[..., 1, :] * core
    on_face, on_wall, on_table = blurred[..., 0, :] * face, bare * falls, blurred[..., 2, :] * table
    light = on_face + on_wall + on_table
    slopes = np.zeros((SHARED + OWN, *light.shape))
    wide = wider[..., 0, :] * face + wider[..., 1, :] * falls * core + wider[..., 2, :] * table
    for index, by in zip((0, 8), widened_by, strict=True):
        slopes[index] = by[..., None, None, None] * wide
    towards = blurred[..., 8, :] * table + by_towards * bare
    for axis in (0, 1):
        slopes[1 + axis] = OUTWARD[:, axis, None] * towards
    slopes[3] = blurred[..., 9, :] * table + by_direct * bare
    slopes[4], slopes[9] = blurred[..., 10, :] * table, blurred[..., 11, :] * table
    for channel in range(3):
        for first, layer in ((5, on_wall), (SHARED + 1, on_face), (SHARED + 5, on_table)):
            slopes[first + channel, ..., channel] = layer[..., channel]
    by_offset = blurred[..., 3, :] * face + blurred[..., 4, :] * falls * core + blurred[..., 5, :] * table
    slopes[SHARED] = by_offset
    slopes[SHARED + 4], slopes[SHARED + 8] = (
        blurred[..., 6, :] * face,
        blurred[..., 7, :] * table,
    )
    slopes[SHARED + 9] = on_wall - _STRAY_LIGHT * bare
    return light, slopes


def _columns(shared: FloatArray, own: FloatArray, setting: Setting) -> FloatArray:
    """How much of each layer is at the fine places, (..., f, 4, 12): face, bare wall, table; these by the
    offset; face and table by their slopes; table by shadow, direct share, softness and contact shade."""
    beyond = setting.fine[:, None] - own[..., None, :, 0]
    foot = np.maximum(setting.wall, 0.0)
    from_face, from_foot = 0.5 - beyond / _FINE, (foot - beyond) / _FINE + 0.5
    face = np.clip(from_face, 0, 1)
    face_moves = np.where((from_face > 0) & (from_face < 1), 1 / _FINE, 0.0)
    wall = np.clip(from_foot, 0, 1) - face
    wall_moves = np.where((from_foot > 0) & (from_foot < 1), 1 / _FINE, 0.0) - face_moves
    wall_moves, wall = np.where(wall > 0, wall_moves, 0.0), np.maximum(wall, 0)
    bare, bare_moves = 1 - face - wall, -face_moves - wall_moves
    shade = _table_shade(shared, beyond, setting)
    face_slope, table_slope = own[..., None, :, 4], own[..., None, :, 8]
    rising = 1 + table_slope * beyond
    table = bare * rising
    return np.stack(
        [
            face * (1 + face_slope * beyond),
            wall,
            table * shade.share,
            face_moves * (1 + face_slope * beyond) - face * face_slope,
            wall_moves,
            (bare_moves * rising - bare * table_slope) * shade.share + table * shade.by_offset,
            face * beyond,
            bare * shade.share * beyond,
            table * shade.by_towards,
            table * shade.by_direct,
            table * shade.by_soft,
            table * shade.by_contact,
        ],
        axis=-1,
    )


@dataclass(frozen=True, eq=False)
class _Shade:
    """Share (..., f, 4) of its light that the table gets near each side, and its slopes."""

    share: FloatArray
    by_offset: FloatArray
    by_towards: FloatArray
    by_direct: FloatArray
    by_soft: FloatArray
    by_contact: FloatArray


def _direct(shared: FloatArray) -> FloatArray:
    return np.asarray(1 / (1 + np.exp(-shared[..., 3])))


def _table_shade(shared: FloatArray, beyond: FloatArray, setting: Setting) -> _Shade:
    """How the shadow and the card's nearness darken the table.

    The sky over a point at distance u from a wall of height h is half the share (1 + u / sqrt(u² + h²)).
    """
    hidden, foot = np.minimum(setting.wall, 0.0), np.maximum(setting.wall, 0.0)
    away_mm = (np.maximum(beyond - foot, 0.0) - hidden) / setting.per_mm
    away_moves = np.where(beyond > foot, -1 / setting.per_mm, 0.0)
    towards = shared[..., 1:3] @ OUTWARD.T
    soft = np.exp(shared[..., 4, None])
    past = (away_mm - np.maximum(towards, 0.0)) / (2 * soft)
    shaded = towards > -soft
    lit = np.where(shaded, np.clip(past + 0.5, 0, 1), 1.0)
    edge = shaded & (np.abs(past) < 0.5)
    far = np.hypot(away_mm, setting.thick_mm)
    closed = (1 - away_mm / far) / 2
    direct, contact = _direct(shared)[..., None], np.exp(shared[..., 9, None])
    sky = 1 - contact * closed
    lit_by_away = np.where(edge, 1 / (2 * soft), 0.0)
    closed_by_away = -(setting.thick_mm**2) / (2 * far**3)
    return _Shade(
        share=direct * lit + (1 - direct) * sky,
        by_offset=away_moves * (direct * lit_by_away - (1 - direct) * contact * closed_by_away),
        by_towards=np.where(towards > 0, -direct * lit_by_away, 0.0),
        by_direct=direct * (1 - direct) * (lit - sky),
        by_soft=np.where(edge, -direct * past, 0.0),
        by_contact=-(1 - direct) * contact * closed,
    )


def _wall_light(
    shared: FloatArray, factor: FloatArray, setting: Setting
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Light (..., 4) that falls on the walls, the open table's being 1; by shadow; by the direct share."""
    towards = (shared[..., 1:3] @ OUTWARD.T)[..., 0, :]
    facing = np.maximum(-towards, 0.0) / setting.thick_mm
    direct, wall = _direct(shared), np.exp(factor)
    falls = (direct * facing + (1 - direct) / 2) * wall + _STRAY_LIGHT
    by_towards = np.where(towards < 0, -direct / setting.thick_mm, 0.0) * wall
    return falls, by_towards, direct * (1 - direct) * (facing - 0.5) * wall


def _kernels(shared: FloatArray, setting: Setting) -> tuple[FloatArray, FloatArray, tuple[FloatArray, ...]]:
    """Weights (..., 2, m, f) of the blurs of brightness and colour from fine places to samples.

    Then their slopes by the blur's logarithm, and that logarithm's (..., 2) by ln blur and ln colour blur.
    """
    lens2, colour2 = np.exp(2 * shared[..., 0]), np.exp(2 * shared[..., 8])
    blur2 = np.stack([lens2, lens2 + colour2], axis=-1)
    apart2 = (setting.across[:, None] - setting.fine) ** 2 / blur2[..., None, None]
    weights = np.exp(-0.5 * apart2)
    weights /= weights.sum(axis=-1, keepdims=True)
    mean = np.sum(weights * apart2, axis=-1, keepdims=True)
    none = np.zeros_like(lens2)
    by_lens, by_colour = (
        np.stack([none + 1, lens2 / blur2[..., 1]], -1),
        np.stack([none, colour2 / blur2[..., 1]], -1),
    )
    return weights, weights * (apart2 - mean), (by_lens, by_colour)
