"""Pieces as the racquet file lists them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from model.build import site_in
from model.laying import called
from model.materials import Material
from model.pieces import Piece, check_mass
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
    return [
        replace(parsed, mirror=record.mirror or parsed.mirror, mass_sd_g=record.mass_sd_g)
        for record in racquet.placements
        for parsed in [_light_enough(racquet, parse_piece(record.strip))]
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

    Raises StripError for one that can't be read, or that weighs more than the racquet.
    """

    def perimeter_mm() -> float:
        return sum(site_in(racquet).handle_tops_mm)

    return [_light_enough(racquet, parse_piece(text, materials, perimeter_mm)) for text in texts]


def _light_enough(racquet: RacquetFile, piece: Piece) -> Piece:
    check_mass(called(piece), piece.mass_g, racquet.figures.weight_g.value)
    return piece


def chosen_pieces(
    racquet: RacquetFile, texts: Sequence[str] | None, materials: dict[str, Material]
) -> list[Piece]:
    """The pieces as written, or without any those that the file lists."""
    return written_pieces(racquet, texts, materials) if texts else fitted_pieces(racquet)


def further_pieces(
    racquet: RacquetFile, texts: Sequence[str], materials: dict[str, Material], mirror: bool = False
) -> list[Piece]:
    """The pieces that the file lists, and those as written on top of them, these with twins if so asked."""
    written = written_pieces(racquet, texts, materials)
    return [*fitted_pieces(racquet), *(replace(one, mirror=mirror or one.mirror) for one in written)]
