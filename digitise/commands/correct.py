"""``digitise correct``: the local page on which the outline is put right by hand."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from digitise.commands import racquet_options, reading_options, targets
from digitise.commands.grouped import grouped

if TYPE_CHECKING:
    from digitise.page.session import Session
    from digitise.photo import Photo
    from model.racquet_file import RacquetFile
    from model.readings import Reading


@grouped
def correct(
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="A .racquet.json file; or a photo, to mark it by hand.")
    ],
    photo: Annotated[
        Path | None, typer.Option("--photo", metavar="PHOTO", help="Where the photo is, if it was moved.")
    ] = None,
    port: Annotated[
        int, typer.Option("--port", min=0, max=65535, help="Port on this machine [any free one].")
    ] = 0,
    browser: Annotated[
        bool, typer.Option("--browser/--no-browser", help="Open the browser, or only print the address.")
    ] = True,
    construction: racquet_options.Construction = "solid",
    face_thickness: racquet_options.FaceThickness = None,
    handle_thickness: racquet_options.HandleThickness = None,
    given: reading_options.Given = reading_options.NOTHING_GIVEN,
    swing_axis: racquet_options.SwingAxis = None,
    card_on: racquet_options.CardOn = "table",
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE", help="For a photo: the racquet file to write.")
    ] = None,
) -> None:
    """Correct a racquet's outline by hand in the browser; a photo is marked from scratch."""
    racquet_options.one_of(racquet_options.CONSTRUCTIONS, "--construction", construction)
    racquet_options.one_of(racquet_options.CARD_PLACES, "--card-on", card_on)
    from digitise.page.server import serve

    taken = reading_options.readings_of(given.typed(), given.readings or [])
    if file.suffix == ".json":
        _refuse_readings(taken, file)
        targets.check_in_place(file)
        session = _of_file(file, photo)
    else:
        known = racquet_options.known_of(construction, face_thickness, handle_thickness, taken, swing_axis)
        target = out if out is not None else targets.racquet_name(file)
        targets.check_targets({"--out": target})
        _refuse_to_overwrite(target)
        session = _of_photo(file, target, known, card_on == "face")

    if session.desk is not None and session.desk.told:
        typer.echo(session.desk.told, err=True)

    def opened(address: str) -> None:
        typer.echo(f"Correct {session.path.name} at {address}")
        typer.echo("The page runs on this machine only; press Ctrl and C here when you have done.")
        if browser:
            import webbrowser

            webbrowser.open(address)

    serve(session, port, opened)


def _of_file(path: Path, photo_path: Path | None) -> Session:
    from digitise.page.draft import draft_of
    from digitise.page.session import Session
    from model.storage import read_racquet

    draft = None if path.exists() else draft_of(path)  # marked from scratch, and not saved yet
    racquet = read_racquet(path) if draft is None else draft.base
    found, photo = find_photo(racquet, path, photo_path)
    return Session(photo, path, found)


def _of_photo(photo_path: Path, target: Path, known: object, on_face: bool) -> Session:
    from digitise.card import find_card
    from digitise.page.session import Marking, Session
    from digitise.photo import read_photo
    from digitise.reference import Asked, lens_of
    from digitise.refusal import Refused

    photo = read_photo(photo_path)
    if _has_draft(photo, target):
        return Session(photo, target, photo_path)
    try:
        guess = find_card(photo.pixels_rgb, lens_of(photo, Asked())).corners_px
    except Refused:
        guess = None  # that is why the person marks it
    return Session(photo, target, photo_path, Marking(known, on_face, guess))  # type: ignore[arg-type]


def _has_draft(photo: Photo, target: Path) -> bool:
    """Whether the photo was marked before and only its draft kept, which is then told.

    Raises ModelError where what lies there was marked on another photo: it would be written over.
    """
    from digitise.page.draft import draft_of, draft_path
    from model.errors import ModelError

    draft, kept = draft_of(target), draft_path(target)
    if draft is None:
        return False
    marked = draft.base.photo
    if marked is None or marked.sha256 != photo.sha256:
        other = "another photo" if marked is None else marked.file_name
        raise ModelError(
            f"beside {target} lies a draft, {kept}, that was marked on {other}: give another --out, or "
            "delete the draft"
        )
    typer.echo(
        f"Going on with the draft {kept}, and with the readings and thicknesses it was begun with; delete "
        "it to mark the photo anew.",
        err=True,
    )
    return True


def _refuse_readings(readings: list[Reading], file: Path) -> None:
    """The readings of a file that is there are calibrate's business: it lists and replaces them."""
    from model.errors import ModelError

    if readings:
        raise ModelError(f"{file.name} takes its readings with digitise calibrate: give them there")


def _refuse_to_overwrite(target: Path) -> None:
    from model.errors import ModelError

    if target.exists():
        raise ModelError(
            f"{target} exists: correct that file (digitise correct {target}), or give another --out"
        )


def find_photo(racquet: RacquetFile, path: Path, given: Path | None) -> tuple[Path, Photo]:
    """The photo a racquet file was traced from: as given, else where the file says, else beside the file.

    Raises ModelError where it is not found or is another photo.
    """
    from digitise.photo import read_photo
    from model.errors import ModelError

    record = racquet.photo
    if record is None:
        raise ModelError(f"{path} does not say which photo it was traced from: trace the photo again")
    folder = path.absolute().parent
    places = [given] if given is not None else []
    if given is None:
        places += [] if record.path is None else [folder / record.path]
        places += [folder / record.file_name, Path(record.file_name)]
    here = [place for place in places if place.is_file()]
    if not here:
        raise ModelError(
            f"the photo {record.file_name} of {path} is not where it was: give its place with --photo"
        )
    for place in here:
        photo = read_photo(place)
        if photo.sha256 == record.sha256:
            return place, photo
    raise ModelError(
        f"{here[0]} is not the photo that {path} was traced from: give the right one with --photo"
    )
