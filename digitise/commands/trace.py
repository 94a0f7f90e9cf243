"""``digitise trace``: from one photo to a racquet file, a picture and the six figures."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from digitise.commands.reference_options import CARD_NEAR, CARD_SIZE, CARDS, LENS, RULER_MEASURED, asked_of

if TYPE_CHECKING:
    from digitise.photo import Photo
    from digitise.reference import Asked
    from digitise.trace import Thickness, Traced
    from model.build import Known

CONSTRUCTIONS = ("solid", "perforated", "strung")
CARD_PLACES = ("table", "face")
NEEDS_CORRECTION_STATUS = 3
"""Exit status when the file was written but much of the outline is in doubt."""


def _one_of(choices: tuple[str, ...], what: str, text: str) -> str:
    if text not in choices:
        raise typer.BadParameter(f"{what} must be one of {', '.join(choices)}, not {text!r}")
    return text


def trace(
    photos: Annotated[
        list[Path],
        typer.Argument(
            metavar="PHOTO...", help="Photo from straight above, card beside it; several are combined."
        ),
    ],
    construction: Annotated[
        str, typer.Option("--construction", metavar="|".join(CONSTRUCTIONS), help="How the face is made.")
    ] = "solid",
    face_thickness: Annotated[
        str | None, typer.Option("--face-thickness", metavar="MM", help="Thickness of the face.")
    ] = None,
    handle_thickness: Annotated[
        str | None, typer.Option("--handle-thickness", metavar="MM", help="Thickness of the handle.")
    ] = None,
    weight: Annotated[
        str | None, typer.Option("--weight", metavar="G", help="Weight in g, or with a unit: 8.1oz.")
    ] = None,
    balance: Annotated[
        str | None,
        typer.Option("--balance", metavar="MM", help="Balance point from the butt in mm, or with a unit."),
    ] = None,
    length: Annotated[
        str | None,
        typer.Option("--length", metavar="MM", help="Overall length by tape measure, in mm or with a unit."),
    ] = None,
    width: Annotated[
        str | None,
        typer.Option("--width", metavar="MM", help="Largest width by tape measure, in mm or with a unit."),
    ] = None,
    swing_axis: Annotated[
        float | None,
        typer.Option("--swing-axis", metavar="MM", help="Swing axis from the butt [50; strung: 100]."),
    ] = None,
    card_on: Annotated[
        str, typer.Option("--card-on", metavar="|".join(CARD_PLACES), help="Where the card lies.")
    ] = "table",
    card_size: CARD_SIZE = None,
    card_near: CARD_NEAR = None,
    cards: CARDS = None,
    ruler_measured: RULER_MEASURED = None,
    lens: LENS = None,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE", help="Racquet file to write [PHOTO.racquet.json].")
    ] = None,
) -> None:
    """Trace the racquet in one or more photos, write its racquet file and a picture of what was found."""
    _one_of(CONSTRUCTIONS, "--construction", construction)
    _one_of(CARD_PLACES, "--card-on", card_on)
    from digitise.picture import draw_traced, save_png
    from digitise.record import racquet_of, with_photo_path
    from model.storage import write_racquet

    target = out if out is not None else photos[0].with_suffix(".racquet.json")
    _check_folder(target)
    typed = {"weight": weight, "balance": balance, "length": length, "width": width}
    known = _known(construction, face_thickness, handle_thickness, typed, swing_axis)
    asked = asked_of(card_size, card_near, cards, ruler_measured, lens)
    on_face = card_on == "face"
    photo, picture, traced = _traced(photos, known, on_face, asked)
    racquet = with_photo_path(racquet_of(picture, traced, known, on_face), photo, target)
    drawing = draw_traced(picture, traced)
    drawing_path = target.with_name(target.name.removesuffix(".json") + ".png")
    save_png(drawing, drawing_path)
    write_racquet(target, racquet)

    from digitise.commands.figures import print_racquet

    print_racquet(target.name, racquet, racquet.figures)
    _say_where(traced, target, drawing_path)
    if racquet.flags:
        typer.echo(
            "Much of the outline is in doubt: look at the picture and correct the outline by hand, with "
            f"digitise correct {target}.",
            err=True,
        )
        raise typer.Exit(NEEDS_CORRECTION_STATUS)


def _traced(paths: list[Path], known: Known, on_face: bool, asked: Asked) -> tuple[Path, Photo, Traced]:
    """What all photos together show, with the photo that shows it best. Faults name the photo of several."""
    from digitise.commands.progress import with_bar
    from digitise.photo import read_photo
    from digitise.together import check_different, combined
    from digitise.trace import trace_photo

    several = len(paths) > 1
    pictures: list[Photo] = []
    for path in paths:  # all are opened before the first is traced: what is wrong with one is said at once
        with _naming(path if several else None):
            pictures.append(read_photo(path))
        check_different(pictures)
    found: list[Traced] = []
    thickness, tape = _thickness(known), _tape_length(known)
    for picture in with_bar(pictures, "Finding card and racquet"):
        with _naming(paths[len(found)] if several else None):
            found.append(trace_photo(picture, known.construction, thickness, on_face, asked, tape))
    if not several:
        return paths[0], pictures[0], found[0]
    joint = combined(found, [path.name for path in paths])
    return paths[joint.best], pictures[joint.best], joint.traced


@contextmanager
def _naming(path: Path | None) -> Iterator[None]:
    """Put the photo's name before a refusal that lacks it, unless there is only one photo."""
    from digitise.refusal import Refused

    try:
        yield
    except Refused as refusal:
        if path is None or path.name in str(refusal):
            raise
        raise Refused(refusal.reason, f"{path.name}: {refusal}") from refusal


def _known(
    construction: str,
    face_thickness: str | None,
    handle_thickness: str | None,
    typed: dict[str, str | None],
    swing_axis: float | None,
) -> Known:
    from model.build import Known
    from model.reading_text import parse_reading
    from model.units import parse_length

    readings = [parse_reading(kind, text) for kind, text in typed.items() if text is not None]
    face, handle = (
        None if text is None else parse_length(text).value for text in (face_thickness, handle_thickness)
    )
    return Known(construction, face, handle, tuple(readings), swing_axis)


def _tape_length(known: Known) -> float | None:
    return next((reading.value for reading in known.readings if reading.kind == "length"), None)


def _thickness(known: Known) -> Thickness:
    """Thicknesses for the camera's view: as the mass model takes them, with their sd."""
    from digitise.trace import Thickness
    from model.build import thicknesses

    face, handle = thicknesses(known)
    return Thickness(face.value, face.sd, handle.value, handle.sd)


def _check_folder(target: Path) -> None:
    """Before any work: the folder to write to must exist."""
    from model.errors import ModelError

    if not target.absolute().parent.is_dir():
        raise ModelError(f"there is no folder {target.parent}: make it, or give another --out")
    if target.is_dir():
        raise ModelError(f"{target} is a folder: give --out the name of a file in it")


def _say_where(traced: Traced, target: Path, drawing_path: Path) -> None:
    camera, reference = traced.estimate.camera, traced.reference
    for corners_px in reference.outlines_px[:1]:
        x, y = corners_px.mean(axis=0)
        typer.echo(
            f"{reference.what.capitalize()} at {x:.0f},{y:.0f}, confidence {reference.confidence:.2f} of 1."
        )
    typer.echo(
        f"Camera {camera.height_mm:.0f} ± {traced.estimate.height_sd_mm:.0f} mm above the card, "
        f"{camera.tilt_deg:.1f}° from straight down."
    )
    for doubt in traced.doubts:
        typer.echo(f"Doubtful: {doubt.words()}.")
    typer.echo(f"Racquet file: {target}")
    typer.echo(f"Picture: {drawing_path}")
