"""What may be table seen through a face, on small maps of it."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from digitise.face_throat import likely_parts
from digitise.tone import log_colour

TABLE, FACE, LINE = (0.05, 0.16, 0.10), (0.6, 0.3, 0.2), (0.4, 0.5, 0.42)
ROWS, COLS = np.mgrid[:80, :101]
OPENING = (ROWS > 10) & (ROWS < 70) & (np.abs(COLS - 50) < 45 - ROWS / 2)


def face(shade: float = 1.0) -> npt.NDArray[np.float32]:
    """A face with an opening, through which the table shows in shade."""
    light = np.empty((*OPENING.shape, 3), np.float32)
    light[:] = FACE
    light[OPENING] = shade * np.array(TABLE)
    return light


def shares(light: npt.NDArray[np.float32]) -> list[float]:
    """Overlap of each likely part with the opening."""
    colour = log_colour(np.array([[TABLE]], np.float32))[0, 0].astype(float)
    everywhere = np.ones(OPENING.shape, bool)
    return [
        float((part & OPENING).sum() / (part | OPENING).sum())
        for part in likely_parts(light, colour, everywhere)
    ]


def test_table_in_shadow_is_the_likeliest_opening() -> None:
    assert shares(face(shade=0.3))[0] > 0.99


def test_a_printed_mat_is_one_opening_once_its_lines_are_filled_in() -> None:
    light = face()
    light[OPENING & ((ROWS % 10 > 6) | (COLS % 10 > 6))] = LINE
    found = shares(light)
    assert found[0] < 0.1
    assert max(found) > 0.9


def test_a_face_that_looks_like_table_in_shadow_is_cut_off_along_the_rim() -> None:
    """Its colour is that of the table at a sixth of the light, all round the opening."""
    light = face()
    light[~OPENING] = 0.17 * np.array(TABLE)
    found = shares(light)
    assert found[0] < 0.7
    assert max(found) > 0.85


def test_nothing_is_likely_where_the_face_is_whole() -> None:
    light = face()
    light[:] = FACE
    assert shares(light) == []
