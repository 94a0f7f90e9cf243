"""Tapes and small weights by their physical properties: the shipped file and the person's own.

The person's own entries live in a TOML file of the same layout, at ``$DIGITISE_MATERIALS`` when
that is set, else at ``digitise/materials.toml`` in the configuration folder
(``$XDG_CONFIG_HOME``, else ``~/.config``); an entry there goes before a shipped one of its name.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from enum import StrEnum
from importlib import resources
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, ValidationError, model_validator

from model.errors import MaterialError, UnitError
from model.measured import Measured
from model.own_file import own_path
from model.pieces import check_size
from model.units import parse_length, parse_mass

FILE_VARIABLE = "DIGITISE_MATERIALS"
WEIGH_SD_FLOOR_G = 0.01  # a pocket scale that shows hundredths
LENGTH_SD_FLOOR_MM = 0.5  # cutting against a ruler
HEAVIEST_G_PER_MM = 5.0  # 40 mm wide and 6 mm thick lead: more is a slip of the unit
FAR_OFF = 4.0  # tapes of one kind and width differ by a tenth or two; a slip of the unit is tenfold and more
NAME = re.compile(r"[a-z][a-z0-9-]*")

Positive = Annotated[float, Field(allow_inf_nan=False, gt=0)]
Pair = tuple[Positive, Annotated[float, Field(allow_inf_nan=False, ge=0)]]


class Form(StrEnum):
    """How a material is portioned: cut to length, by the piece, or kneaded to any mass."""

    TAPE = "tape"
    PIECE = "piece"
    PUTTY = "putty"


@dataclass(frozen=True)
class Material:
    """One entry: grams per mm (tape) or per piece ± sd, sizes of one layer, and where it is from.

    ``amount`` is g per mm for a tape, g for a piece, None for putty. Sizes are None when unknown.
    """

    name: str
    words: str
    form: Form
    amount: Measured | None
    width_mm: float | None
    thickness_mm: float | None
    density_gcm3: float | None
    toxic: bool
    source: str
    own: bool = False

    def tape_mass(self, length_mm: float, layers: int = 1) -> Measured:
        """Grams ± sd of a length of this tape. Raises MaterialError if it is no tape."""
        if self.form is not Form.TAPE or self.amount is None:
            raise MaterialError(f"{self.name!r} is no tape ({self.words}): give its mass in grams")
        factor = length_mm * layers
        return Measured(self.amount.value * factor, self.amount.sd * factor)

    def piece_mass(self) -> Measured:
        """Grams ± sd of one piece. Raises MaterialError if it does not come in pieces."""
        if self.form is not Form.PIECE or self.amount is None:
            raise MaterialError(
                f"{self.name!r} does not come in pieces ({self.words}): give a mass or a length"
            )
        return self.amount


class _Entry(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)

    words: str
    form: Literal["tape", "piece", "putty"]
    g_per_mm: Pair | None = None
    g_per_piece: Pair | None = None
    width_mm: Positive | None = None
    thickness_mm: Positive | None = None
    density_gcm3: Positive | None = None
    toxic: bool = False
    source: Annotated[str, Field(alias="from", min_length=1)]

    @model_validator(mode="after")
    def _amount_of_its_form(self) -> _Entry:
        wanted = {"tape": "g_per_mm", "piece": "g_per_piece"}.get(self.form)
        for key in ("g_per_mm", "g_per_piece"):
            if (getattr(self, key) is not None) != (key == wanted):
                raise ValueError(f"a {self.form} {'needs' if key == wanted else 'has no'} {key}")
        return self


_TABLE = TypeAdapter(dict[str, _Entry])


def own_file() -> Path:
    """Where the person's own materials are kept."""
    return own_path(FILE_VARIABLE, "materials.toml")


def all_materials(own: Path | None = None) -> dict[str, Material]:
    """Shipped materials with the person's own over them; ``own`` is another file than :func:`own_file`.

    Raises MaterialError when the own file can't be read; none is no error unless it was named.
    """
    path = own or own_file()
    found = shipped_materials()
    try:
        text = path.read_text("utf-8")
    except FileNotFoundError:
        if own is not None:
            raise MaterialError(f"there is no materials file {path}: make it with digitise tape") from None
        return found
    except (OSError, UnicodeDecodeError) as error:
        raise MaterialError(f"the materials file {path} can't be read: {error}") from None
    return found | _read(text, str(path), True)


def shipped_materials() -> dict[str, Material]:
    """The materials that come with the program."""
    return _read(resources.files("model").joinpath("data/materials.toml").read_text("utf-8"), "", False)


def material_named(name: str, materials: dict[str, Material]) -> Material:
    """One of ``materials``. Raises MaterialError with the names there are."""
    if name not in materials:
        raise MaterialError(
            f"there is no material {name!r}: use one of {', '.join(materials)}, or weigh your own with "
            "digitise tape"
        )
    return materials[name]


def weighed_tape(
    name: str,
    mass: str,
    length: str,
    width: str | None = None,
    thickness: str | None = None,
    *,
    toxic: bool = False,
) -> Material:
    """The person's own tape from what a length of it weighs, as typed. Raises MaterialError or UnitError.

    >>> weighed_tape("mine", "3.05g", "3in", "6mm").amount
    Measured(value=0.04002624671916011, sd=0.00029360129179058)
    """
    if not NAME.fullmatch(name):
        raise MaterialError(
            f"the name {name!r} must be lower-case letters, digits and hyphens, and begin with a letter"
        )
    grams, mm = parse_mass(mass, "tape's mass"), parse_length(length, "tape's length")
    if not (grams.value > 0 and mm.value > 0):
        raise MaterialError("mass and length of the tape must both be more than zero: weigh a longer piece")
    value = grams.value / mm.value
    if value > HEAVIEST_G_PER_MM:
        raise MaterialError(
            f"{grams.value:g} g in {mm.value:g} mm is heavier than any tape: check both units"
        )
    sds = max(grams.step / 2, WEIGH_SD_FLOOR_G) / grams.value, LENGTH_SD_FLOOR_MM / mm.value
    width_mm = _size(width, "width")
    thickness_mm = _size(thickness, "thickness")
    density = value / (width_mm * thickness_mm) * 1000 if width_mm and thickness_mm else None
    return Material(
        name=name,
        words="weighed by you",
        form=Form.TAPE,
        amount=Measured(value, value * (sds[0] ** 2 + sds[1] ** 2) ** 0.5),
        width_mm=width_mm,
        thickness_mm=thickness_mm,
        density_gcm3=density,
        toxic=toxic,
        source=f"{mass} weighed for a length of {length}",
        own=True,
    )


def unlike_its_namesake(made: Material) -> str | None:
    """A sentence for a tape that weighs far more or less than the shipped one of its name, for its width."""
    shipped = shipped_materials().get(made.name)
    if shipped is None or shipped.form is not made.form or made.amount is None or shipped.amount is None:
        return None
    ratio = made.amount.value / shipped.amount.value
    if made.width_mm and shipped.width_mm:
        ratio *= shipped.width_mm / made.width_mm
    if 1 / FAR_OFF < ratio < FAR_OFF:
        return None
    return (
        f"this {made.name} weighs {1000 * made.amount.value:.3g} g/m, the {made.name} that comes with the "
        f"program {1000 * shipped.amount.value:.3g} g/m: check the units of mass and length, and weigh again "
        "with --replace, or give another tape its own --name"
    )


def less_toxic_than_its_namesake(made: Material, path: Path) -> str | None:
    """A sentence for a tape that is no longer toxic as the shipped one of its name is, kept in ``path``."""
    shipped = shipped_materials().get(made.name)
    if shipped is None or made.toxic or not shipped.toxic:
        return None
    return (
        f"the {made.name} that comes with the program is toxic, and yours in {path} is said not to be: if it "
        "is, write toxic = true there"
    )


def keep_material(material: Material, path: Path, replace: bool = False) -> None:
    """Write an entry into the person's own file, whole or not at all, comments kept.

    Raises MaterialError when the name is taken and ``replace`` is not set, or the file can't be
    read or written.
    """
    import tomlkit

    from model.storage import write_text

    text = ""
    if path.exists():
        all_materials(path)  # a file we can't read is not touched
        text = path.read_text("utf-8")
    document = tomlkit.parse(text)
    if material.name in document and not replace:
        raise MaterialError(
            f"{path} already has a material {material.name!r}: choose another --name, or add --replace"
        )
    document[material.name] = _row(material)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_text(path, tomlkit.dumps(document))
    except OSError as error:
        raise MaterialError(f"{path} can't be written: {error.strerror or error}") from None


def _row(material: Material) -> dict[str, object]:
    amount = material.amount
    row: dict[str, object] = {"words": material.words, "form": material.form.value}
    if amount is not None:
        key = "g_per_mm" if material.form is Form.TAPE else "g_per_piece"
        row[key] = [float(f"{amount.value:.6g}"), float(f"{amount.sd:.3g}")]
    for key in ("width_mm", "thickness_mm", "density_gcm3"):
        value = getattr(material, key)
        if value is not None:
            row[key] = float(f"{value:.6g}")
    return row | {"toxic": material.toxic, "from": material.source}


def _read(text: str, name: str, own: bool) -> dict[str, Material]:
    try:
        table = _TABLE.validate_python(tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        raise MaterialError(f"the materials file {name} is no valid TOML: {error}") from None
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(step) for step in first["loc"])
        raise MaterialError(
            f"the materials file {name} has a wrong entry at {where}: {first['msg']}"
        ) from None
    return {key: _material(key, row, own) for key, row in table.items()}


def _material(name: str, row: _Entry, own: bool) -> Material:
    pair = row.g_per_mm or row.g_per_piece
    return Material(
        name=name,
        words=row.words,
        form=Form(row.form),
        amount=None if pair is None else Measured(*pair),
        width_mm=row.width_mm,
        thickness_mm=row.thickness_mm,
        density_gcm3=row.density_gcm3,
        toxic=row.toxic,
        source=row.source,
        own=own,
    )


def _size(text: str | None, what: str) -> float | None:
    if text is None:
        return None
    value = parse_length(text, f"tape's {what}").value
    try:
        check_size(what, value)
    except UnitError as error:
        raise MaterialError(f"of the tape, {error}") from None
    return value
