"""Table tops: reflectance maps in linear light over a rectangle of the table's plane."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np

from tests.render.coverage import Image
from tests.render.tone import albedo

TableKind = Literal["light", "dark", "grey", "wood", "tiles", "concrete", "carpet", "mat"]
TABLE_KINDS: tuple[TableKind, ...] = ("light", "dark", "grey", "wood", "tiles", "concrete", "carpet", "mat")


@dataclass(frozen=True)
class TableSpec:
    """``tone`` picks among a kind's colours; ``turn_deg`` turns planks, tiles and grids."""

    kind: TableKind = "light"
    seed: int = 1
    turn_deg: float = 0.0
    tone: int = 0


def table_map(spec: TableSpec, rows: int, cols: int, mm_per_cell: float) -> Image:
    """Reflectance (rows, cols, 3); cell (r, c) is at (c, r) · mm_per_cell of the table's own frame."""
    rng = np.random.default_rng(spec.seed)
    painters = {"wood": _wood, "tiles": _tiles, "concrete": _concrete, "carpet": _carpet, "mat": _mat}
    if spec.kind in painters:
        return painters[spec.kind](rng, rows, cols, mm_per_cell, spec.tone)
    colours = {
        "light": ("#cfcdc9", "#dcd6cb", "#c8ccd0"),
        "dark": ("#2b2b2f", "#37322e", "#23272b"),
        "grey": ("#7d8084", "#8c8a86", "#6d7379"),
    }[spec.kind]
    cloud = _noise(rng, rows, cols, 90 / mm_per_cell) * 0.03 + _fine(rng, rows, cols, 0.012)
    return _tint(colours[spec.tone % 3], 1 + cloud)


def _tint(colour: str, factor: Image) -> Image:
    rgb = np.array(albedo(colour), np.float32)
    return np.asarray(cv2.merge([factor * part for part in rgb]), np.float32)


def _between(dark: str, light: str, value: Image, shade: Image | float = 1.0) -> Image:
    """Mix of two colours, 0 .. 1 from dark to light, times a shade."""
    pairs = zip(albedo(dark), albedo(light), strict=True)
    planes = [(np.float32(high - low) * value + np.float32(low)) * shade for low, high in pairs]
    return np.asarray(cv2.merge(planes), np.float32)


def _noise(rng: np.random.Generator, rows: int, cols: int, grain: float, stretch: float = 1.0) -> Image:
    """Smooth noise of unit variance; grain in cells across, stretched along the columns axis."""
    high = max(int(rows / max(grain, 1.0)) + 4, 4)
    wide = max(int(cols / max(grain * stretch, 1.0)) + 4, 4)
    small = rng.standard_normal((high, wide), dtype=np.float32)
    # smooth clouds want a smooth kernel; the finest grain does not show the difference
    kernel = cv2.INTER_CUBIC if grain > 6 else cv2.INTER_LINEAR
    grown = cv2.resize(small, (cols, rows), interpolation=kernel)
    return np.asarray(grown, np.float32)


def _fine(rng: np.random.Generator, rows: int, cols: int, strength: float) -> Image:
    """Cell-sized noise from one tile: nobody sees that it repeats."""
    tile = rng.standard_normal((512, 512), dtype=np.float32) * np.float32(strength)
    whole = np.empty((rows, cols), np.float32)
    for top in range(0, rows, 512):
        for left in range(0, cols, 512):
            part = whole[top : top + 512, left : left + 512]
            part[:] = tile[: part.shape[0], : part.shape[1]]
    return whole


def _wood(rng: np.random.Generator, rows: int, cols: int, mm: float, tone: int) -> Image:
    dark, light = (("#6f451f", "#c79158"), ("#33200f", "#6d4527"), ("#8a6a48", "#d9bd94"))[tone % 3]
    plank = rng.uniform(95, 190)
    bow = _noise(rng, rows, cols, 260 / mm, 2.0) * (5 / mm)
    grain = 0.42 * _noise(rng, rows, cols, 7 / mm, 22) + 0.4 * _noise(rng, rows, cols, 2.0 / mm, 40)
    grain += 0.3 * _noise(rng, rows, cols, 0.8 / mm, 60)
    down = np.arange(rows, dtype=np.float32)[:, None] + bow
    grain += 0.35 * np.sin(down * np.float32(2 * np.pi * mm / 17) + 3 * _noise(rng, rows, cols, 120 / mm, 5))
    value = np.clip(0.5 + 0.21 * grain, 0, 1)
    shade = np.ones((rows, cols), np.float32)
    edges = np.arange(rng.uniform(0, plank), rows * mm + plank, plank)
    start = 0.0
    for end in edges:
        a, b = round(start / mm), min(round(end / mm), rows)
        along = rng.uniform(0, 400)
        left = 0
        while left < cols and b > a:
            along += rng.uniform(500, 1100)
            right = min(round(along / mm), cols)
            value[a:b, left:right] = np.roll(value[a:b, left:right], int(rng.integers(b - a)), axis=0)
            shade[a:b, left:right] *= np.float32(rng.uniform(0.68, 1.15))
            gap = max(round(0.7 / mm), 1)
            shade[a:b, max(right - gap, 0) : right] *= 0.35
            left = max(right, left + 1)
        shade[max(b - max(round(0.8 / mm), 1), 0) : b] *= 0.35
        start = end
    return _between(dark, light, np.asarray(value, np.float32), shade)


def _tiles(rng: np.random.Generator, rows: int, cols: int, mm: float, tone: int) -> Image:
    base, grout = (("#b8b2a6", "#5e5a52"), ("#8f9498", "#c9c9c6"), ("#d5d0c8", "#8b867d"))[tone % 3]
    size, joint = rng.uniform(180, 330), rng.uniform(2.5, 5.0)
    cloud = 0.05 * _noise(rng, rows, cols, 60 / mm) + 0.04 * _noise(rng, rows, cols, 14 / mm)
    factor = 1 + cloud + _fine(rng, rows, cols, 0.015)
    y, x = np.arange(rows) * mm + rng.uniform(0, size), np.arange(cols) * mm + rng.uniform(0, size)
    tints = rng.uniform(0.9, 1.08, (64, 64)).astype(np.float32)
    factor *= tints[(y // size).astype(int)[:, None] % 64, (x // size).astype(int)[None, :] % 64]
    away_y = np.minimum(y % size, size - y % size)[:, None]
    away_x = np.minimum(x % size, size - x % size)[None, :]
    away = np.minimum(away_y, away_x).astype(np.float32)
    tile = _tint(base, factor * (0.86 + 0.14 * np.clip((away - joint / 2) / 2.5, 0, 1)))
    soft = np.clip((away - joint / 2) / 0.5 + 0.5, 0, 1)
    rough = _tint(grout, np.ones((1, 1), np.float32))
    tile -= rough
    tile *= cv2.merge([soft, soft, soft])
    tile += rough
    return tile


def _concrete(rng: np.random.Generator, rows: int, cols: int, mm: float, tone: int) -> Image:
    colour = ("#8d8c88", "#6f6d69", "#a8a6a0")[tone % 3]
    factor = 1 + sum(
        w * _noise(rng, rows, cols, s / mm) for w, s in ((0.1, 110), (0.07, 35), (0.05, 9), (0.05, 1.6))
    )
    factor = factor + _fine(rng, rows, cols, 0.06)
    pits = _noise(rng, rows, cols, 2.2 / mm)
    factor = factor * np.where(pits > 2.6, 0.55, 1.0) + np.where(pits < -2.7, 0.25, 0.0)
    return _tint(colour, np.clip(factor, 0.2, 1.6).astype(np.float32))


def _carpet(rng: np.random.Generator, rows: int, cols: int, mm: float, tone: int) -> Image:
    colour = ("#6b6259", "#4a4f5c", "#8a7a68")[tone % 3]
    tufts = 0.22 * _noise(rng, rows, cols, 1.6 / mm) + 0.16 * _noise(rng, rows, cols, 4.5 / mm)
    factor = 1 + tufts + 0.07 * _noise(rng, rows, cols, 60 / mm) + _fine(rng, rows, cols, 0.12)
    warm = _noise(rng, rows, cols, 3.0 / mm)
    tufted = np.clip(factor, 0.15, 2.0).astype(np.float32)
    planes = [
        tufted * (1 + w * warm) * np.float32(c)
        for c, w in zip(albedo(colour), (0.06, 0.0, -0.05), strict=True)
    ]
    return np.asarray(cv2.merge(planes), np.float32)


def _mat(rng: np.random.Generator, rows: int, cols: int, mm: float, tone: int) -> Image:
    base, line = (("#1f5a45", "#b9c9a0"), ("#2c3f66", "#c5cfe0"), ("#3a3a3e", "#a9a9ad"))[tone % 3]
    y, x = np.arange(rows) * mm + rng.uniform(0, 50), np.arange(cols) * mm + rng.uniform(0, 50)
    ink = np.zeros((rows, cols), np.float32)
    for pitch, wide, strength in ((10.0, 0.35, 0.45), (50.0, 0.8, 0.8)):
        for values, shape in ((y, (-1, 1)), (x, (1, -1))):
            away = np.minimum(values % pitch, pitch - values % pitch)
            mark = np.clip((wide / 2 - away) / mm + 0.5, 0, min(wide / mm, 1.0)) * strength
            ink = np.maximum(ink, mark.astype(np.float32).reshape(shape))
    weave = 1 + _fine(rng, rows, cols, 0.07) + 0.04 * _noise(rng, rows, cols, 40 / mm)
    return _between(base, line, ink, weave.astype(np.float32))
