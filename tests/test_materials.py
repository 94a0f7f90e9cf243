"""Materials: the shipped table, the person's own file, weighing a length."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer import Typer
from typer.testing import CliRunner

from digitise.commands.tape import tape
from model.errors import MaterialError, UnitError
from model.materials import (
    FILE_VARIABLE,
    Form,
    all_materials,
    keep_material,
    material_named,
    own_file,
    unlike_its_namesake,
    weighed_tape,
)

app = Typer()
app.command()(tape)


@pytest.fixture
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "config" / "materials.toml"
    monkeypatch.setenv(FILE_VARIABLE, str(path))
    return path


@pytest.mark.usefixtures("own")
def test_shipped_tapes_weigh_what_their_sizes_say() -> None:
    for row in all_materials().values():
        assert row.source
        if row.form is Form.TAPE:
            assert row.amount is not None
            assert row.width_mm is not None
            assert row.thickness_mm is not None
            assert row.density_gcm3 is not None
            want = row.width_mm * row.thickness_mm * row.density_gcm3 / 1000
            assert row.amount.value == pytest.approx(want, rel=0.01), row.name
            assert "eigh" in row.source


@pytest.mark.usefixtures("own")
def test_lead_from_its_handbook_density() -> None:
    lead = all_materials()["lead"]
    assert lead.toxic
    assert lead.amount is not None
    assert lead.amount.value == pytest.approx(6.35 * (0.28 * 11.34 + 0.05 * 1.0) / 1000, rel=0.01)
    assert lead.tape_mass(100.0, 2).value == pytest.approx(200 * lead.amount.value)
    with pytest.raises(MaterialError, match="does not come in pieces"):
        lead.piece_mass()


@pytest.mark.usefixtures("own")
def test_pieces_and_putty() -> None:
    found = all_materials()
    assert found["steel-disc"].piece_mass().value == pytest.approx(3.14159 * 25 * 2 * 7.85 / 1000, rel=0.01)
    with pytest.raises(MaterialError, match="'putty' is no tape"):
        found["putty"].tape_mass(10.0)
    with pytest.raises(MaterialError, match="no material 'gold': use one of lead, "):
        material_named("gold", found)


def test_weighing_three_inches() -> None:
    mine = weighed_tape("mine", "3.05g", "3in", "6mm", "0.4mm")
    assert mine.amount is not None
    assert mine.amount.value == pytest.approx(3.05 / 76.2)
    assert mine.amount.sd == pytest.approx(3.05 / 76.2 * ((0.01 / 3.05) ** 2 + (0.5 / 76.2) ** 2) ** 0.5)
    assert mine.density_gcm3 == pytest.approx(3.05 / 76.2 / (6 * 0.4) * 1000)


@pytest.mark.parametrize(
    ("arguments", "kind", "words"),
    [
        (("Mine!", "3g", "3in"), MaterialError, "lower-case letters"),
        (("mine", "0g", "3in"), MaterialError, "more than zero"),
        (("mine", "3kg", "3in"), MaterialError, "check both units"),
        (("mine", "heavy", "3in"), UnitError, "tape's mass 'heavy'"),
        (("mine", "3g", "3in", "-6mm"), MaterialError, "width must be more than zero"),
        (("mine", "3g", "3in", "60cm"), MaterialError, "width must be at most 100 mm, not 600 mm"),
    ],
)
def test_bad_weighings(arguments: tuple[str, ...], kind: type[Exception], words: str) -> None:
    with pytest.raises(kind, match=words):
        weighed_tape(*arguments)


def test_own_entries_go_first_and_comments_stay(own: Path) -> None:
    own.parent.mkdir()
    own.write_text("# my shelf\n")
    keep_material(weighed_tape("lead", "3.05g", "3in", "6mm"), own_file())
    found = all_materials()["lead"]
    assert found.own
    assert found.amount is not None
    assert found.amount.value == pytest.approx(3.05 / 76.2, rel=1e-5)
    assert own.read_text().startswith("# my shelf\n")
    with pytest.raises(MaterialError, match="already has a material 'lead'"):
        keep_material(weighed_tape("lead", "9g", "3in"), own)
    keep_material(weighed_tape("lead", "9g", "9in"), own, replace=True)
    assert list(own.parent.iterdir()) == [own]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[mine", "no valid TOML"),
        ('[mine]\nwords = "x"\nform = "tape"\nfrom = "me"\n', "wrong entry at mine: .*needs g_per_mm"),
        ('[mine]\nform = "rope"\nwords = "x"\nfrom = "me"\n', "wrong entry at mine.form"),
    ],
)
def test_bad_own_files(own: Path, text: str, words: str) -> None:
    own.parent.mkdir()
    own.write_text(text)
    with pytest.raises(MaterialError, match=words):
        all_materials()
    with pytest.raises(MaterialError, match="no materials file"):
        all_materials(own.with_name("none.toml"))


def test_the_command(own: Path) -> None:
    listed = CliRunner().invoke(app, [])
    assert "lead tape, narrow" in listed.stdout
    made = CliRunner().invoke(app, ["--weigh", "3.05g", "--length", "3in", "--width", "6mm"])
    assert "40.0 ± 0.3 g/m" in made.stdout
    assert str(own) in made.stdout.replace("\n", "")
    assert isinstance(CliRunner().invoke(app, ["--weigh", "3g"]).exception, MaterialError)


def test_a_slip_of_the_unit_under_a_shipped_name_is_told(own: Path) -> None:
    """3.05 g in 3 m, for 3 in, are 1.02 g/m; shipped lead has 20.5 g/m."""
    app = Typer()
    app.command()(tape)
    words = ["--weigh", "3.05g", "--name", "lead", "--materials", str(own)]
    slip = CliRunner().invoke(app, [*words, "--length", "3m"])
    assert slip.exit_code == 0
    assert (
        "Note: this lead weighs 1.02 g/m, the lead that comes with the program 20.5 g/m: check" in slip.stdout
    )
    assert f"1.017 ± {1000 * 3.05 / 3000 * 0.01 / 3.05:.3f} g/m" in slip.stdout
    assert all_materials(own)["lead"].toxic
    again = CliRunner().invoke(app, [*words, "--length", "3in", "--replace"])
    assert "Note" not in again.stdout
    assert "40.0 ± 0.3 g/m" in again.stdout


def test_a_wider_tape_may_weigh_as_much_more(own: Path) -> None:
    lead = all_materials(own if own.exists() else None)["lead"]
    assert lead.amount is not None
    assert lead.width_mm is not None
    for factor, width, told in ((5, "32mm", False), (5, "7mm", True), (5, None, True), (3.9, None, False)):
        made = weighed_tape("lead", f"{factor * lead.amount.value * 100:.4f}g", "100mm", width)
        assert (unlike_its_namesake(made) is not None) is told
    assert unlike_its_namesake(weighed_tape("mine", "1g", "3m")) is None
    assert unlike_its_namesake(weighed_tape("steel-disc", "1g", "3m")) is None


def test_a_wide_roll_of_ones_own_shuts_no_command(own: Path) -> None:
    own.parent.mkdir()
    own.write_text('[guard]\nwords = "x"\nform = "tape"\nfrom = "me"\ng_per_mm = [0.1, 0]\nwidth_mm = 120\n')
    assert all_materials()["guard"].width_mm == 120.0


def test_what_a_person_says_of_toxicity_is_kept(own: Path) -> None:
    app = Typer()
    app.command()(tape)
    words = ["--weigh", "3.05g", "--length", "3in", "--replace", "--materials", str(own)]
    CliRunner().invoke(app, [*words, "--name", "lead"])
    own.write_text(own.read_text("utf-8").replace("toxic = true", "toxic = false"), "utf-8")
    told = CliRunner().invoke(app, [*words, "--name", "lead"]).output
    assert "the lead that comes with the program is toxic" in " ".join(told.split())
    told = CliRunner().invoke(app, [*words, "--name", "steel"]).output
    assert "toxic" not in told
    assert not all_materials(own)["lead"].toxic
    assert not all_materials(own)["steel"].toxic
