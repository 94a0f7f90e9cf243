"""Pictures of a card on a table with exactly known corners: drawn in light, blurred, then stored."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt
from scipy.spatial.transform import Rotation

from digitise.camera import Camera, Plane, focal_px_from_equivalent
from digitise.card_shape import ID1
from digitise.tone import FloatArray, to_stored

F35_MM = 26.0
_FINE = 3  # samples a pixel each way


@dataclass(frozen=True)
class View:
    """Where the camera is: over (x, y) of the card's frame, turned, leaning in a direction."""

    size_px: tuple[int, int] = (1200, 900)
    height_mm: float = 340.0
    at_mm: tuple[float, float] = (40.0, -25.0)
    turned_deg: float = 25.0
    lean_x_deg: float = 1.5
    lean_y_deg: float = -1.0

    def camera(self) -> Camera:
        """The exact camera of this view."""
        width, height = self.size_px
        down = Rotation.from_euler("x", 180, degrees=True)
        lean = Rotation.from_euler("yx", [self.lean_y_deg, self.lean_x_deg], degrees=True)
        rotation = (lean * down * Rotation.from_euler("z", self.turned_deg, degrees=True)).as_matrix()
        centre = np.array([*self.at_mm, self.height_mm])
        focal = focal_px_from_equivalent(F35_MM, width, height)
        return Camera(focal, (width - 1) / 2, (height - 1) / 2, rotation, -rotation @ centre)


def corners_px(camera: Camera) -> FloatArray:
    """True sharp corners of the card's top face, in the card's own order (4, 2)."""
    return camera.project(np.column_stack([ID1.corners_mm, np.full(4, ID1.thickness_mm)]))


def drawn(
    camera: Camera,
    size_px: tuple[int, int],
    card: npt.NDArray[np.float64] | float,
    table: npt.NDArray[np.float64] | float,
    sigma_px: float = 0.8,
    noise: float = 1.0,
    with_card: bool = True,
    seed: int = 1,
) -> npt.NDArray[np.uint8]:
    """The photo (h, w, 3). ``card`` and ``table`` are light: one value, a colour, or a picture.

    A card picture is (rows, columns, 3) over the whole face, a table picture (h, w, 3). The card's wall,
    where it is seen, is half as far from the table's light as the face.
    """
    width, height = size_px
    ground = np.broadcast_to(np.asarray(table, float), (height, width, 3)).astype(np.float64)
    light = ground.copy()
    if with_card:
        corners = corners_px(camera)
        low = np.maximum(np.floor(corners.min(axis=0)).astype(int) - 8, 0)
        high = np.minimum(np.ceil(corners.max(axis=0)).astype(int) + 9, [width, height])
        x = low[0] + (np.arange((high[0] - low[0]) * _FINE) + 0.5) / _FINE - 0.5
        y = low[1] + (np.arange((high[1] - low[1]) * _FINE) + 0.5) / _FINE - 0.5
        grid = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
        fine = np.repeat(np.repeat(ground[low[1] : high[1], low[0] : high[0]], _FINE, 0), _FINE, 1)
        fine = fine.reshape(-1, 3)
        # the wall is every height between foot and face; its levels overlap, so a few will do
        top = camera.to_plane(grid, Plane(ID1.thickness_mm))
        face = _face(card, top)
        for level in np.linspace(0.0, ID1.thickness_mm, 4)[:-1]:
            wall = _on_card(camera.to_plane(grid, Plane(float(level))))
            fine[wall] = (0.5 * face + 0.5 * np.repeat(ground.mean(axis=(0, 1))[None], len(face), 0))[wall]
        on_face = _on_card(top)
        fine[on_face] = face[on_face]
        shape = (high[1] - low[1], _FINE, high[0] - low[0], _FINE, 3)
        light[low[1] : high[1], low[0] : high[0]] = fine.reshape(shape).mean(axis=(1, 3))
    light = np.asarray(cv2.GaussianBlur(light, (0, 0), sigma_px), float)
    grain = np.random.default_rng(seed).normal(0, noise, light.shape)
    return np.clip(np.rint(255 * to_stored(light) + grain), 0, 255).astype(np.uint8)


def _on_card(world_mm: FloatArray) -> npt.NDArray[np.bool_]:
    """Inside the card's outline with its round corners."""
    beyond = np.abs(world_mm) - np.array([ID1.long_mm, ID1.short_mm]) / 2 + ID1.corner_radius_mm
    return np.asarray(
        np.hypot(*np.maximum(beyond, 0).T) + np.minimum(beyond.max(axis=1), 0) < ID1.corner_radius_mm
    )


def _face(card: npt.NDArray[np.float64] | float, world_mm: FloatArray) -> FloatArray:
    """Light of the face at places (n, 2) of the card's frame."""
    picture = np.asarray(card, float)
    if picture.ndim < 3:
        return np.broadcast_to(picture, (len(world_mm), 3)).astype(float)
    rows, columns = picture.shape[:2]
    column = ((world_mm[:, 0] / ID1.long_mm + 0.5) * columns).astype(int)
    row = ((0.5 - world_mm[:, 1] / ID1.short_mm) * rows).astype(int)
    return np.asarray(picture[np.clip(row, 0, rows - 1), np.clip(column, 0, columns - 1)])


def striped_card() -> FloatArray:
    """White with a dark stripe near one long side and a grey field."""
    face = np.full((54, 86, 3), 0.7)
    face[5:16] = 0.05
    face[24:32, 6:60] = 0.45
    return face


def gradient_card() -> FloatArray:
    """Green to violet with two thin bars to the edge and a chip."""
    share = np.linspace(0, 1, 172)[None, :, None]
    face = np.repeat(
        (1 - share) * np.array([0.1, 0.45, 0.12]) + share * np.array([0.3, 0.12, 0.5]), 108, axis=0
    )
    face[20:24, :40] = [0.5, 0.05, 0.05]
    face[44:64, 20:44] = [0.6, 0.45, 0.1]
    return np.asarray(face)


def gridded_table(size_px: tuple[int, int]) -> FloatArray:
    """A green cutting mat: light lines, every fifth one broad, over a slightly uneven ground."""
    width, height = size_px
    rng = np.random.default_rng(5)
    ground = cv2.resize(rng.normal(0, 0.01, (12, 16)), size_px, interpolation=cv2.INTER_CUBIC)[..., None]
    table = np.array([0.02, 0.12, 0.08]) + ground
    for index, at in enumerate(range(7, width, 27)):
        table[:, at : at + (3 if index % 5 == 0 else 1)] = [0.55, 0.5, 0.4]
    for index, at in enumerate(range(11, height, 27)):
        table[at : at + (3 if index % 5 == 0 else 1)] = [0.55, 0.5, 0.4]
    return np.asarray(np.clip(table, 0, 1))


def grained_table(size_px: tuple[int, int]) -> FloatArray:
    """Wood: streaks along one direction, dark joints between boards."""
    width, height = size_px
    rng = np.random.default_rng(7)
    streaks = cv2.GaussianBlur(rng.normal(0, 1, (height, width)), (0, 0), sigmaX=40, sigmaY=0.9)
    streaks = streaks / streaks.std()
    table = np.array([0.36, 0.2, 0.09]) * (1 + 0.22 * streaks[..., None])
    table[:: height // 5] *= 0.3
    return np.asarray(np.clip(table, 0.01, 1))
