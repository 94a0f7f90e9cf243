"""The contact sheet of traced photos."""

from __future__ import annotations

import json
from pathlib import Path

from tests.gallery import known_of, page


def test_a_page_shows_pictures_and_words_and_neither_breaks_it() -> None:
    made = page([("a<b", "8 o'clock & shadow", True), ("c", "refused: no card", False)])
    assert '<img src="a&lt;b.png" alt="">' in made
    assert "8 o&#x27;clock &amp; shadow" in made
    assert made.count("<figure>") == 2
    assert made.count("<img") == 1
    assert "refused: no card" in made


def test_what_is_known_comes_from_the_truth_beside_the_photo(tmp_path: Path) -> None:
    photo = tmp_path / "one.jpg"
    assert known_of(photo, "strung").construction == "strung"
    racquet = {"family": "perforated", "face_thickness_mm": 38.0, "handle_thickness_mm": 30.0}
    (tmp_path / "one.truth.json").write_text(json.dumps({"racquet": racquet}))
    known = known_of(photo, "strung")
    assert (known.construction, known.face_thickness_mm, known.handle_thickness_mm) == (
        "perforated",
        38.0,
        30.0,
    )
