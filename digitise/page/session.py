"""What the page's requests do: each takes checked words and gives plain values."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from threading import RLock
from typing import Annotated, Any, Literal

import numpy as np
from pydantic import Field

from digitise.page.answers import told_outcome, told_sheet
from digitise.page.card import camera_from, in_order, seen_anew, shape_of
from digitise.page.desk import Desk
from digitise.page.drawn import axis_frame
from digitise.page.edit import Edit, EditStretch, Said, Spot
from digitise.page.follow import (
    FOLLOWED_REACH_MM,
    SNAP_REACH_MM,
    Neighbourhood,
    neighbourhood,
    reach_to,
    snapped,
)
from digitise.page.marking import RawPhoto, marked_racquet, table_sheet
from digitise.page.mirroring import mirrored, mirrored_openings
from digitise.page.opened import Sighting
from digitise.page.redraw import from_line, with_line
from digitise.page.sheet import Sheet
from digitise.page.tiles import Album, Extent, Surface, Tiles
from digitise.photo import Photo
from digitise.record import with_photo_path
from digitise.tone import FloatArray
from model.build import Known
from model.errors import ModelError

Answer = dict[str, Any]
Line = Annotated[list[Spot], Field(min_length=1, max_length=20000)]
Window = Annotated[str, Field(pattern="^[0-9a-zA-Z-]{1,64}$")]
RAW, TABLE = "photo", "table"


class Steps(Said):
    """New steps of a window that knows the desk's ``number``."""

    window: Window
    number: int
    keep: Annotated[int, Field(ge=0)]
    steps: Annotated[list[Edit], Field(max_length=5000)]
    at: Annotated[int, Field(ge=0)]
    force: bool = False


class Save(Said):
    """Write the file."""

    number: int
    force: bool = False


class Drawing(Said):
    """Just the drawing."""

    edit: Edit


class Follow(Said):
    """A line along the edge from a click to the pointer, on a sheet."""

    sheet: Annotated[str, Field(pattern="^[a-z0-9-]{1,40}$")]
    anchor: Spot
    to: Spot


class Redraw(Said):
    """A drawn line in place of a stretch of ring ``ring`` (0 the outline), or as a whole new ring.

    ``followed`` says that it was laid along edges already, from click to click.
    """

    edit: Edit
    ring: Annotated[int, Field(ge=0, le=500)]
    line: Line
    closed: bool = False
    snap: bool = True
    followed: bool = False
    new_opening: bool = False


class Mirror(Said):
    """One side as the other's mirror image."""

    edit: Edit
    keep: Literal["right", "left"]


class CardMove(Said):
    """The card's corners as dragged on the drawing's sheet."""

    edit: Edit
    corners: Annotated[list[Spot], Field(min_length=4, max_length=4)]
    snap: bool


class MarkCard(Said):
    """The card's corners on the raw photo."""

    corners: Annotated[list[Spot], Field(min_length=4, max_length=4)]
    snap: bool = True


class MarkOutline(Said):
    """A closed line round the racquet on the table's sheet."""

    line: Line
    snap: bool = True
    followed: bool = False


@dataclass(eq=False)
class Marking:
    """A photo without a racquet file yet; ``cards`` is how often its card has been marked."""

    known: Known
    card_on_face: bool
    guess_px: FloatArray | None
    corners_px: FloatArray | None = None
    sheet: Sheet | None = None
    cards: int = 0


class Session:
    """One photo and its racquet file, or what is on the way to one."""

    def __init__(self, photo: Photo, path: Path, photo_path: Path, marking: Marking | None = None) -> None:
        self.photo, self.path, self.photo_path = photo, path, photo_path
        self.marking = marking
        self.album = Album(photo.pixels_rgb)
        self.desk: Desk | None = None if marking is not None else Desk(path, photo)
        self._lock = RLock()
        self._near: tuple[tuple[Any, ...], Neighbourhood] | None = None
        self._tiles: dict[str, Tiles] = {}
        self._sheets: dict[str, Surface] = {}
        self._card_keys: list[Any] = [None]

    def start(self, window: str) -> Answer:
        """Everything a window needs to begin."""
        if self.desk is None:
            return self._marking_start()
        desk = self.desk
        others = desk.hear(window)
        desk.look()
        edit = desk.edit
        return {
            "stage": "correct",
            "name": self.path.name,
            "photo": self.photo.file_name,
            "number": desk.number,
            "steps": [step.model_dump() for step in desk.steps],
            "at": desk.at,
            "saved": desk.saved,
            "others": others,
            "told": desk.told,
            "taken": desk.taken,
            "sheet": self.sheet_answer(edit),
            "outcome": told_outcome(desk.sighting(edit), edit),
        }

    def sheet_answer(self, edit: Edit) -> Answer:
        """The sheet an edit is drawn on, with the automatic outline on it."""
        desk = self._open_desk()
        sighting = desk.sighting(edit)
        key = self._key(edit, sighting)
        card = desk.card_px(edit)
        on_sheet = None if card is None else sighting.sheet.from_px(np.array(card))
        told = told_sheet(key, desk.extent(sighting), sighting.sheet.body.length_mm, on_sheet)
        automatic = sighting.automatic_mm
        scale = desk.opened.file.scale
        told["cards"] = 1 if scale is None or edit.card_px is not None else scale.cards
        told["automatic"] = None if automatic is None else np.round(automatic, 3).tolist()
        return told

    def figures(self, said: Drawing) -> Answer:
        """Sizes and figures of a drawing."""
        return told_outcome(self._open_desk().sighting(said.edit), said.edit)

    def steps(self, said: Steps) -> Answer:
        """Keep steps as a draft."""
        desk = self._open_desk()
        number = desk.record(said.number, said.keep, said.steps, said.at, said.force)
        return {"number": number, "saved": desk.saved, "others": desk.hear(said.window)}

    def save(self, said: Save) -> Answer:
        """Write the racquet file."""
        desk = self._open_desk()
        file = desk.save(said.number, said.force)
        if file.photo is not None and file.photo.path is None:
            with_photo_path(file, self.photo_path, self.path)
        return {"saved": desk.saved, "name": self.path.name, "number": desk.number, "taken": desk.taken}

    def ping(self, window: str, gone: bool) -> Answer:
        """A window is there, or closed: what has happened that it may not know of."""
        desk = self.desk
        if desk is None:
            return {}
        if gone:
            desk.leave(window)
            return {}
        desk.look()
        return {"number": desk.number, "taken": desk.taken, "others": desk.hear(window)}

    def reopen(self) -> Answer:
        """Let go of the steps and open the file on the disk."""
        self._open_desk().start_over()
        self._tiles.clear()
        return {"number": self._open_desk().number}

    def follow(self, said: Follow) -> Answer:
        """The line along the edge from an anchor."""
        anchor, to = np.array(said.anchor), np.array(said.to)
        key = (said.sheet, *said.anchor)
        with self._lock:
            surface = self._surface(said.sheet)
            if self._near is None or self._near[0] != key or not self._near[1].reaches(to):
                mm_per_px = self._tiles[said.sheet].extent.mm_per_px
                near = neighbourhood(surface, self.album, anchor, mm_per_px, reach_to(to - anchor))
                self._near = key, near
            line = self._near[1].path(to)
        return {"line": np.round(line, 2).tolist()}

    def redraw(self, said: Redraw) -> Answer:
        """The drawing with a line put in."""
        desk = self._open_desk()
        sheet = desk.sighting(said.edit).sheet
        line = np.array(said.line, float)
        if said.snap and len(line) > 1:
            line = snapped(sheet, self.album, line, said.closed, _reach(said.followed))
        edit = said.edit
        if said.new_opening:
            return _edited(edit, openings=[*edit.openings, from_line(line)])
        curves = [edit.outer, *edit.openings]
        if said.ring >= len(curves):
            raise ModelError("there is no such opening: choose one again")
        if said.closed:
            curves[said.ring] = from_line(line)
            redrawn = [*edit.redrawn, EditStretch(start=_spot(line[0]), end=_spot(line[-1]))]
        else:
            curves[said.ring], ends = with_line(curves[said.ring], line)
            redrawn = [*edit.redrawn, EditStretch(start=_spot(ends[0]), end=_spot(ends[1]))]
        if said.ring > 0 or not said.snap:
            redrawn = edit.redrawn
        return _edited(edit, outer=curves[0], openings=curves[1:], redrawn=redrawn)

    def mirror(self, said: Mirror) -> Answer:
        """The drawing with one side as the other's mirror image."""
        sighting = self._open_desk().sighting(said.edit)
        frame = axis_frame(said.edit.axis, sighting.sheet.body.length_mm)
        right = said.keep == "right"
        outer = mirrored(said.edit.outer, sighting.rim, frame, right)
        openings = mirrored_openings(said.edit.openings, frame, right)
        return _edited(said.edit, outer=outer, openings=openings)

    def move_card(self, said: CardMove) -> Answer:
        """The drawing on the sheet of the camera that the card's new corners give."""
        desk = self._open_desk()
        old = desk.sighting(said.edit).sheet
        corners_px = in_order(old.to_px(np.array(said.corners)))
        if said.snap:
            scale = desk.opened.file.scale
            shape = shape_of(None if scale is None else scale.card)
            file = desk.opened.sheet.estimate
            corners_px = camera_from(self.photo, corners_px, shape, snap=True, file=file).corners_px(shape)
        card = tuple((round(float(x), 3), round(float(y), 3)) for x, y in corners_px)
        new = desk.sighting_for(card).sheet
        edit = seen_anew(said.edit, old, new, np.array(card))
        return {"edit": edit.model_dump(), "sheet": self.sheet_answer(edit)}

    def mark_card(self, said: MarkCard) -> Answer:
        """From the card's corners to the straightened table on which the racquet is then marked."""
        marking = self._marking()
        raw = RawPhoto(self.photo.height_px)
        shape = shape_of(None)
        corners_px = in_order(raw.to_px(np.array(said.corners)))
        estimate = camera_from(self.photo, corners_px, shape, said.snap)
        marking.corners_px = estimate.corners_px(shape) if said.snap else corners_px
        marking.sheet = table_sheet(self.photo, estimate, marking.known, marking.card_on_face)
        extent = _whole_photo(marking.sheet, self.photo)
        marking.cards += 1
        key = f"{TABLE}-{marking.cards}"  # the browser keeps the tiles of an earlier card
        self._tiles[key] = Tiles(marking.sheet, extent, self.album)
        self._sheets[key] = marking.sheet
        return {"sheet": told_sheet(key, extent, 0.0, marking.sheet.from_px(marking.corners_px))}

    def mark_outline(self, said: MarkOutline) -> Answer:
        """From a line round the racquet to a drawing like any other."""
        marking = self._marking()
        if marking.sheet is None or marking.corners_px is None:
            raise ModelError("the card comes first: mark its four corners")
        line = np.array(said.line, float)
        if said.snap:
            line = snapped(marking.sheet, self.album, line, True, _reach(said.followed))
        file = marked_racquet(self.photo, marking.sheet, marking.corners_px, line, marking.known)
        file = with_photo_path(file, self.photo_path, self.path)
        self.desk = Desk(self.path, self.photo, file)
        return {"stage": "correct"}

    def tile(self, sheet: str, level: int, column: int, row: int) -> bytes | None:
        """A piece of a sheet's picture."""
        with self._lock:
            tiles = self._tiles.get(sheet)
        return None if tiles is None else tiles.jpeg(level, column, row)

    def close(self) -> None:
        """The program ends."""
        if self.desk is not None:
            self.desk.close()

    def _marking_start(self) -> Answer:
        marking = self._marking()
        raw = RawPhoto(self.photo.height_px)
        extent = Extent(-0.5, -0.5, self.photo.width_px - 0.5, self.photo.height_px - 0.5, 1.0)
        self._tiles[RAW] = Tiles(raw, extent, self.album)
        self._sheets[RAW] = raw
        guess = None if marking.guess_px is None else raw.from_px(marking.guess_px)
        return {
            "stage": "mark",
            "name": self.path.name,
            "photo": self.photo.file_name,
            "sheet": told_sheet(RAW, extent, 0.0, guess),
        }

    def _key(self, edit: Edit, sighting: Sighting) -> str:
        """A short name for the sheet in addresses; its tiles are then ready to be asked for."""
        desk = self._open_desk()
        with self._lock:
            if edit.card_px not in self._card_keys:
                self._card_keys.append(edit.card_px)
            key = f"sheet-{self._card_keys.index(edit.card_px)}"
            if key not in self._tiles:
                self._tiles[key] = desk.tiles(sighting)
                self._sheets[key] = sighting.sheet
            return key

    def _surface(self, key: str) -> Surface:
        surface = self._sheets.get(key)
        if surface is None:
            raise ModelError("this sheet is no longer there: load the page again")
        return surface

    def _open_desk(self) -> Desk:
        if self.desk is None:
            raise ModelError("there is no outline yet: mark the card and the racquet first")
        return self.desk

    def _marking(self) -> Marking:
        if self.marking is None:
            raise ModelError("this racquet has its outline already: correct it")
        return self.marking


def _reach(followed: bool) -> float:
    return FOLLOWED_REACH_MM if followed else SNAP_REACH_MM


def _whole_photo(sheet: Sheet, photo: Photo) -> Extent:
    width, height = photo.width_px - 1.0, photo.height_px - 1.0
    corners = sheet.from_px(np.array([[0, 0], [width, 0], [width, height], [0, height]], float))
    low, high = corners.min(axis=0), corners.max(axis=0)
    camera = sheet.estimate.camera
    mm_per_px = (camera.height_mm - sheet.resting.height_mm) / camera.focal_px
    return Extent(float(low[0]), float(low[1]), float(high[0]), float(high[1]), mm_per_px)


def _edited(edit: Edit, **changes: Any) -> Answer:
    return {"edit": edit.model_copy(update=changes).model_dump()}


def _spot(point: FloatArray) -> list[float]:
    return [round(float(point[0]), 3), round(float(point[1]), 3)]
