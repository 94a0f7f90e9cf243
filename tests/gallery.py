"""A page of photos with what was traced drawn over them, for a person to look at.

usage: python -m tests.gallery PHOTOS OUT [--construction solid] [--only WORD]

Every photo in the folder PHOTOS is traced, with what NAME.truth.json says of construction and thicknesses
where that lies beside it. OUT gets NAME.png for each, with the outline, openings, card, landmarks and
doubtful stretches, and ``index.html``, a contact sheet with what was said of each; a photo that was refused
is there with the reason. Pictures that are there already are taken as they are, so that a run that was cut
short goes on.
"""

from __future__ import annotations

import argparse
import html
import json
from pathlib import Path
from typing import Any

from rich.progress import track

from digitise.doubt import phrases
from digitise.photo import read_photo
from digitise.picture import draw_traced, save_png
from digitise.refusal import Refused
from digitise.trace import Thickness, trace_photo
from model.build import Known, thicknesses
from tests.benchmarks.traced import CONSTRUCTIONS

KINDS = (".jpg", ".jpeg", ".png", ".heic", ".tif", ".tiff")
STYLE = (
    "body{font:14px sans-serif;background:#222;color:#eee}figure{display:inline-block;width:440px;margin:8px;"
    "vertical-align:top}img{width:100%}a{color:inherit}"
)


def known_of(photo: Path, construction: str) -> Known:
    """What the owner knows: from the truth beside the photo, else the construction's usual thicknesses."""
    truth = photo.with_name(photo.name.removesuffix(photo.suffix) + ".truth.json")
    racquet: dict[str, Any] = (
        json.loads(truth.read_text("utf-8")).get("racquet") or {} if truth.exists() else {}
    )
    if not racquet:
        return Known(construction)
    kind = CONSTRUCTIONS[racquet["family"]]
    return Known(kind, racquet["face_thickness_mm"], racquet["handle_thickness_mm"])


def drawn(photo: Path, out: Path, construction: str) -> str:
    """Trace a photo, write its picture into ``out``, and say in a line what was found, or why nothing was."""
    known = known_of(photo, construction)
    face, handle = thicknesses(known)
    try:
        picture = read_photo(photo)
        thickness = Thickness(face.value, face.sd, handle.value, handle.sd)
        found = trace_photo(picture, known.construction, thickness)
    except Refused as refusal:
        return f"refused: {refusal}"
    save_png(draw_traced(picture, found), out / f"{photo.stem}.png")
    spread, marks = found.spread, found.marks
    length = f"{spread.length_mm:.1f} ± {spread.length_sd_mm:.1f}"
    width = f"{spread.width_mm:.1f} ± {spread.width_sd_mm:.1f}"
    doubts = "; ".join(phrases(found.doubts)) or "nothing in doubt"
    return f"{length} by {width} mm, handle top {marks.top_mm:.0f} ± {marks.top_sd_mm:.0f} mm; {doubts}"


def page(rows: list[tuple[str, str, bool]]) -> str:
    """The contact sheet: name, words and whether there is a picture, one row for each photo."""
    figures = []
    for name, words, pictured in rows:
        file = html.escape(f"{name}.png", quote=True)
        picture = f'<a href="{file}"><img src="{file}" alt=""></a>' if pictured else ""
        caption = f"<figcaption><b>{html.escape(name)}</b> {html.escape(words)}</figcaption>"
        figures.append(f"<figure>{picture}{caption}</figure>")
    head = f'<!doctype html><meta charset="utf-8"><title>Traced photos</title><style>{STYLE}</style>'
    return head + "\n" + "\n".join(figures) + "\n"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0] if __doc__ else None)
    parser.add_argument("photos", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--construction", choices=tuple(CONSTRUCTIONS.values()), default="solid")
    parser.add_argument("--only", default="", help="photos whose name has this in it")
    chosen = parser.parse_args()
    photos = sorted(p for p in chosen.photos.iterdir() if p.suffix.lower() in KINDS and chosen.only in p.name)
    if not photos:
        raise SystemExit(f"there is no photo in {chosen.photos}: give a folder of photos")
    chosen.out.mkdir(parents=True, exist_ok=True)
    rows = []
    for photo in track(photos, "Tracing"):
        words_path = chosen.out / f"{photo.stem}.txt"
        if not words_path.exists():
            words_path.write_text(drawn(photo, chosen.out, chosen.construction), "utf-8")
        words = words_path.read_text("utf-8")
        rows.append((photo.stem, words, (chosen.out / f"{photo.stem}.png").exists()))
        (chosen.out / "index.html").write_text(page(rows), "utf-8")
    print(chosen.out / "index.html")


if __name__ == "__main__":
    main()
