"""The racquet file on the desk: what is open, every step drawn since, and when it may be saved.

Steps are numbered: a window that knows another number than the desk's has not seen the latest, and is told
instead of being allowed to draw over it. The file on the disk is known by its hash: if something else wrote
it meanwhile, readings and pieces are taken in, and before another outline is written over saving asks. The
draft holds all steps and what they started from, so that undo reaches back over a reload, a save or a crash.
"""

from __future__ import annotations

import contextlib
import time
from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from threading import RLock

import numpy as np

from digitise.page.card import camera_from, shape_of
from digitise.page.draft import Draft, draft_of, draft_path, file_at, hash_of, put_aside, write_draft
from digitise.page.edit import Edit
from digitise.page.elsewhere import is_same_drawing, with_readings_of
from digitise.page.opened import Opened, Sighting, open_file, sighting_of
from digitise.page.outcome import corrected_file
from digitise.page.sheet import seen_by
from digitise.page.tiles import Album, Extent, Tiles
from digitise.photo import Photo
from model.errors import ModelError
from model.racquet_file import RacquetFile
from model.storage import read_racquet, write_racquet

AWAY_S = 12.0
"""A window that has not been heard of for so long is taken to be closed."""
MARGIN_MM = 60.0
_SHEETS = 8


class Stale(ModelError):
    """Another window, or another program, has done something this window does not know of."""

    def __init__(self, who: str, words: str) -> None:
        super().__init__(words)
        self.who = who


class Desk:
    """One racquet file, its photo, and the steps drawn.

    ``base`` is what the steps started from, ``seen`` the file as it was last read or written here, known by
    ``file_hash``; ``opened`` is the base with the readings and pieces of the file.
    """

    base: RacquetFile
    seen: RacquetFile | None
    file_hash: str
    opened: Opened
    steps: list[Edit]
    at: int
    saved: int

    def __init__(self, path: Path, photo: Photo, file: RacquetFile | None = None) -> None:
        self.path = path
        self.photo = photo
        self.album = Album(photo.pixels_rgb)
        self.lock = RLock()
        self.number = 0
        self._heard: dict[str, float] = {}
        self._sheet = lru_cache(_SHEETS)(self._made_sheet)
        self.told = ""
        self.taken = 0
        draft = None if file is not None else draft_of(path)
        if draft is not None:
            self._go_on(draft)
        elif file is not None:  # marked by hand: it is nowhere else yet
            self._put_aside()
            self.file_hash = hash_of(path)
            self._begin(file, None)
            self._write_draft()
        else:
            self._open_anew()

    @property
    def draft_path(self) -> Path:
        """Where the draft lies: hidden, beside the file."""
        return draft_path(self.path)

    @property
    def edit(self) -> Edit:
        """The drawing as it stands."""
        return self.steps[self.at]

    def hear(self, window: str) -> bool:
        """Note that a window is there; whether there is another one."""
        now = time.monotonic()
        with self.lock:
            self._heard[window] = now
            self._heard = {name: at for name, at in self._heard.items() if now - at < AWAY_S}
            return len(self._heard) > 1

    def leave(self, window: str) -> None:
        """A window has been closed."""
        with self.lock:
            self._heard.pop(window, None)

    def record(self, number: int, keep: int, steps: Sequence[Edit], at: int, force: bool = False) -> int:
        """Keep the first ``keep`` steps, add ``steps``, stand at ``at``; the new number. Raises Stale."""
        with self.lock:
            self._check_number(number, force)
            kept = [*self.steps[: max(keep, 0)], *steps]
            if not 0 <= at < len(kept):
                raise ModelError("the steps sent do not fit those on the desk: load the page again")
            self.steps, self.at = kept, at
            self.saved = self._where_saved()
            self.number += 1
            self._write_draft()
            return self.number

    def look(self) -> None:
        """Take in what other commands have written into the file since, where that is no other outline."""
        with self.lock:
            known_by = hash_of(self.path)
            if known_by == self.file_hash or self.seen is None:
                return
            now = file_at(self.path)
            if now is not None and is_same_drawing(self.seen, now):
                self.seen, self.file_hash = now, known_by
                self._take_in(now)

    def save(self, number: int, force: bool = False) -> RacquetFile:
        """Write the drawing as it stands into the racquet file. Raises Stale, Unusable or ModelError."""
        with self.lock:
            self._check_number(number, force)
            self.look()
            if hash_of(self.path) != self.file_hash:
                now = file_at(self.path)
                if not force:
                    raise self._changed(now)
                if now is not None and self._is_of_photo(now):
                    self._take_in(now)  # the outline is written over, its readings are not
            file = corrected_file(self.sighting(self.edit), self.edit)
            write_racquet(self.path, file)
            self.file_hash, self.seen = hash_of(self.path), file_at(self.path)
            self.saved = self.at
            self._note_saved()
            self._write_draft()
            return file

    def sighting(self, edit: Edit) -> Sighting:
        """What an edit was drawn on."""
        return self.sighting_for(None if edit.card_px is None else tuple(map(tuple, edit.card_px)))

    def sighting_for(self, card_px: tuple[tuple[float, ...], ...] | None) -> Sighting:
        """The sheet for the card's corners, None for the file's own."""
        with self.lock:
            return self._sheet(card_px)

    def tiles(self, sighting: Sighting) -> Tiles:
        """The picture of a sheet."""
        return _tiles(self.album, sighting, self.extent(sighting))

    def extent(self, sighting: Sighting) -> Extent:
        """What of the photo is shown: all near racquet and card."""
        sheet, scale = sighting.sheet, self.opened.file.scale
        card = np.zeros((0, 2)) if scale is None else sheet.from_px(np.array(scale.card.corners_px))
        points = np.vstack([sighting.rim.seen_mm, card])
        low, high = points.min(axis=0) - MARGIN_MM, points.max(axis=0) + MARGIN_MM
        mm_per_px = 0.25 if scale is None else scale.mm_per_px.value
        return Extent(float(low[0]), float(low[1]), float(high[0]), float(high[1]), mm_per_px)

    def card_px(self, edit: Edit) -> list[list[float]] | None:
        """The card's corners as they stand."""
        if edit.card_px is not None:
            return edit.card_px
        scale = self.opened.file.scale
        return None if scale is None else scale.card.corners_px

    def close(self) -> None:
        """Leave nothing behind that has been saved."""
        with self.lock:
            if self.saved == self.at:
                with contextlib.suppress(OSError):
                    self.draft_path.unlink(missing_ok=True)

    def start_over(self) -> None:
        """Open the file on the disk afresh; what was drawn here and not saved is put aside."""
        with self.lock:
            self._open_anew()
            self._sheet.cache_clear()
            self.number += 1
            self._write_draft()

    def _go_on(self, draft: Draft) -> None:
        """Take up the steps of a draft, with the readings and pieces that the file has now."""
        self.base, self.seen, self.file_hash = draft.base, draft.file, draft.file_hash
        self.opened = open_file(self.base)
        if self.seen is not None:
            self._take_in(self.seen)
        self.steps, self.at, self.saved = draft.steps, draft.at, draft.saved
        self._note_saved()

    def _take_in(self, now: RacquetFile) -> None:
        """Go on with the readings and pieces that the file has now."""
        self.opened = replace(self.opened, file=with_readings_of(self.base, now))
        self._sheet.cache_clear()
        self.taken += 1

    def _changed(self, now: RacquetFile | None) -> Stale:
        """What has become of the file, which is not what the drawing was begun on."""
        name = self.path.name
        if now is None and not self.path.exists():
            return Stale("gone", f"{name} is no longer where it was.")
        if now is None:
            return Stale("unreadable", f"{name} can't be read any more: something else has written there.")
        if not self._is_of_photo(now):
            return Stale("photo", f"{name} holds a racquet from another photo now.")
        words = f"{name} has got another outline since it was opened here. Its readings stay either way."
        return Stale("outline", words)

    def _is_of_photo(self, file: RacquetFile) -> bool:
        return file.photo is not None and file.photo.sha256 == self.photo.sha256

    def _open_anew(self) -> None:
        """Begin on the file as it is; a draft that does not belong to it is put aside, which is told."""
        self.file_hash = hash_of(self.path)
        file = read_racquet(self.path)
        self._put_aside()
        self._begin(file, file)

    def _begin(self, file: RacquetFile, seen: RacquetFile | None) -> None:
        self.base, self.seen, self.opened = file, seen, open_file(file)
        self.steps, self.at, self.saved = [self.opened.edit], 0, -1 if seen is None else 0
        self._note_saved()

    def _put_aside(self) -> None:
        """Keep a draft that is not gone on with from being written over, and tell its new name."""
        aside = put_aside(self.path)
        if aside is not None:
            self.told = (
                f"The draft beside {self.path.name} does not fit the outline that it has now, or can't be "
                f"read: it is not shown here, and was put aside as {aside.name} in the same folder."
            )

    def _note_saved(self) -> None:
        """Remember what the file holds, by its place among the steps."""
        self._in_file = None if self.saved < 0 else (self.saved, self.steps[self.saved])

    def _where_saved(self) -> int:
        """The step that the file holds, -1 where it has been drawn over: its place may be another's now."""
        if self._in_file is None:
            return -1
        place, step = self._in_file
        return place if place < len(self.steps) and self.steps[place] == step else -1

    def _check_number(self, number: int, force: bool) -> None:
        if number != self.number and not force:
            raise Stale("window", "Another window has changed this racquet since.")

    def _made_sheet(self, card_px: tuple[tuple[float, ...], ...] | None) -> Sighting:
        base = self.opened.sheet
        if card_px is None:
            return sighting_of(self.opened, base)
        scale = self.opened.file.scale
        shape = shape_of(None if scale is None else scale.card)
        estimate = camera_from(self.photo, np.array(card_px), shape, snap=False, file=base.estimate)
        return sighting_of(self.opened, seen_by(base, estimate))

    def _write_draft(self) -> None:
        write_draft(
            self.path,
            Draft(
                file_hash=self.file_hash,
                file=self.seen,
                base=self.base,
                steps=self.steps,
                at=self.at,
                saved=self.saved,
            ),
        )


@lru_cache(_SHEETS)
def _tiles(album: Album, sighting: Sighting, extent: Extent) -> Tiles:
    return Tiles(sighting.sheet, extent, album)
