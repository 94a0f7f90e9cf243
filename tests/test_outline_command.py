"""The outline to other programs and back: SVG at true size, DXF, and what an editor may have done."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from shapely import distance, points
from shapely.geometry import LinearRing

from digitise.outline_edited import with_outline
from digitise.svg_read import read_svg
from digitise.svg_write import named_curves, page_of, svg_text
from model.build import Known, build_racquet, outline_of
from model.errors import OutlineError
from model.face import Landmarks
from model.outline import outline_from_rings
from model.racquet_file import RacquetFile
from model.storage import read_racquet, write_racquet
from tests.model_samples import ellipse, paddle, paddle_file

EXACT_MM = 0.01
PX_PER_MM = 96 / 25.4


def perforated_file() -> RacquetFile:
    """The sample paddle with a rounded outline and three holes."""
    ring = np.asarray(paddle().filled.buffer(-6).buffer(6, quad_segs=16).exterior.coords)[:-1]
    holes = [ellipse(x, 270, 5, 5, 60) for x in (-30.0, 0.0, 30.0)]
    return build_racquet(
        outline_from_rings(ring, holes), Landmarks(130.0, 2.0), Known("perforated", 20.0, 25.0)
    )


def apart(first: list[list[float]], second: list[list[float]]) -> float:
    a, b = np.array(first), np.array(second)
    return max(
        float(distance(LinearRing(a), points(b)).max()), float(distance(LinearRing(b), points(a)).max())
    )


def test_the_drawing_is_at_true_size(tmp_path: Path) -> None:
    file = paddle_file()
    text = svg_text(file, "a paddle & more")
    page = page_of(outline_of(file))
    assert f'width="{page.width_mm:g}mm"' in text
    assert f'viewBox="0 0 {page.width_mm:g} {page.height_mm:g}"' in text
    assert "<title>a paddle &amp; more</title>" in text
    numbers = re.search(r'id="outline" d="([^"]+)"', text)
    assert numbers is not None
    pairs = re.findall(r"[-\d.]+,[-\d.]+", numbers[1])
    ends = np.array([[float(v) for v in pair.split(",")] for pair in pairs[::3]])
    # The paddle is 410 mm long and 190 mm wide; every third pair is a point of the line.
    assert np.ptp(ends[:, 1]) == pytest.approx(410.0, abs=0.2)
    assert np.ptp(ends[:, 0]) == pytest.approx(190.0, abs=0.2)


def test_an_untouched_drawing_comes_back_exactly(tmp_path: Path) -> None:
    file = perforated_file()
    path = tmp_path / "out.svg"
    path.write_text(svg_text(file, "it"), "utf-8")
    back = read_svg(path, file)
    assert back.is_same
    assert back.changed_mm == 0
    np.testing.assert_array_equal(back.outer_mm, file.outline.outer_mm)
    for ring, old in zip(back.openings_mm, file.outline.openings_mm, strict=True):
        np.testing.assert_array_equal(ring, old)


@pytest.mark.parametrize("how", ["relative", "scaled group", "moved group", "px units"])
def test_what_editors_do_to_a_file_changes_nothing(how: str, tmp_path: Path) -> None:
    """The same drawing in other words: each of these keeps every point where it was."""
    file = perforated_file()
    text = svg_text(file, "it")
    page = page_of(outline_of(file))
    if how == "relative":
        text = re.sub(r'd="([^"]+Z)"', lambda m: f'd="{relative(m[1])}"', text)
    elif how == "scaled group":
        inside = re.sub(
            r"([-\d.]+),([-\d.]+)", lambda m: f"{float(m[1]) * 4:.6f},{float(m[2]) * 4:.6f}", text
        )
        text = inside.replace("</desc>", '</desc><g transform="scale(0.25)">').replace("</svg>", "</g></svg>")
    elif how == "moved group":
        inside = re.sub(r"([-\d.]+),([-\d.]+)", lambda m: f"{float(m[1]) - 7},{float(m[2]) + 3}", text)
        text = inside.replace("</desc>", '</desc><g transform="translate(7,-3)">').replace(
            "</svg>", "</g></svg>"
        )
    else:
        text = text.replace(f'width="{page.width_mm:g}mm"', f'width="{page.width_mm * PX_PER_MM:.6f}"')
        text = text.replace(f'height="{page.height_mm:g}mm"', f'height="{page.height_mm * PX_PER_MM:.6f}px"')
    path = tmp_path / "resaved.svg"
    path.write_text(text, "utf-8")
    back = read_svg(path, file)
    assert apart(back.outer_mm.tolist(), file.outline.outer_mm) < EXACT_MM
    assert len(back.openings_mm) == 3


def grouped(text: str, transform: str, factor: float, shift: tuple[float, float]) -> str:
    """All paths in a group with a transformation, their numbers changed by its opposite."""

    def moved(found: re.Match[str]) -> str:
        return f"{float(found[1]) * factor + shift[0]:.6f},{float(found[2]) * factor + shift[1]:.6f}"

    inside = re.sub(r"([-\d.]+),([-\d.]+)", moved, text)
    return inside.replace("</desc>", f'</desc><g transform="{transform}">').replace("</svg>", "</g></svg>")


def relative(data: str) -> str:
    """A path of absolute cubics in relative ones."""
    pairs = [tuple(float(v) for v in pair.split(",")) for pair in re.findall(r"[-\d.]+,[-\d.]+", data)]
    x, y = pairs[0]
    words = [f"m {x},{y}"]
    for i in range(1, len(pairs), 3):
        words.append("c " + " ".join(f"{px - x:.6f},{py - y:.6f}" for px, py in pairs[i : i + 3]))
        x, y = pairs[i + 2]
    return " ".join(words) + " z"


def edited(file: RacquetFile, tmp_path: Path, change: str = "") -> Path:
    """The drawing with the point nearest to the right side's middle moved out by 5 mm."""
    text = svg_text(file, "it")
    page = page_of(outline_of(file))
    curve = named_curves(file)["outline"]
    i = int(np.argmin(np.hypot(*(curve.points_mm - [95.0, 280.0]).T)))
    x, y = page.of(curve.points_mm[i])
    old = f"{x:.4f}".rstrip("0").rstrip(".") + "," + f"{y:.4f}".rstrip("0").rstrip(".")
    assert old in text
    path = tmp_path / "edited.svg"
    path.write_text(text.replace(old, f"{x + 5:.4f},{y:.4f}") + change, "utf-8")
    return path


def test_an_edit_changes_what_was_edited_and_nothing_else(tmp_path: Path) -> None:
    file = perforated_file()
    back = read_svg(edited(file, tmp_path), file)
    assert not back.is_same
    # 5 mm out at the point itself; the file's own points elsewhere, to the last digit
    assert back.outer_mm[:, 0].max() == pytest.approx(100.0, abs=0.3)
    kept = {tuple(p) for p in file.outline.outer_mm}
    assert sum(tuple(p) in kept for p in back.outer_mm.tolist()) > 0.6 * len(kept)
    changed = with_outline(file, back.outer_mm, back.openings_mm)
    assert changed.outline.width_mm.value == pytest.approx(file.outline.width_mm.value + 5.0, abs=0.3)
    assert changed.readings == file.readings


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('id="outline"', 'id="path12"', "no path named outline"),
        ('id="butt"', 'id="path13"', "lost the line named butt"),
        (' Z"', '"', "is not closed"),
        ('mm" height', 'in" height', "keep the page's size and units"),
        ("</svg>", "", "not a sound SVG"),
        ('id="opening-2"', 'id="opening-1"', "two paths named opening-1"),
    ],
)
def test_what_is_wrong_is_said(old: str, new: str, words: str, tmp_path: Path) -> None:
    file = perforated_file()
    text = svg_text(file, "it")
    if words == "is not closed":
        text = re.sub(r" C [^C]+ Z\"", '"', text)
    text = text.replace(old, new)
    path = tmp_path / "wrong.svg"
    path.write_text(text, "utf-8")
    with pytest.raises(OutlineError, match=words):
        read_svg(path, file)


HOLE_2 = r'<path id="opening-2"[^>]*/>'


@pytest.mark.parametrize(
    ("pattern", "new", "moved", "added", "removed"),
    [
        ('id="opening-2"', 'id="path77"', (), (), ("opening-2",)),
        (HOLE_2, "", (), (), ("opening-2",)),
        ('id="opening-2"', 'id="opening-2" transform="translate(2,0)"', ("opening-2",), (), ()),
        ("</svg>", '<path id="opening-9" d="M 110,60 L 115,60 L 115,65 Z"/></svg>', (), ("opening-9",), ()),
    ],
)
def test_what_became_of_openings_is_told(
    pattern: str,
    new: str,
    moved: tuple[str, ...],
    added: tuple[str, ...],
    removed: tuple[str, ...],
    tmp_path: Path,
) -> None:
    file = perforated_file()
    path = tmp_path / "openings.svg"
    text, count = re.subn(pattern, new, svg_text(file, "it"))
    assert count == 1
    path.write_text(text, "utf-8")
    back = read_svg(path, file)
    assert (back.moved, back.added, back.removed) == (moved, added, removed)
    assert (back.changed_mm, back.is_same) == (0, False)
    assert len(back.openings_mm) == 3 + len(added) - len(removed)


def test_an_opening_that_is_no_path_is_refused(tmp_path: Path) -> None:
    file = perforated_file()
    path = tmp_path / "circle.svg"
    circle = '<circle id="opening-2" cx="120" cy="165" r="5"/>'
    path.write_text(re.sub(HOLE_2, circle, svg_text(file, "it")), "utf-8")
    with pytest.raises(OutlineError, match=r"opening-2 of .* is a circle and no path"):
        read_svg(path, file)


def test_the_command_tells_of_openings(tmp_path: Path) -> None:
    club, path = tmp_path / "club.racquet.json", tmp_path / "two.svg"
    write_racquet(club, perforated_file())
    path.write_text(re.sub(HOLE_2, "", svg_text(read_racquet(club), "it")), "utf-8")
    ran = run("outline", club, "--from-svg", path)
    assert (ran.returncode, ran.stderr) == (0, "")
    assert "1 opening was removed: opening-2." in ran.stdout
    swing = read_racquet(club).figures.swing_weight_kgcm2
    assert f"swing weight at 50 mm {swing.value:.1f} kg·cm²." in ran.stdout
    assert len(read_racquet(club).outline.openings_mm) == 2


def test_an_unedited_drawing_is_written_where_another_file_is_asked_for(tmp_path: Path) -> None:
    club, path, out = (tmp_path / name for name in ("club.racquet.json", "it.svg", "new.racquet.json"))
    write_racquet(club, perforated_file())
    path.write_text(svg_text(read_racquet(club), "it"), "utf-8")
    ran = run("outline", club, "--from-svg", path, "--out", out)
    assert (ran.returncode, ran.stderr) == (0, "")
    assert f"Racquet file, the same again: {out}" in ran.stdout
    assert read_racquet(out) == read_racquet(club)
    kept = run("outline", club, "--from-svg", path)
    assert "it is left as it was" in kept.stdout


def test_moved_landmarks_are_refused(tmp_path: Path) -> None:
    file = perforated_file()
    text = svg_text(file, "it")
    moved = re.sub(r'(id="axis" d="M )([-\d.]+)', lambda m: f"{m[1]}{float(m[2]) + 1:g}", text)
    path = tmp_path / "moved.svg"
    path.write_text(moved, "utf-8")
    with pytest.raises(OutlineError, match=r"line named axis .* has moved"):
        read_svg(path, file)


def test_a_crossing_is_refused_and_the_file_stays(paddle_path: Path, tmp_path: Path) -> None:
    file = read_racquet(paddle_path)
    text = svg_text(file, "it")
    page = page_of(outline_of(file))
    crossed = f"M 10,10 L {page.width_mm - 10},{page.height_mm - 10} L 10,{page.height_mm - 10} L 200,10 Z"
    text = re.sub(r'(id="outline" d=")[^"]+', lambda m: m[1] + crossed, text)
    path = tmp_path / "crossed.svg"
    path.write_text(text, "utf-8")
    before = paddle_path.read_bytes()
    ran = run("outline", paddle_path, "--from-svg", path)
    assert ran.returncode == 1
    assert "crosses or touches itself" in ran.stderr
    assert paddle_path.read_bytes() == before


def run(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "digitise", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, check=False)


def test_the_command_there_and_back(paddle_path: Path, tmp_path: Path) -> None:
    drawing = tmp_path / "club.svg"
    wrote = run("outline", paddle_path, "--svg", drawing)
    assert (wrote.returncode, wrote.stderr) == (0, "")
    text = drawing.read_text("utf-8")
    assert "data:image/jpeg;base64," in text
    assert len(text) < 2_000_000
    before = read_racquet(paddle_path)
    path = edited_file(text, before, tmp_path)
    out = tmp_path / "changed.racquet.json"
    took = run("outline", paddle_path, "--from-svg", path, "--out", out)
    assert (took.returncode, took.stderr) == (0, "")
    after = read_racquet(out)
    assert after.outline.width_mm.value > before.outline.width_mm.value + 3
    assert after.correction is not None
    assert after.correction.automatic is not None
    assert after.correction.automatic.outline.outer_mm == before.outline.outer_mm
    assert {stretch.how for stretch in after.correction.touched} == {"moved"}
    assert read_racquet(paddle_path) == before


def edited_file(text: str, file: RacquetFile, tmp_path: Path) -> Path:
    curve, page = named_curves(file)["outline"], page_of(outline_of(file))
    i = int(np.argmin(np.hypot(*(curve.points_mm - [95.0, 260.0]).T)))
    x, y = page.of(curve.points_mm[i])
    old = f"{x:.4f}".rstrip("0").rstrip(".") + "," + f"{y:.4f}".rstrip("0").rstrip(".")
    path = tmp_path / "edited.svg"
    path.write_text(text.replace(old, f"{x + 5:.4f},{y:.4f}"), "utf-8")
    return path


def test_dxf_holds_the_same_points(paddle_path: Path, tmp_path: Path) -> None:
    import ezdxf.filemanagement
    from ezdxf.entities.lwpolyline import LWPolyline

    path = tmp_path / "club.dxf"
    assert run("outline", paddle_path, "--dxf", path).returncode == 0
    drawing = ezdxf.filemanagement.readfile(path)
    assert drawing.header["$INSUNITS"] == 4  # millimetres
    (line,) = [e for e in drawing.modelspace() if e.dxf.layer == "outline"]
    assert isinstance(line, LWPolyline)
    assert line.closed
    xy = [[round(p[0], 4), round(p[1], 4)] for p in line.get_points()]
    assert xy == read_racquet(paddle_path).outline.outer_mm


@pytest.mark.skipif(shutil.which("inkscape") is None, reason="a vector editor to save the drawing again")
def test_a_vector_editor_saves_it_again(tmp_path: Path) -> None:
    file = perforated_file()
    path, again = tmp_path / "out.svg", tmp_path / "again.svg"
    path.write_text(svg_text(file, "it"), "utf-8")
    command = ["inkscape", str(path), "--export-plain-svg", f"--export-filename={again}"]
    subprocess.run(command, check=True, capture_output=True)
    back = read_svg(again, file)
    assert apart(back.outer_mm.tolist(), file.outline.outer_mm) < EXACT_MM


def test_a_file_without_a_photo_can_be_drawn_too(tmp_path: Path) -> None:
    path = tmp_path / "hand.racquet.json"
    write_racquet(path, paddle_file())
    drawing = tmp_path / "hand.svg"
    assert run("outline", path, "--svg", drawing).returncode == 0
    assert "<image" not in drawing.read_text("utf-8")
