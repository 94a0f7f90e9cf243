"""``digitise lens``: measure a camera's lens from photos of the printed sheet."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def lens(
    photos: Annotated[
        list[Path],
        typer.Argument(metavar="PHOTO...", help="Photos of the printed sheet, leaning to different sides."),
    ],
    out: Annotated[Path, typer.Option("--out", metavar="FILE", help="Lens file to write.")] = Path(
        "phone.lens.json"
    ),
) -> None:
    """Measure a camera's lens from photos of the printed sheet, for trace and check to use."""
    from digitise.commands.progress import with_bar
    from digitise.commands.targets import check_targets
    from digitise.lens import check_replaceable, write_lens
    from digitise.lens_fit import SheetView, fit_lens, sheet_view
    from digitise.photo import read_photo
    from digitise.together import check_different

    check_targets({"--out": out}, photos)
    check_replaceable(out)
    views: list[SheetView] = []
    for path in with_bar(photos, "Looking for the sheet"):
        views.append(sheet_view(read_photo(path)))
        check_different(views)
    found = fit_lens(views)
    write_lens(out, found)
    focal, k1 = found.focal_px, found.k1
    typer.echo(f"focal length: {focal.value:.1f} ± {focal.sd:.1f} pixels")
    typer.echo(f"principal point: {found.centre_x_px.value:.1f}, {found.centre_y_px.value:.1f} pixels")
    typer.echo(f"radial term: {k1.value:.4f} ± {k1.sd:.4f}")
    typer.echo(f"misfit: {found.rms_px:.2f} pixels rms of {found.markers} markers in {found.photos} photos")
    typer.echo(f"Lens file: {out}")
