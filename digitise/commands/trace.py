"""``digitise trace``: from one photo to a racquet file, a picture and the six figures."""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from digitise.commands import PARTIAL, racquet_options, targets
from digitise.commands.reading_options import readings_of
from digitise.commands.reference_options import CARD_NEAR, CARD_SIZE, CARDS, LENS, RULER_MEASURED, asked_of

if TYPE_CHECKING:
    from digitise.photo import Photo
    from digitise.reference import Asked
    from digitise.trace import Thickness, Traced
    from model.build import Known
    from model.racquet_file import LandmarksRecord, RacquetFile


def trace(
    photos: Annotated[
        list[Path],
        typer.Argument(
            metavar="PHOTO...", help="Photo from straight above, card beside it; several are combined."
        ),
    ],
    construction: racquet_options.Construction = "solid",
    face_thickness: racquet_options.FaceThickness = None,
    handle_thickness: racquet_options.HandleThickness = None,
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
    swing_axis: racquet_options.SwingAxis = None,
    card_on: racquet_options.CardOn = "table",
    card_size: CARD_SIZE = None,
    card_near: CARD_NEAR = None,
    cards: CARDS = None,
    ruler_measured: RULER_MEASURED = None,
    lens: LENS = None,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE", help="Racquet file to write [PHOTO.racquet.json].")
    ] = None,
    keep: Annotated[
        bool, typer.Option("--keep", help="Keep readings and pieces of the file that is there already.")
    ] = False,
    anew: Annotated[
        bool, typer.Option("--anew", help="Write over the file that is there already, whatever it holds.")
    ] = False,
) -> None:
    """Trace the racquet in one or more photos, write its racquet file and a picture of what was found."""
    racquet_options.one_of(racquet_options.CONSTRUCTIONS, "--construction", construction)
    racquet_options.one_of(racquet_options.CARD_PLACES, "--card-on", card_on)
    if keep and anew:
        raise typer.BadParameter("give --keep or --anew, not both")
    from digitise.commands.earlier import earlier, with_earlier
    from digitise.picture import draw_traced, save_png
    from digitise.record import racquet_of, with_photo_path
    from model.storage import write_racquet

    target = out if out is not None else targets.racquet_name(photos[0])
    read = [*photos, *([] if lens is None else [lens])]
    targets.check_targets({"--out": target}, read)
    drawing_path = targets.beside(target, ".png", [*read, target])
    typed = {"weight": weight, "balance": balance, "length": length, "width": width}
    readings = readings_of({kind: None if text is None else [text] for kind, text in typed.items()})
    known = racquet_options.known_of(construction, face_thickness, handle_thickness, readings, swing_axis)
    said: list[str] = []
    before = earlier(target, known, keep, anew)
    if before is not None:
        known, said = with_earlier(known, before)
    asked = asked_of(card_size, card_near, cards, ruler_measured, lens)
    on_face = card_on == "face"
    photo, picture, traced = _traced(photos, known, on_face, asked)
    racquet = with_photo_path(racquet_of(picture, traced, known, on_face), photo, target)
    if before is not None:
        racquet = racquet.model_copy(update={"placements": before.placements})
    drawing = draw_traced(picture, traced)
    save_png(drawing, drawing_path)
    write_racquet(target, racquet)

    from digitise.commands.figures import print_racquet

    print_racquet(target.name, racquet, racquet.figures)
    _say_where(traced, racquet.landmarks, target, drawing_path)
    for line in [*said, *_odd_readings(racquet)]:
        typer.echo(f"{line[:1].upper()}{line[1:]}.")
    if racquet.flags:
        _say_thickness(traced)
        typer.echo(
            "Much of the outline, or a part that much hangs on, is in doubt: look at the picture and correct "
            f"the outline by hand, with digitise correct {target}.",
            err=True,
        )
        raise typer.Exit(PARTIAL)


def _say_thickness(traced: Traced) -> None:
    """What else to do where width and thickness of the grip do not go together."""
    from digitise.doubt import UNSUITED

    if any(doubt.reason == UNSUITED for doubt in traced.doubts):
        typer.echo(
            "If the grip is drawn right in the picture, its thickness is not: measure that again, and trace "
            "with --handle-thickness and --anew.",
            err=True,
        )


def _odd_readings(racquet: RacquetFile) -> Sequence[str]:
    """Which reading does not fit the others, or that the racquet is unusual, as ``calibrate`` says it."""
    from model.consistency import consistency
    from model.recalibrate import recalibrated

    return consistency(recalibrated(racquet)[1]).words


def _traced(paths: list[Path], known: Known, on_face: bool, asked: Asked) -> tuple[Path, Photo, Traced]:
    """What all photos together show, with the photo that shows it best. Faults name the photo of several."""
    from digitise.commands.progress import with_bar
    from digitise.photo import read_photo
    from digitise.sheet import UNMEASURED
    from digitise.together import check_different, combined
    from digitise.trace import trace_photo

    several = len(paths) > 1
    by_hand = asked.shape is None and asked.printed == UNMEASURED  # the page marks bank cards only
    pictures: list[Photo] = []
    for path in paths:  # all are opened before the first is traced: what is wrong with one is said at once
        with _refusing(path, several, by_hand):
            pictures.append(read_photo(path))
        check_different(pictures)
    found: list[Traced] = []
    thickness, tape = _thickness(known), _tape_length(known)
    for picture in with_bar(pictures, "Finding card and racquet"):
        with _refusing(paths[len(found)], several, by_hand):
            found.append(trace_photo(picture, known.construction, thickness, on_face, asked, tape))
    if not several:
        return paths[0], pictures[0], found[0]
    joint = combined(found, [path.name for path in paths])
    return paths[joint.best], pictures[joint.best], joint.traced


@contextmanager
def _refusing(path: Path, several: bool, by_hand: bool) -> Iterator[None]:
    """Refusals name the photo, if it is one of several, and how to go on where a hand can help."""
    from digitise.refusal import MENDED_BY_HAND, Refused

    try:
        yield
    except Refused as refusal:
        words = str(refusal)
        if several and path.name not in words:
            words = f"{path.name}: {words}"
        if by_hand and refusal.reason in MENDED_BY_HAND:
            words = (
                f"{words.removesuffix('.')}; or, if card and racquet are in the picture, mark them by hand: "
                f"digitise correct {shlex.quote(str(path))}."
            )
        if words == str(refusal):
            raise
        raise Refused(refusal.reason, words) from refusal


def _tape_length(known: Known) -> float | None:
    return next(
        (reading.value for reading in known.readings if reading.kind == "length" and reading.used), None
    )


def _thickness(known: Known) -> Thickness:
    """Thicknesses for the camera's view: as the mass model takes them, with their sd."""
    from digitise.trace import Thickness
    from model.build import thicknesses

    face, handle = thicknesses(known)
    return Thickness(face.value, face.sd, handle.value, handle.sd)


def _places(marks: LandmarksRecord) -> str:
    """The landmarks in a line, each with its sd."""
    known = [("handle top", marks.handle_top_mm), ("throat top", marks.throat_top_mm), ("tip", marks.tip_mm)]
    words = [f"{name} {place.value:.0f} ± {place.sd:.0f} mm" for name, place in known if place is not None]
    words.append(f"widest {marks.widest_mm:.0f} ± {marks.widest_sd_mm or 0:.0f} mm")
    if marks.straight_sides_mm:
        start, end = marks.straight_sides_mm
        words.append(
            f"straight sides {start.value:.0f} ± {start.sd:.0f} to {end.value:.0f} ± {end.sd:.0f} mm"
        )
    return ", ".join(words)


def _say_where(traced: Traced, marks: LandmarksRecord, target: Path, drawing_path: Path) -> None:
    from digitise.doubt import phrases

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
    typer.echo(f"From the butt: {_places(marks)}.")
    for words in phrases(traced.doubts):
        typer.echo(f"Doubtful: {words}.")
    typer.echo(f"Racquet file: {target}")
    typer.echo(f"Picture: {drawing_path}")
