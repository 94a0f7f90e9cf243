"""Pieces as the racquet file lists them."""

from __future__ import annotations

from collections.abc import Sequence

from model.pieces import Piece
from model.racquet_file import PlacementRecord, RacquetFile
from model.spelling import parse_piece
from model.spelt import spell


def with_pieces(racquet: RacquetFile, pieces: Sequence[Piece], mirror: bool = False) -> RacquetFile:
    """The racquet's file with these placements in place of those it had; figures stay the bare racquet's.

    Masses and sizes that came from a material are written out, so that the file stands alone.
    """
    records = [
        PlacementRecord(strip=spell(piece), mirror=mirror or piece.mirror, mass_sd_g=piece.mass_sd_g)
        for piece in pieces
    ]
    return racquet.model_copy(update={"placements": records})


def fitted_pieces(racquet: RacquetFile) -> list[Piece]:
    """The file's placements as pieces. Raises StripError for one that can't be read."""
    from dataclasses import replace

    return [
        replace(parsed, mirror=record.mirror or parsed.mirror, mass_sd_g=record.mass_sd_g)
        for record in racquet.placements
        for parsed in [parse_piece(record.strip)]
    ]
