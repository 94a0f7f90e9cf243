"""Effects from a racquet's file, the pieces kept in it, and the map as a picture."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from matplotlib.colors import to_rgb
from PIL import Image
from typer import Typer
from typer.testing import CliRunner

from digitise.commands.place import place
from model.build import Known, Traced, body_of, build_racquet, figures_record, site_in
from model.drawing import as_bytes, check_picture
from model.effects import effects_of, parse_point
from model.errors import ModelError, PictureError, StripError
from model.figures import FIGURE_NAMES
from model.fitted import chosen_pieces, fitted_pieces, with_pieces
from model.impact import effective_mass_g
from model.impact_picture import draw_impact, impact_map
from model.materials import all_materials
from model.reading_text import balance_reading, weight_reading
from model.spelling import parse_piece
from model.storage import read_racquet, write_racquet
from model.tolerance import Tolerance
from tests.model_samples import EXACTLY, STRUNG_TOPS, paddle_file, strung

FILE = paddle_file()
PAIR = [parse_piece("3g:76mm@3, mirrored")]

app = Typer()
app.command()(place)


def test_nothing_that_is_stuck_on_outweighs_the_racquet() -> None:
    weight = FILE.figures.weight_g.value
    (piece,) = chosen_pieces(FILE, [f"{weight - 1}g:76mm@3"], {})
    assert piece.mass_g == pytest.approx(weight - 1)
    words = f"the strip '3kg:76mm@3' weighs 3000 g, more than the racquet itself, {weight:.0f} g"
    with pytest.raises(StripError, match=words):
        chosen_pieces(FILE, ["3kg:76mm@3"], {})
    with pytest.raises(StripError, match="weighs 500 g, more than the racquet itself"):
        chosen_pieces(FILE, ["1g:76mm@3", "500g@butt"], {})
    kept = with_pieces(FILE, [parse_piece("2kg@butt")])
    with pytest.raises(StripError, match="weighs 2000 g"):
        fitted_pieces(kept)


def test_change_per_gram_and_the_two_sds() -> None:
    found = effects_of(FILE, PAIR, axis_mm=50.0)
    for name, placed, base in zip(
        FIGURE_NAMES, found.study.placement_sd, found.study.baseline_change_sd, strict=True
    ):
        change, per_gram = getattr(found.study.change, name), getattr(found.study.per_gram, name)
        assert per_gram.value == pytest.approx(change.value / 6)
        assert change.sd == pytest.approx(np.hypot(placed, base), rel=1e-9)
    assert found.study.placement_sd[0] == pytest.approx(np.sqrt(2) * 0.1)
    twist = np.sqrt(2) * 0.1 * (95**2 + 14**2 / 12) / 1e5
    assert found.study.placement_sd[3] == pytest.approx(twist, rel=1e-6)


def test_tape_round_the_whole_edge_weighs_what_its_length_does(tmp_path: Path) -> None:
    """Of the paddle both straight sides above the handle and the tip, as the edge itself has them."""
    (piece,) = chosen_pieces(FILE, ["lead@perimeter"], all_materials())
    round_mm = sum(site_in(FILE).handle_tops_mm)
    assert piece.mass_g == pytest.approx(all_materials()["lead"].tape_mass(round_mm).value)
    write_racquet(tmp_path / "p.racquet.json", FILE)
    shown = CliRunner().invoke(app, [str(tmp_path / "p.racquet.json"), "--strip", "lead@perimeter", "--json"])
    assert json.loads(shown.stdout)["change"]["weight_g"]["value"] == pytest.approx(piece.mass_g, abs=1e-3)


def test_exact_placing_leaves_the_baseline_alone() -> None:
    found = effects_of(FILE, PAIR, axis_mm=50.0, tolerance=EXACTLY)
    assert found.study.placement_sd == pytest.approx(np.zeros(6))
    after, base = found.study.after.swing_weight_kgcm2.sd, found.study.baseline_after_sd[2]
    assert after == pytest.approx(base)


def test_on_a_frame_a_clock_position_is_no_surer_than_the_throat_top() -> None:
    """At three o'clock, 515 mm up, the piece lies half as far off as the throat top's 1.5 mm."""
    known = Known("strung", 21.0, 28.0, (weight_reading("310"), balance_reading("330")))
    frame = build_racquet(strung(), replace(STRUNG_TOPS, throat_top_mm=345.0), known, Traced())
    found = effects_of(frame, [parse_piece("5g:2mm@3")], axis_mm=100.0, tolerance=EXACTLY)
    want = 5 * 2 * (515 - 100) * 0.75 / 1e5
    assert found.study.change.swing_weight_kgcm2.sd == pytest.approx(want, rel=2e-3)
    assert found.study.baseline_change_sd[2] == pytest.approx(want, rel=2e-3)


def test_impact_rows_follow_the_body() -> None:
    found = effects_of(FILE, PAIR, axis_mm=50.0, impact_mm=(60.0, 300.0))
    row = found.impact_rows["effective_mass_g"]
    figures = figures_record(found.study.after)
    dy = 300 - figures.balance_mm.value
    want = 1 / (
        1 / figures.weight_g.value
        + dy**2 / (figures.recoil_weight_kgcm2.value * 1e5)
        + 60**2 / (figures.twist_weight_kgcm2.value * 1e5)
    )
    assert row.after.value == pytest.approx(want)
    assert row.change.value == pytest.approx(row.after.value - row.before.value)
    weight, arm = figures.weight_g.value, figures.balance_mm.value - 50
    swing = figures.swing_weight_kgcm2.value * 1e5
    assert found.impact_rows["percussion_mm"].after.value == pytest.approx(50 + swing / (weight * arm))


def test_points_are_read_and_checked() -> None:
    assert parse_point("20, 27cm") == (20.0, 270.0)
    with pytest.raises(StripError, match="must be X,Y"):
        parse_point("20")
    with pytest.raises(ModelError, match="beside the racquet"):
        effects_of(FILE, PAIR, axis_mm=50.0, impact_mm=(200.0, 300.0))


def test_pieces_survive_the_file(tmp_path: Path) -> None:
    pieces = [parse_piece("lead:76mm@3, 2 layers", all_materials()), parse_piece("9g@butt")]
    path = tmp_path / "stuck.racquet.json"
    write_racquet(path, with_pieces(FILE, pieces, mirror=True))
    kept = fitted_pieces(read_racquet(path))
    assert [piece.mirror for piece in kept] == [True, True]
    assert kept[0].mass_sd_g == pytest.approx(pieces[0].mass_sd_g)
    again = effects_of(FILE, kept, axis_mm=50.0)
    assert again.added == pytest.approx(effects_of(FILE, pieces, mirror=True, axis_mm=50.0).added, rel=1e-5)
    assert body_of(read_racquet(path)).values == pytest.approx(body_of(FILE).values)


def test_the_map_is_the_formula_and_a_picture(tmp_path: Path) -> None:
    found = effects_of(FILE, PAIR, axis_mm=50.0)
    x, y, values = impact_map(found.body_before, found.face, 10.0)
    i, j = np.argwhere(np.isfinite(values))[40]
    assert values[i, j] == pytest.approx(float(effective_mass_g(found.body_before, np.array([x[j], y[i]]))))
    inside = np.isfinite(values).sum() * 100
    assert inside == pytest.approx(found.face.area, rel=0.1)
    figure = draw_impact(found.body_before, found.body_after, found.outline, found.face, found.laid)
    titles = [axes.get_title() for axes in figure.axes]
    assert [title.split(":")[0] for title in titles] == ["before", "after", "change"]
    assert "within 10 %" in titles[0]
    for axes in figure.axes[1:]:  # no number is lost under what was stuck on
        boxes = [text.get_bbox_patch() for text in axes.texts]
        assert boxes
        assert all(box is not None and to_rgb(box.get_facecolor()) == (1.0, 1.0, 1.0) for box in boxes)
        assert min(text.get_zorder() for text in axes.texts) > max(p.get_zorder() for p in axes.patches)
    as_bytes([figure], "png")  # which draws it
    frames = [axes.get_window_extent() for axes in figure.axes]
    assert len({axes.get_ylim() for axes in figure.axes}) == 1
    for i, axes in enumerate(figure.axes):
        shown = [label for label in axes.get_yticklabels() if label.get_visible() and label.get_text()]
        assert bool(shown) == (i == 0)  # once, for all three
        extents = [label.get_window_extent() for label in axes.get_xticklabels()]
        assert not any(one.overlaps(frame) for one in extents for frame in frames)


def test_the_command_draws_and_keeps(tmp_path: Path) -> None:
    club = tmp_path / "club.racquet.json"
    write_racquet(club, FILE)
    words = ["--strip", "lead:76mm@3", "--mirror", "--map", str(tmp_path / "m.png"), "--impact", "0,300"]
    result = CliRunner().invoke(app, [str(club), *words, "--out", str(tmp_path / "s.racquet.json"), "--json"])
    got = json.loads(result.stdout)
    assert got["impact"]["at_mm"] == [0.0, 300.0]
    split = got["change_sd_split"]["weight_g"]
    assert split["placement"] == pytest.approx(2 * 76 * 0.003)
    with Image.open(tmp_path / "m.png") as picture:
        assert picture.size[0] > 1000
    again = CliRunner().invoke(app, [str(tmp_path / "s.racquet.json"), "--impact", "0,300", "--json"])
    assert json.loads(again.stdout)["change"]["weight_g"] == pytest.approx(got["change"]["weight_g"])


def test_pictures_of_an_unknown_kind_are_refused_first(tmp_path: Path) -> None:
    with pytest.raises(PictureError, match="end the name with"):
        check_picture(tmp_path / "m.bmp")
    for folder in (Path(), tmp_path):
        with pytest.raises(PictureError, match=rf"^{re.escape(str(folder))} is a folder: give the name"):
            check_picture(folder)
    assert Tolerance() == Tolerance(3.0, 0.1)
