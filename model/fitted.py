"""Pieces as the racquet file lists them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from model.build import site_in
from model.materials import Material
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


def taken_bare(racquets: Mapping[str, RacquetFile]) -> list[str]:
    """A sentence for each racquet, by name, whose placements are left out."""
    return [
        f"Note: the pieces that {name} lists are not counted: it is taken bare."
        for name, racquet in racquets.items()
        if racquet.placements
    ]


def written_pieces(racquet: RacquetFile, texts: Sequence[str], materials: dict[str, Material]) -> list[Piece]:
    """Pieces as a person writes them for this racquet: tape along its whole edge is as long as that edge.

    Raises StripError for one that can't be read.
    """

    def perimeter_mm() -> float:
        return sum(site_in(racquet).handle_tops_mm)

    return [parse_piece(text, materials, perimeter_mm) for text in texts]


def chosen_pieces(
    racquet: RacquetFile, texts: Sequence[str] | None, materials: dict[str, Material]
) -> list[Piece]:
    """The pieces as written, or without any those that the file lists."""
    return written_pieces(racquet, texts, materials) if texts else fitted_pieces(racquet)
