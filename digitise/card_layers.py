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

import numpy as np

from digitise.tone import FloatArray, to_stored

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

    @property
    def fine(self) -> FloatArray:
        """Places at which the scene is laid out before it is blurred, shape (f,)."""
        reach = float(self.across[-1]) + 3.0
        return np.asarray(np.arange(-reach, reach + _FINE / 2, _FINE))


def seen_profiles(parameters: FloatArray, setting: Setting) -> FloatArray:
    """Stored brightness and colour differences (..., 4, m, 3) across the four sides.

    ``parameters`` (..., SHARED + 4 OWN) as described at those two; leading axes hold other sets of them.
    """
    shared = parameters[..., :SHARED]
    own = parameters[..., SHARED:].reshape(*parameters.shape[:-1], 4, OWN)
    light = _light(shared, own, setting)
    blur = np.exp(shared[..., 0])
    by_brightness = to_stored(_kernel(setting, blur) @ light)
    by_colour = to_stored(_kernel(setting, np.hypot(blur, np.exp(shared[..., 8]))) @ light)
    brightness = by_brightness @ YCC_OF_RGB[0]
    return np.concatenate([brightness[..., None], by_colour @ YCC_OF_RGB[1:].T], axis=-1)


def _light(shared: FloatArray, own: FloatArray, setting: Setting) -> FloatArray:
    """Light (..., 4, f, 3) of the unblurred scene."""
    beyond = setting.fine - own[..., :1]
    foot = np.maximum(setting.wall, 0.0)[:, None]
    face = np.clip(0.5 - beyond / _FINE, 0, 1)
    wall = np.maximum(np.clip((foot - beyond) / _FINE + 0.5, 0, 1) - face, 0)
    table = (1 - face - wall) * _table_shade(shared, beyond, setting)
    weights = np.stack(
        [
            face * (1 + own[..., 4:5] * beyond),
            wall * _wall_light(shared, own[..., 9], setting)[..., None],
            table * (1 + own[..., 8:9] * beyond),
        ],
        axis=-1,
    )
    core = np.broadcast_to(shared[..., None, 5:8], own[..., 1:4].shape)
    return np.asarray(weights @ np.exp(np.stack([own[..., 1:4], core, own[..., 5:8]], axis=-2)))


def _direct(shared: FloatArray) -> FloatArray:
    return np.asarray(1 / (1 + np.exp(-shared[..., 3, None])))


def _table_shade(shared: FloatArray, beyond: FloatArray, setting: Setting) -> FloatArray:
    """Share (..., 4, f) of its light that the table gets near each side.

    The sky over a point at distance u from a wall of height h is half the share (1 + u / sqrt(u² + h²)).
    """
    hidden = np.minimum(setting.wall, 0.0)[:, None]
    foot = np.maximum(setting.wall, 0.0)[:, None]
    away_mm = (np.maximum(beyond - foot, 0.0) - hidden) / setting.per_mm
    towards = (shared[..., 1:3] @ OUTWARD.T)[..., None]
    soft = np.exp(shared[..., 4, None, None])
    lit = np.clip((away_mm - np.maximum(towards, 0.0) + soft) / (2 * soft), 0, 1)
    lit = np.where(towards > -soft, lit, 1.0)
    closed = (1 - away_mm / np.hypot(away_mm, setting.thick_mm)) / 2
    direct = _direct(shared)[..., None]
    return np.asarray(direct * lit + (1 - direct) * (1 - np.exp(shared[..., 9, None, None]) * closed))


def _wall_light(shared: FloatArray, factor: FloatArray, setting: Setting) -> FloatArray:
    """Light (..., 4) that falls on the walls, the open table's being 1."""
    facing = np.maximum(-(shared[..., 1:3] @ OUTWARD.T), 0.0) / setting.thick_mm
    direct = _direct(shared)
    return np.asarray((direct * facing + (1 - direct) / 2) * np.exp(factor) + _STRAY_LIGHT)


def _kernel(setting: Setting, blur: FloatArray) -> FloatArray:
    """Weights (..., 1, m, f) of a Gaussian blur from the fine places to the samples."""
    apart = setting.across[:, None] - setting.fine
    weights = np.exp(-0.5 * (apart / blur[..., None, None]) ** 2)
    weights /= weights.sum(axis=-1, keepdims=True)
    return np.asarray(weights[..., None, :, :])
