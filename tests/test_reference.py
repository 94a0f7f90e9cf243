"""References of every kind in rendered photos: the camera they give against the true one."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from digitise.camera import Plane
from digitise.card_size import card_size
from digitise.photo import Photo
from digitise.reference import NEAREST_MM, Asked, Reference, find_reference
from digitise.refusal import Reason, Refused
from tests.card_drawing import F35_MM, View, drawn
from tests.reference_scenes import beside_sheet, photographed
from tests.render import Rendered, Scene, random_scene
from tests.render.tables import TableKind


def photo_from(pixels: np.ndarray[tuple[int, ...], np.dtype[np.uint8]], f35_mm: float | None) -> Photo:
    return Photo(pixels, f35_mm, None, None, "drawn", "0" * 64, ())


def racquet_length_error_mm(reference: Reference, rendered: Rendered) -> float:
    """Found minus true distance of the racquet's ends, both at the ends' true height over the table.

    What the camera alone makes wrong: the ends' pixels are the truth's.
    """
    racquet = rendered.truth["racquet"]
    outline = np.asarray(racquet["outline_mm"])
    ends = [int(outline[:, 1].argmin()), int(outline[:, 1].argmax())]
    pose = racquet["pose"]
    world = np.column_stack([outline[ends], [0, 0]]) @ np.asarray(pose["R"]).T + np.asarray(pose["t"])
    pixels = np.asarray(racquet["outline_px"])[ends]
    seen = [reference.estimate.camera.to_plane(pixels[[i]], Plane(float(world[i, 2])))[0] for i in (0, 1)]
    true = np.linalg.norm(world[1, :2] - world[0, :2])
    return float(np.linalg.norm(seen[1] - seen[0]) - true)


@pytest.mark.parametrize(
    ("size", "width_mm", "height_mm", "seed"),
    [("a4", 297, 210, 1), ("a5", 210, 148, 2), ("letter", 279.4, 215.9, 3), ("100x70", 100, 70, 4)],
)
def test_sheets_and_other_rectangles(
    size: str, width_mm: float, height_mm: float, seed: int, tmp_path: Path
) -> None:
    photo, rendered = photographed(beside_sheet(seed, width_mm, height_mm), tmp_path)
    reference = find_reference(photo, Asked(card_size(size)))
    assert reference.confidence > 0.5
    assert reference.notes == ()
    assert reference.estimate.camera.height_mm == pytest.approx(
        rendered.truth["camera"]["height_mm"], rel=3e-3
    )
    # 0.2 %: how much the lens bends is known only roughly before
    assert racquet_length_error_mm(reference, rendered) == pytest.approx(0, abs=0.8)
    true = np.asarray(rendered.truth["card"]["corners_px"])
    for corner in reference.outlines_px[0]:
        assert np.linalg.norm(true - corner, axis=1).min() < 0.7


def test_a_sheet_is_not_taken_for_another_size(tmp_path: Path) -> None:
    photo, _ = photographed(beside_sheet(2, 297, 210), tmp_path)
    with pytest.raises(Refused, match=r"No rectangle of 100 × 90 mm .*is needed") as refused:
        find_reference(photo, Asked(card_size("100x90")))
    assert refused.value.reason is Reason.NO_CARD


def two_cards(seed: int, table: TableKind | None = None, **changes: float) -> Scene:
    scene = random_scene(seed, "solid", table=table, megapixels=3, cards=2, extras=0)
    second = replace(scene.cards[1], **changes)  # type: ignore[arg-type]  # fields of CardSpec that are floats
    return replace(scene, cards=(scene.cards[0], second))


def length_sd_mm(reference: Reference, rendered: Rendered) -> float:
    """The sd that the camera's covariance gives to the distance of the racquet's ends."""
    outline = np.asarray(rendered.truth["racquet"]["outline_mm"])
    ends = np.asarray(rendered.truth["racquet"]["outline_px"])[
        [outline[:, 1].argmin(), outline[:, 1].argmax()]
    ]
    plane = Plane(15.0)
    butt, tip = reference.estimate.camera.to_plane(ends, plane)
    along = (tip - butt) / np.linalg.norm(tip - butt)
    gradient = np.concatenate([-along, along])
    return float(np.sqrt(gradient @ reference.estimate.plane_covariance(ends, plane) @ gradient))


@pytest.mark.parametrize("seed", [2, 7])
def test_a_second_card_at_the_other_end_halves_the_sd_and_more(seed: int, tmp_path: Path) -> None:
    # on a table with lines one card tells the length as well
    photo, rendered = photographed(two_cards(seed, "grey"), tmp_path)
    alone, both = (find_reference(photo, Asked(cards=n)) for n in (1, None))
    assert (len(alone.outlines_px), len(both.outlines_px)) == (1, 2)
    assert "2 cards give the scale together" in both.notes[0]
    assert "2 places look like the card" in alone.notes[0]
    # beside the first card's place stands its own confidence, whatever the second one's is
    x, y = both.outlines_px[0].mean(axis=0)
    assert f"at {x:.0f},{y:.0f} (confidence {both.confidence:.2f})" in both.notes[0]
    assert length_sd_mm(both, rendered) < 0.5 * length_sd_mm(alone, rendered)
    for reference in (alone, both):
        error_mm = racquet_length_error_mm(reference, rendered)
        assert abs(error_mm) < 3 * length_sd_mm(reference, rendered)
    true = np.asarray(rendered.truth["camera"]["tilt_deg"])
    assert both.estimate.camera.tilt_deg == pytest.approx(true, abs=0.2)


@pytest.mark.parametrize("table", ["tiles", "mat"])
def test_a_table_with_lines_tells_the_lens_and_the_lean(table: TableKind, tmp_path: Path) -> None:
    """One card among lines tells the length almost twice as well as on a plain table; the lens is found."""
    found: dict[TableKind, tuple[Reference, Rendered]] = {}
    kinds: tuple[TableKind, ...] = (table, "grey")
    for each in kinds:
        photo, rendered = photographed(two_cards(2, each), tmp_path)
        found[each] = find_reference(photo, Asked(cards=1)), rendered
    lined, rendered = found[table]
    assert length_sd_mm(lined, rendered) < 0.65 * length_sd_mm(*found["grey"])
    assert abs(racquet_length_error_mm(lined, rendered)) < 3 * length_sd_mm(lined, rendered)
    truth = rendered.truth["camera"]
    assert lined.estimate.camera.k1 == pytest.approx(truth["k1"], abs=0.003)
    assert lined.estimate.camera.tilt_deg == pytest.approx(truth["tilt_deg"], abs=0.1)


def test_something_like_a_card_but_larger_is_not_joined(tmp_path: Path) -> None:
    larger = 1.02
    scene = two_cards(2, width_mm=larger * 85.60, height_mm=larger * 53.98, radius_mm=larger * 3.18)
    photo, rendered = photographed(scene, tmp_path)
    found = find_reference(photo)
    assert len(found.outlines_px) == 1
    assert "2 places look like the card" in found.notes[0]
    other = np.asarray(rendered.truth["other_cards"][0]["corners_px"]).mean(axis=0)
    chosen = find_reference(photo, Asked(near_px=(float(other[0]), float(other[1]))))
    assert chosen.outlines_px[0].mean(axis=0) == pytest.approx(other, abs=1.0)
    assert chosen.notes == ()
    with pytest.raises(Refused, match=r"Only 1 of 2 cards .*leave out --cards") as refused:
        find_reference(photo, Asked(cards=2))
    assert refused.value.reason is Reason.NO_CARD


def test_too_near_is_refused_with_the_height() -> None:
    view = View(height_mm=0.8 * NEAREST_MM)
    with pytest.raises(Refused, match=rf"24\d mm above the table.*{NEAREST_MM:.0f} mm") as refused:
        find_reference(photo_from(drawn(view.camera(), view.size_px, 0.75, 0.3), F35_MM))
    assert refused.value.reason is Reason.TOO_NEAR
