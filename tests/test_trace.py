"""From rendered photos of known racquets to their outlines, through the functions and the command."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from PIL import Image
from shapely.geometry import LinearRing, Point

from digitise.doubt import UNSUITED, calls_for_hand, doubtful_share
from digitise.photo import Photo, read_photo
from digitise.refusal import Reason, Refused
from digitise.trace import Thickness, Traced, trace_photo
from tests.render.compose import Rendered, render, write
from tests.render.invent import of_any_make, random_scene
from tests.render.racquet import Construction
from tests.render.scene import Scene

SEED = 3
# what a telephone takes; at three megapixels these scenes hang on the last bit of the arithmetic
MEGAPIXELS = 12
SCENES: dict[Construction, int] = {"solid": 3, "perforated": 4, "strung": 3}
CONSTRUCTIONS: tuple[Construction, ...] = ("solid", "perforated", "strung")


@dataclass(frozen=True, eq=False)
class Sample:
    """A rendered photo on disk with its truth."""

    path: Path
    rendered: Rendered
    construction: Construction

    @property
    def thickness(self) -> Thickness:
        spec = self.rendered.scene.racquets[0].spec
        return Thickness(spec.face_thickness_mm, 0.3, spec.handle_thickness_mm, 1.0)

    def outline_mm(self) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
        return np.asarray(self.rendered.truth["racquet"]["outline_mm"])


Sampler = Callable[[Construction], Sample]
Tracer = Callable[[Construction], tuple[Photo, Traced]]


@pytest.fixture(scope="session")
def sample(tmp_path_factory: pytest.TempPathFactory) -> Sampler:
    """Photos, each rendered when first asked for."""
    folder = tmp_path_factory.mktemp("photos")

    @cache
    def made(construction: Construction) -> Sample:
        rendered = render(random_scene(SCENES[construction], construction, megapixels=MEGAPIXELS))
        return Sample(write(rendered, folder, construction), rendered, construction)

    return made


@pytest.fixture(scope="session")
def traced(sample: Sampler) -> Tracer:
    """What was traced in each sample photo, once."""

    @cache
    def made(construction: Construction) -> tuple[Photo, Traced]:
        photo = read_photo(sample(construction).path)
        return photo, trace_photo(photo, construction, sample(construction).thickness)

    return made


@pytest.mark.parametrize("construction", CONSTRUCTIONS)
def test_outline_length_and_width(construction: Construction, sample: Sampler, traced: Tracer) -> None:
    truth = sample(construction).rendered.truth["racquet"]
    _, found = traced(construction)
    line = LinearRing(sample(construction).outline_mm())
    away_mm = np.array([line.distance(Point(place)) for place in found.contour.ring_mm])
    assert np.sqrt((away_mm**2).mean()) <= 1.0
    for measure, sd, true in (
        (found.spread.length_mm, found.spread.length_sd_mm, truth["overall_length_mm"]),
        (found.spread.width_mm, found.spread.width_sd_mm, truth["max_width_mm"]),
    ):
        assert measure == pytest.approx(true, rel=0.008)
        assert abs(measure - true) <= 3 * sd


@pytest.mark.parametrize(
    ("seed", "construction", "off_mm", "what"),
    [
        (5004, "solid", 0.8, "a dark grip on a dark carpet"),
        (5055, "solid", 0.8, "a shadow that goes on past the butt"),
        (5029, "perforated", 1.2, "a lamp's shadow past the butt, as clear as the butt itself"),
        (5234, "strung", 1.2, "a lamp's shadow past the tip"),
        # its card lies half in the racquet's shadow: that alone puts the scale off
        (9001, "perforated", 2.0, "a patch of light so strong that the table beside it looks foreign"),
    ],
)
def test_outlines_that_are_hard_to_tell(
    seed: int, construction: Construction, off_mm: float, what: str, tmp_path: Path
) -> None:
    outlines_are_near(random_scene(seed, construction, megapixels=MEGAPIXELS), off_mm, what, tmp_path)


@pytest.mark.parametrize(
    ("seed", "construction", "what"),
    [
        (5049, "solid", "a shadow 31 mm past the butt, over a joint of tiles"),
        (5136, "solid", "a shadow 13 mm past the tip on grey"),
    ],
)
def test_outlines_in_the_sun(seed: int, construction: Construction, what: str, tmp_path: Path) -> None:
    scene = random_scene(seed, construction, megapixels=MEGAPIXELS, light="sun")
    outlines_are_near(scene, 0.8, what, tmp_path)


def outlines_are_near(scene: Scene, off_mm: float, what: str, folder: Path) -> None:
    """Traced, a scene's racquet is ``off_mm`` from the true outline at most (root mean square)."""
    rendered = render(scene)
    spec, truth = rendered.scene.racquets[0].spec, rendered.truth["racquet"]
    construction = rendered.scene.racquets[0].spec.construction
    photo = read_photo(write(rendered, folder, "hard"))
    thickness = Thickness(spec.face_thickness_mm, 0.3, spec.handle_thickness_mm, 1.0)
    found = trace_photo(photo, construction, thickness)
    line = LinearRing(np.asarray(truth["outline_mm"]))
    away_mm = np.array([line.distance(Point(place)) for place in found.contour.ring_mm])
    assert np.sqrt((away_mm**2).mean()) <= off_mm, what
    assert found.spread.length_mm == pytest.approx(truth["overall_length_mm"], rel=0.0075 * off_mm), what


@pytest.mark.parametrize(
    ("seed", "construction", "off_mm", "what"),
    [
        (8065, "perforated", 0.8, "a butt cap that hardly differs from the carpet"),
        (8074, "perforated", 0.8, "a rough shape with its rim twice past the tip"),
        (8111, "strung", 0.8, "pieces of the hoop as grey as the table"),
        (9275, "strung", 1.0, "a soft shadow along a hoop, which is no band on its border"),
        (9215, "strung", 1.0, "a butt cap that hardly shows on a carpet"),
        (10400, "strung", 0.8, "a grip of the table's colour that ends in a collar"),
        (10355, "strung", 0.8, "lines on the racquet that seem to tell how the camera leaned"),
    ],
)
def test_outlines_of_any_make_that_are_hard_to_tell(
    seed: int, construction: Construction, off_mm: float, what: str, tmp_path: Path
) -> None:
    scene = of_any_make(random_scene(seed, construction, megapixels=MEGAPIXELS))
    outlines_are_near(scene, off_mm, what, tmp_path)


@pytest.mark.parametrize("construction", CONSTRUCTIONS)
def test_frame_and_ring(construction: Construction, traced: Tracer) -> None:
    _, found = traced(construction)
    ring = found.contour.ring_mm
    assert ring[:, 1].min() == pytest.approx(0.0, abs=1e-9)
    assert np.median(np.linalg.norm(np.diff(ring, axis=0), axis=1)) == pytest.approx(1.0, abs=0.1)
    assert LinearRing(ring).is_ccw
    widest = ring[np.abs(ring[:, 0]) > 0.9 * np.abs(ring[:, 0]).max(), 1].mean()
    assert widest > 0.5 * ring[:, 1].max()


def test_a_solid_face_has_no_openings_and_a_strung_one_its_bed(traced: Tracer) -> None:
    assert traced("solid")[1].openings_mm == ()
    bed = max(traced("strung")[1].openings_mm, key=lambda ring: LinearRing(ring).length)
    assert np.ptp(bed[:, 0]) < np.ptp(traced("strung")[1].contour.ring_mm[:, 0])


@pytest.mark.parametrize(
    ("failure", "seed", "reason"),
    [
        ("second_racquet", SEED, Reason.SEVERAL_RACQUETS),
        ("racquet_cut", 4, Reason.RACQUET_CUT),
        ("racquet_cut", SEED, Reason.RACQUET_CUT),
    ],
)
def test_refusals(failure: str, seed: int, reason: Reason, tmp_path: Path) -> None:
    rendered = render(random_scene(seed, "solid", megapixels=3, failure=failure))
    photo = read_photo(write(rendered, tmp_path, failure))
    with pytest.raises(Refused) as refused:
        trace_photo(photo, "solid", Thickness(14.0, 0.3, 30.0, 1.0))
    assert refused.value.reason is reason


def test_a_grip_that_cannot_be_as_wide_as_it_is_thick_calls_for_a_hand(
    sample: Sampler, traced: Tracer
) -> None:
    _, found = traced("solid")
    assert not any(doubt.reason == UNSUITED for doubt in found.doubts)
    thick = Thickness(sample("solid").thickness.face_mm, 0.3, 50.0, 1.0)
    other = trace_photo(read_photo(sample("solid").path), "solid", thick)
    told = [doubt for doubt in other.doubts if doubt.reason == UNSUITED]
    assert {doubt.side for doubt in told} == {"left side", "right side"}
    assert calls_for_hand(*other.doubtful_lengths)


def test_what_is_taken_is_the_surer_of_two_looks(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each look cuts the border as often as it is told to, and tells its own doubt."""
    asked = []

    def surer(
        look: Callable[[int], Traced],
        in_doubt: Callable[[Traced], float],
        area: Callable[[Traced], float],
    ) -> Traced:
        for cuts in (1, 2):
            found = look(cuts)
            asked.append((cuts, in_doubt(found)))
            x, y = found.contour.ring_mm.T
            shoelace_mm2 = abs(float(x @ np.roll(y, 1) - y @ np.roll(x, 1))) / 2
            assert area(found) == pytest.approx(shoelace_mm2)
        return found

    cut = cv2.grabCut
    cuts_made: list[int] = []
    monkeypatch.setattr("digitise.trace.surer", surer)

    def counted(*given: Any) -> Any:
        cuts_made.append(given[5])
        return cut(*given)

    monkeypatch.setattr(cv2, "grabCut", counted)
    photo = read_photo(write(render(random_scene(SEED, "solid", megapixels=3)), tmp_path, "plain"))
    found = trace_photo(photo, "solid", Thickness(14.0, 0.3, 30.0, 1.0))
    assert cuts_made == [1, 2]
    assert [cuts for cuts, _ in asked] == [1, 2]
    assert asked[1][1] == doubtful_share(*found.doubtful_lengths)


def digitise(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "digitise", *map(str, arguments)],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
        env=os.environ,
    )


def test_command_writes_file_and_picture(sample: Sampler, tmp_path: Path) -> None:
    target = tmp_path / "mine.json"
    typed = ("--weight", "231", "--balance", "175")
    ended = digitise("trace", sample("solid").path, "--out", target, *typed)
    assert ended.returncode == 0, ended.stderr
    assert "The balance reading 175 mm is" in ended.stdout
    length = sample("solid").rendered.truth["racquet"]["overall_length_mm"]
    rings = json.loads(target.read_text("utf-8"))["outline"]
    ring = np.asarray(rings["outer_mm"])
    assert np.ptp(ring[:, 1]) == pytest.approx(length, rel=0.01)
    with Image.open(tmp_path / "mine.png") as picture:
        assert max(picture.size) == 2400
    assert str(target) in ended.stdout.replace("\n", "")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["mine.json", "mine.png"]


def test_command_refuses_a_photo_without_racquet_and_keeps_what_was_there(tmp_path: Path) -> None:
    photo = tmp_path / "grey.png"
    Image.new("RGB", (1200, 900), (128, 128, 128)).save(photo)
    target = tmp_path / "kept.json"
    target.write_text("mine", "utf-8")
    ended = digitise("trace", photo, "--out", target, "--anew")
    assert ended.returncode == 1
    assert ended.stdout == ""
    assert len(ended.stderr.strip().splitlines()) == 1
    assert target.read_text("utf-8") == "mine"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["grey.png", "kept.json"]


@pytest.mark.parametrize("option", [("--card-on", "floor"), ("--construction", "wooden")])
def test_unknown_choices_are_a_usage_error(option: tuple[str, str], tmp_path: Path) -> None:
    ended = digitise("trace", tmp_path / "none.jpg", *option)
    assert ended.returncode == 2
    assert option[1] in ended.stderr
    assert list(tmp_path.iterdir()) == []


def test_a_missing_folder_is_said_before_any_work(sample: Sampler, tmp_path: Path) -> None:
    ended = digitise("trace", sample("solid").path, "--out", tmp_path / "no" / "x.json")
    assert ended.returncode == 1
    assert "folder" in ended.stderr
    assert len(ended.stderr.strip().splitlines()) == 1
