"""The bench sheet: its words, its scale on paper as the PDF has it, its tiles, the command."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import numpy as np
import pypdf
import pytest
from matplotlib.colors import to_rgb
from numpy.typing import NDArray
from PIL import Image
from shapely.geometry import box
from typer import Typer
from typer.testing import CliRunner, Result

from digitise.commands.place import place
from digitise.commands.sheet import sheet as sheet_command
from model.build import site_in
from model.cautions import CAUTIONS
from model.drawing import PNG_DPI, as_bytes
from model.effects import effects_of
from model.errors import PictureError, StripError
from model.sheet import Sheet, edge_ends, sheet_of
from model.sheet_drawing import (
    END_OFF_MM,
    WORDS_MM,
    _marked_mm,
    end_place,
    fitted_pages,
    paper_size,
    true_size_page,
    true_size_pages,
)
from model.sheet_list import Block, in_columns, list_height_mm
from model.spelling import parse_piece
from model.storage import write_racquet
from tests.model_samples import paddle_file

Array = NDArray[np.float64]

FILE = paddle_file()
SITE = site_in(FILE)
POINT_MM = 25.4 / 72
STRIPS = ("3g:76mm@3, mirrored", "2g:40mm@12, 2 layers", "5g@butt")

app = Typer()
app.command("sheet")(sheet_command)
app.command()(place)


def made(*texts: str) -> Sheet:
    effects = effects_of(FILE, [parse_piece(text) for text in texts], axis_mm=50.0)
    return sheet_of("club", "2026-05-01", SITE, effects, "solid")


def run(*words: object) -> Result:
    return CliRunner().invoke(app, [str(word) for word in words])


@pytest.fixture
def club(tmp_path: Path) -> Path:
    path = tmp_path / "club.racquet.json"
    write_racquet(path, FILE)
    return path


def lines_of(page: pypdf.PageObject) -> list[Array]:
    """Every polyline of a page (n, 2) in mm, as the PDF's content stream has it."""
    content = page.get_contents()
    assert content is not None
    found: list[Array] = []
    points: list[list[float]] = []
    for operands, operator in pypdf.generic.ContentStream(content, page.pdf).operations:
        if operator in (b"m", b"l"):
            if operator == b"m" and points:
                found.append(np.array(points) * POINT_MM)
                points = []
            points.append([float(v) for v in operands])
    return [*found, np.array(points) * POINT_MM] if points else found


def test_a_whole_perimeter_has_its_length_and_its_number_at_the_tip() -> None:
    found = made("9g@perimeter, width 20mm")
    left, right = SITE.handle_tops_mm
    assert found.cuts[0].size == f"{left + right:.1f} × 20 mm"
    assert _marked_mm(found.laid[0]) == pytest.approx([0.0, SITE.edge.tip_mm[1]], abs=1.0)


def test_strips_round_the_handle_are_counted() -> None:
    (cut,) = made("6g:70mm@under the grip at 60mm, width 6mm, 4 strips").cuts
    assert (cut.size, cut.where) == (
        "4 strips of 70.0 × 6 mm",
        "spread evenly under the grip, 25 to 95 from the butt",
    )


def test_words() -> None:
    found = made(*STRIPS)
    assert [cut.number for cut in found.cuts] == [1, 2, 3, 4]
    right, left, tip, butt = found.cuts
    assert (right.size, right.mass_g, right.where) == ("76.0 mm", 3.0, "over the edge")
    middle = 75 + np.hypot(20, 30) + 110
    top = SITE.handle_tops_mm[1]
    assert right.from_tip == f"{middle - 38:.0f} to {middle + 38:.0f} mm, right"
    assert right.from_handle_top == f"{top - middle - 38:.0f} to {top - middle + 38:.0f} mm, right"
    assert left.from_tip == right.from_tip.replace("right", "left")
    assert tip.from_tip == "20 mm on each side"
    assert (tip.layers, butt.where) == (2, "inside the butt cap")
    assert "13.00 g added in 4 pieces" in found.lines[1]
    assert found.figures[2].name == "swing weight at 50 mm"
    assert found.figures[0].change.startswith("+13.00 ± ")
    assert found.cautions == CAUTIONS


def test_a_strip_over_the_tip_and_one_across_it() -> None:
    (one,) = made("3g:100mm@30mm").laid
    assert edge_ends(one, SITE)[0] == "20 mm left to 80 mm right"


def test_the_fitted_pdf(club: Path, tmp_path: Path) -> None:
    out = tmp_path / "sheet.pdf"
    words = [w for strip in STRIPS for w in ("--strip", strip)]
    shown = run("sheet", club, out, *words, "--date", "2026-05-01")
    assert shown.stdout.count(CAUTIONS[0]) == 1
    (page,) = pypdf.PdfReader(out).pages
    assert float(page.mediabox.width) * POINT_MM == pytest.approx(210, abs=0.01)
    text = page.extract_text()
    heads = ("club", "2026-05-01", "Cut and stick", "measured after", "swing weight at 50 mm")
    assert all(wanted in text for wanted in (*heads, *CAUTIONS))
    ratio = re.search(r"scale 1 : ([\d.]+)", text)
    assert ratio is not None
    lines = [line for line in lines_of(page) if np.ptp(line[:, 1]) < 290]  # less the page's own background
    assert max(np.ptp(line[:, 1]) for line in lines) * float(ratio[1]) == pytest.approx(410, rel=3e-3)


def test_every_piece_is_listed_on_however_many_pages(club: Path, tmp_path: Path) -> None:
    many = [w for at in range(10, 330, 16) for w in ("--strip", f"1g:12mm@{at}mm")]
    out = tmp_path / "sheet.pdf"
    assert "2 pages" in run("sheet", club, out, *many, "--mirror").stdout
    texts = [page.extract_text() for page in pypdf.PdfReader(out).pages]
    joined = "\n".join(texts)
    for at in range(10, 330, 16):
        for side in ("left", "right"):
            assert joined.count(f"from the tip: {at - 6} to {at + 6} mm, {side}") == 1
    assert "more on the next page" in texts[0]
    assert "cut list, page 2 of 2" in texts[1]
    assert "place lists" not in joined
    assert run("sheet", club, tmp_path / "sheet.svg", *many, "--mirror").exit_code == 0
    svg = (tmp_path / "sheet.svg").read_text()
    assert svg.count("from the tip: ") == 40  # a drawing has one page: it is longer
    size = re.search(r'width="([\d.]+)pt" height="([\d.]+)pt"', svg)
    assert size is not None
    assert float(size[1]) * POINT_MM == pytest.approx(210, abs=0.1)
    assert float(size[2]) * POINT_MM == pytest.approx(86 + 34 + 10 + 40 * (4 * 3.4 + 2.6), abs=0.1)


def test_columns_are_as_full_as_they_can_be() -> None:
    blocks = [
        Block(i, ("what", "where")) for i in range(5)
    ]  # 2 * 3.4 + 2.6 = 9.4 mm each, under 10 mm of head
    columns = in_columns(blocks, 10 + 2 * 9.4)
    assert [[block.number for block in column] for column in columns] == [[0, 1], [2, 3], [4]]
    assert list_height_mm(blocks) == pytest.approx(10 + 5 * 9.4)


@pytest.mark.parametrize(
    "strips",
    [
        ("1g:30mm@12", "1g:60mm@12"),
        ("4g:40mm@handle at 60mm", "4g:40mm@under the grip at 60mm", "2g:20mm@handle at 60mm"),
        tuple(f"1g:{size}mm@3" for size in range(20, 80, 5)),
    ],
)
def test_numbers_of_pieces_with_one_middle_do_not_cover_each_other(strips: tuple[str, ...]) -> None:
    (page,) = [true_size_page(made(*strips))]
    numbers = {str(i + 1) for i in range(len(strips))}
    places = [t.get_position() for t in page.axes[0].texts if t.get_text() in numbers and t.get_bbox_patch()]
    assert len(places) == len(strips)
    apart = [np.hypot(*np.subtract(a, b)) for a, b in combinations(places, 2)]
    assert min(apart) >= 5.2
    assert places[0] == pytest.approx(fresh_number(strips[0]))  # the first stays where it is alone


CROWDED = ("1g:40mm@180mm", "1g:40mm@200mm", "2g:76mm@3, mirrored", "1g:30mm@9:30", "5g@perimeter")


def test_no_distance_of_a_strip_s_end_is_printed_over_another() -> None:
    """Each is 5 by 2.6 mm of paper at most; where the handle is too narrow for two, one stands beside it."""
    page = true_size_page(made(*CROWDED))
    words = [text for text in page.axes[0].texts if re.fullmatch(r"\d{2,}", text.get_text())]
    assert len(words) == 2 * (len(CROWDED) + 1)
    places = np.array([text.get_position() for text in words])
    for one, other in combinations(places, 2):
        assert not (np.abs(one - other) < WORDS_MM).all()


@pytest.mark.parametrize(
    ("half_mm", "taken_mm", "expected_mm"),
    [(40.0, [], 34.0), (40.0, [34.0], 28.6), (40.0, [34.0, 28.6], 23.2), (6.0, [], 0.0), (6.0, [0.0], 12.0)],
)
def test_a_distance_stands_inside_the_edge_or_where_there_is_no_room_beside_it(
    half_mm: float, taken_mm: list[float], expected_mm: float
) -> None:
    """The end of a strip on the right edge, at x = ``half_mm``; words are kept 2.5 mm inside the edges."""
    inside = box(2.5 - half_mm, -50.0, half_mm - 2.5, 50.0)
    taken = [np.array([x, 1.0]) for x in taken_mm]
    place = end_place(np.array([half_mm, 0.0]), np.array([-1.0, 0.0]), taken, inside)
    np.testing.assert_allclose(place, [expected_mm, 0.0])


def test_numbers_of_many_pieces_at_one_place_keep_off_the_cut_list() -> None:
    """On A4 the list begins at 47 % of the width; a number's circle is 5 mm wide."""
    strips = [f"1g:{20 + 5 * i}mm@3" for i in range(12)]
    page, *_ = fitted_pages(made(*strips), paper_size("a4"))
    numbers = [t for t in page.axes[0].texts if t.get_bbox_patch()]
    assert len(numbers) == len(strips)
    places = np.array([t.get_position() for t in numbers])
    assert places[:, 0].max() < 0.47 * 210.0 - 2.5
    assert min(np.hypot(*(a - b)) for a, b in combinations(places, 2)) >= 5.2


def fresh_number(strip: str) -> tuple[float, float]:
    texts = true_size_page(made(strip)).axes[0].texts
    (place,) = [t.get_position() for t in texts if t.get_text() == "1" and t.get_bbox_patch()]
    return place


def test_pieces_on_others_stand_out() -> None:
    """Tape all round the edge is lighter than the strips on it, and drawn before them, whatever the order."""
    for texts in (("3g:76mm@3", "9g@perimeter", "1g:20mm@12"), ("9g@perimeter", "1g:20mm@12", "3g:76mm@3")):
        found = made(*texts)
        drawn = true_size_page(found).axes[0].patches
        heights = [float(patch.get_path().get_extents().height) for patch in drawn]
        tall = int(np.argmax(heights))
        greys = [to_rgb(patch.get_facecolor())[0] for patch in drawn]
        orders = [patch.get_zorder() for patch in drawn]
        others = [i for i in range(len(drawn)) if i != tall]
        assert len(others) == 2
        assert all(greys[tall] > greys[i] + 0.3 and orders[tall] < orders[i] for i in others)
    alone = true_size_page(made("9g@perimeter")).axes[0].patches
    assert [to_rgb(patch.get_facecolor())[0] for patch in alone] == [0.45]


def test_ends_at_one_place_are_told_once() -> None:
    page = true_size_page(made("1g:40mm@30mm", "2g:30mm@25mm")).axes[0]  # 10 to 50 and 10 to 40
    words = [text.get_text() for text in page.texts]
    assert [words.count(end) for end in ("10", "40", "50")] == [1, 1, 1]
    apart = true_size_page(made("1g:40mm@30mm", "2g:40mm@-30mm")).axes[0]
    assert [text.get_text() for text in apart.texts].count("10") == 2


def test_a_line_leads_to_words_that_found_no_place_beside_their_end() -> None:
    def leads(*texts: str) -> list[Array]:
        lines = fitted_pages(made(*texts), paper_size("a4"))[0].axes[0].lines
        return [np.asarray(line.get_xydata()) for line in lines if line.get_linewidth() == 0.3]

    assert leads("1g:20mm@12") == []
    crowded = leads("1g:20mm@12", "1g:20mm@29mm", "1g:20mm@51mm")  # ends at 10, 19, 39, 41 and 61 mm
    assert len(crowded) >= 2
    for start, end in crowded:
        assert np.hypot(*(end - start)) > 0.85 * 1.5 * END_OFF_MM


def test_the_tiles_have_the_true_size(club: Path, tmp_path: Path) -> None:
    out = tmp_path / "sheet.pdf"
    run("sheet", club, out, "--strip", "3g:76mm@3", "--true-size", "--paper", "letter")
    _, *tiles = pypdf.PdfReader(out).pages
    assert len(tiles) == 4
    for page in tiles:
        assert float(page.mediabox.height) * POINT_MM == pytest.approx(279.4, abs=0.01)
        lengths = [np.hypot(*(line[1] - line[0])) for line in lines_of(page) if len(line) == 2]
        assert any(abs(length - 100.0) < 0.01 for length in lengths)
        slant = [step for line in lines_of(page) for step in _steps(line) if _is_slant(step)]
        assert slant


def test_neighbouring_tiles_share_their_crosses(club: Path, tmp_path: Path) -> None:
    """A cross's place on the racquet, told by the outline around it, is the same on both sheets."""
    out = tmp_path / "sheet.pdf"
    run("sheet", club, out, "--strip", "3g:76mm@3", "--true-size")
    _, first, second, *_ = pypdf.PdfReader(out).pages
    offsets = []
    for page in (first, second):
        lines = [line for line in lines_of(page) if len(line) == 2]
        crosses = sorted({round(float(line[:, 0].mean()), 2) for line in lines if _is_cross(line)})
        (axis,) = {round(float(line[0, 0]), 2) for line in lines if np.ptp(line[:, 1]) > 120}
        offsets.append([cross - axis for cross in crosses])
    assert offsets[0][-1] == pytest.approx(offsets[1][0], abs=0.02)


def test_nothing_of_a_tile_s_drawing_is_printed_outside_its_frame() -> None:
    """Beyond the frame a page with pieces is the page without, to the pixel; within it is not."""
    size = paper_size("a4")
    with_pieces = made(*(f"1g:20mm@{at}mm, mirrored" for at in range(20, 441, 28)))
    bare = replace(with_pieces, laid=())
    differing = 0
    for pages in zip(true_size_pages(with_pieces, size), true_size_pages(bare, size), strict=True):
        seen = [np.asarray(Image.open(io.BytesIO(as_bytes([page], "png"))).convert("L")) for page in pages]
        apart = seen[0] != seen[1]
        left, up = (round(mm / 25.4 * PNG_DPI) for mm in (10, 22))
        inside = apart[left - 2 : 2 - up, left - 2 : 2 - left]
        assert apart.sum() == inside.sum()
        differing += inside.sum()
    assert differing > 1000


def _steps(line: Array) -> list[Array]:
    return [line[i : i + 2] for i in range(len(line) - 1)]


def _is_slant(step: Array) -> bool:
    """The sample paddle's cut corner, 20 mm across and 30 mm up."""
    return bool(np.allclose(np.abs(step[1] - step[0]), [20.0, 30.0], atol=0.01))


def _is_cross(line: Array) -> bool:
    return bool(abs(np.hypot(*(line[1] - line[0])) - 6.0) < 0.01)


def test_the_svg_at_true_size() -> None:
    svg = as_bytes([true_size_page(made(*STRIPS))], "svg").decode()
    size = re.search(r'width="([\d.]+)pt" height="([\d.]+)pt"', svg)
    assert size is not None
    assert float(size[1]) * POINT_MM == pytest.approx(190 + 2 * 16, abs=0.1)
    assert float(size[2]) * POINT_MM == pytest.approx(410 + 2 * 16 + 14, abs=0.1)
    paths = [np.array(re.findall(r"-?[\d.]+", d), float) for d in re.findall(r' d="(M[^"]*)"', svg)]
    outlines = [p.reshape(-1, 2) for p in paths if len(p) >= 24 and len(p) % 2 == 0]
    sizes = [np.ptp(ring, axis=0) * POINT_MM for ring in outlines]
    assert any(np.allclose(size_mm, [190, 410], atol=0.01) for size_mm in sizes)


def test_the_file_s_own_placements_are_drawn(club: Path, tmp_path: Path) -> None:
    stuck = tmp_path / "stuck.racquet.json"
    run("place", club, "--strip", "3g:76mm@3, mirrored", "--out", stuck)
    run("sheet", stuck, tmp_path / "sheet.pdf")
    assert "76.0 mm" in pypdf.PdfReader(tmp_path / "sheet.pdf").pages[0].extract_text()
    assert isinstance(run("sheet", club, tmp_path / "none.pdf").exception, StripError)
    assert not (tmp_path / "none.pdf").exists()


def test_bad_papers_and_kinds(club: Path, tmp_path: Path) -> None:
    with pytest.raises(PictureError, match="use a4 or letter"):
        paper_size("a0")
    words = ("--strip", "3g:76mm@3")
    assert isinstance(run("sheet", club, tmp_path / "sheet.doc", *words).exception, PictureError)


def test_pages_are_the_same_each_time() -> None:
    found = made(*STRIPS)
    assert as_bytes([true_size_page(found)], "pdf") == as_bytes([true_size_page(found)], "pdf")
