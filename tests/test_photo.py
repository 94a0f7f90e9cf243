"""Photos of every kind of file, orientation and damage, written here and read back."""

from __future__ import annotations

import hashlib
import io
import os
import struct
import warnings
import zlib
from functools import cache
from pathlib import Path

import numpy as np
import pillow_heif
import pytest
from numpy.typing import NDArray
from PIL import Image
from PIL.TiffImagePlugin import IFDRational

from digitise.photo import MAX_PIXELS, Photo, read_photo
from digitise.refusal import Reason, Refused

pillow_heif.register_heif_opener()

WIDTH_PX, HEIGHT_PX = 900, 600
RED, GREEN, BLUE, GREY = (220, 30, 30), (30, 200, 40), (40, 50, 210), (128, 128, 128)
ORIENTATION, EXIF_IFD, F35, ZOOM, EXIF_WIDTH, EXIF_HEIGHT = 274, 0x8769, 41989, 41988, 40962, 40963
SUFFIX = {"JPEG": ".jpg", "PNG": ".png", "TIFF": ".tif", "HEIF": ".heic"}
CODEC_TOLERANCE = 12  # levels, in the middle of a flat patch, for JPEG and HEIC

# What lies in the four corners of the upright picture (top left, top right, bottom right,
# bottom left) when the stored one has red, green, blue, grey there, by the EXIF standard:
# the tag names which sides of the scene the stored row 0 and column 0 are.
UPRIGHT_CORNERS = {
    1: (RED, GREEN, BLUE, GREY),  # row 0 is the top, column 0 the left
    2: (GREEN, RED, GREY, BLUE),  # top, right
    3: (BLUE, GREY, RED, GREEN),  # bottom, right
    4: (GREY, BLUE, GREEN, RED),  # bottom, left
    5: (RED, GREY, BLUE, GREEN),  # left, top
    6: (GREY, RED, GREEN, BLUE),  # right, top
    7: (BLUE, GREEN, RED, GREY),  # right, bottom
    8: (GREEN, BLUE, GREY, RED),  # left, bottom
}


def quarters() -> NDArray[np.uint8]:
    pixels = np.empty((HEIGHT_PX, WIDTH_PX, 3), np.uint8)
    middle_y, middle_x = HEIGHT_PX // 2, WIDTH_PX // 2
    pixels[:middle_y, :middle_x] = RED
    pixels[:middle_y, middle_x:] = GREEN
    pixels[middle_y:, middle_x:] = BLUE
    pixels[middle_y:, :middle_x] = GREY
    return pixels


def exif(orientation: int | None = None, tags: dict[int, object] | None = None) -> bytes:
    data = Image.Exif()
    if orientation is not None:
        data[ORIENTATION] = orientation
    data[EXIF_IFD] = tags or {}
    return data.tobytes()


def save(folder: Path, file_type: str = "JPEG", orientation: int | None = None, **tags: object) -> Path:
    numbers = {"f35": F35, "zoom": ZOOM, "width": EXIF_WIDTH, "height": EXIF_HEIGHT}
    path = folder / f"photo{SUFFIX[file_type]}"
    fields = exif(orientation, {numbers[name]: value for name, value in tags.items()})
    Image.fromarray(quarters()).save(path, file_type, exif=fields, quality=95)
    return path


def corners(photo: Photo) -> NDArray[np.int64]:
    top, bottom = photo.height_px // 8, photo.height_px * 7 // 8
    left, right = photo.width_px // 8, photo.width_px * 7 // 8
    ys, xs = [top, top, bottom, bottom], [left, right, right, left]
    return photo.pixels_rgb[ys, xs].astype(np.int64)


def refusal(path: Path | str) -> str:
    with pytest.raises(Refused) as caught:
        read_photo(path)
    assert caught.value.reason is Reason.UNREADABLE
    sentence = str(caught.value)
    assert sentence.endswith(".")
    assert "\n" not in sentence
    return sentence


@pytest.mark.parametrize("file_type", SUFFIX)
@pytest.mark.parametrize("orientation", UPRIGHT_CORNERS)
def test_orientation_is_applied_once(tmp_path: Path, file_type: str, orientation: int) -> None:
    photo = read_photo(save(tmp_path, file_type, orientation))
    size = (WIDTH_PX, HEIGHT_PX) if orientation <= 4 else (HEIGHT_PX, WIDTH_PX)
    assert (photo.width_px, photo.height_px) == size
    np.testing.assert_allclose(corners(photo), UPRIGHT_CORNERS[orientation], atol=CODEC_TOLERANCE)


@pytest.mark.parametrize("file_type", SUFFIX)
@pytest.mark.parametrize("orientation", [None, 0, 9, 65535])
def test_invalid_orientation_counts_as_upright(
    tmp_path: Path, file_type: str, orientation: int | None
) -> None:
    photo = read_photo(save(tmp_path, file_type, orientation))
    np.testing.assert_allclose(corners(photo), UPRIGHT_CORNERS[1], atol=CODEC_TOLERANCE)


def test_heic_tag_without_rotation_box_is_not_applied(tmp_path: Path) -> None:
    """In HEIC the container's rotation counts and the EXIF tag is only a copy (ISO/IEC 23008-12)."""
    path = save(tmp_path, "HEIF", orientation=6)
    data = bytearray(path.read_bytes())
    angle = data.index(b"irot") + 4
    assert data[angle] == 3  # × 90° anticlockwise, beside a tag that says the same
    data[angle] = 0
    path.write_bytes(data)
    photo = read_photo(path)
    assert (photo.width_px, photo.height_px) == (WIDTH_PX, HEIGHT_PX)
    np.testing.assert_allclose(corners(photo), UPRIGHT_CORNERS[1], atol=CODEC_TOLERANCE)


def test_pixels_are_contiguous_bytes_and_read_only(tmp_path: Path) -> None:
    path = save(tmp_path, "PNG", orientation=6)
    photo = read_photo(str(path))
    assert photo.pixels_rgb.dtype == np.uint8
    assert photo.pixels_rgb.flags.c_contiguous
    assert not photo.pixels_rgb.flags.writeable
    np.testing.assert_array_equal(photo.pixels_rgb, np.rot90(quarters(), -1))
    assert photo.file_name == "photo.png"
    assert photo.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()


@pytest.mark.parametrize("file_type", SUFFIX)
def test_focal_length_is_read(tmp_path: Path, file_type: str) -> None:
    photo = read_photo(save(tmp_path, file_type, f35=26))
    assert photo.f35_mm == 26.0
    assert photo.notes == ()


@pytest.mark.parametrize(
    ("recorded", "word"), [(None, "no 35 mm"), (0, "no 35 mm"), (3, "absurd"), (5000, "absurd")]
)
def test_missing_or_absurd_focal_length_is_not_used(tmp_path: Path, recorded: int | None, word: str) -> None:
    photo = read_photo(save(tmp_path) if recorded is None else save(tmp_path, f35=recorded))
    assert photo.f35_mm is None
    assert word in photo.notes[0]


@pytest.mark.parametrize(
    ("recorded", "zoom"), [((3, 2), 1.5), ((1, 1), None), ((0, 1), None), ((0, 0), None)]
)
def test_digital_zoom(tmp_path: Path, recorded: tuple[int, int], zoom: float | None) -> None:
    photo = read_photo(save(tmp_path, f35=26, zoom=IFDRational(*recorded)))
    assert photo.digital_zoom == zoom
    assert photo.f35_mm == 26.0
    assert any("digital zoom 1.5" in note for note in photo.notes) == (zoom is not None)


@pytest.mark.parametrize("size", [(WIDTH_PX, HEIGHT_PX), (HEIGHT_PX, WIDTH_PX), (0, 0)])
def test_recorded_size_that_agrees_is_no_news(tmp_path: Path, size: tuple[int, int]) -> None:
    photo = read_photo(save(tmp_path, f35=26, width=size[0], height=size[1]))
    assert (photo.exif_size_px, photo.f35_mm, photo.notes) == (None, 26.0, ())


def test_cropped_photo_loses_its_focal_length(tmp_path: Path) -> None:
    photo = read_photo(save(tmp_path, f35=26, width=1200, height=900))
    assert photo.exif_size_px == (1200, 900)
    assert photo.f35_mm is None
    assert photo.notes[0].startswith("cropped: 1200 × 900")


def test_scaled_photo_keeps_its_focal_length(tmp_path: Path) -> None:
    photo = read_photo(save(tmp_path, f35=26, width=2 * WIDTH_PX, height=2 * HEIGHT_PX))
    assert photo.exif_size_px == (2 * WIDTH_PX, 2 * HEIGHT_PX)
    assert photo.f35_mm == 26.0
    assert photo.notes[0].startswith("scaled")


def test_damaged_exif_is_passed_over(tmp_path: Path) -> None:
    path = tmp_path / "photo.jpg"
    Image.fromarray(quarters()).save(path, exif=b"Exif\0\0II*\0\xff\xff\xff\x7f" + bytes(20), quality=95)
    photo = read_photo(path)
    assert photo.f35_mm is None
    np.testing.assert_allclose(corners(photo), UPRIGHT_CORNERS[1], atol=CODEC_TOLERANCE)


def test_not_a_file(tmp_path: Path) -> None:
    assert "folder" in refusal(tmp_path)
    assert "There is no file" in refusal(tmp_path / "none.jpg")
    assert "not an ordinary file" in refusal(os.devnull)
    empty = tmp_path / "empty.jpg"
    empty.touch()
    assert "is empty" in refusal(empty)


def test_not_a_picture(tmp_path: Path) -> None:
    path = tmp_path / "notes.jpg"
    path.write_text("a shopping list\n" * 100)
    assert "not a picture" in refusal(path)
    gif = tmp_path / "drawing.gif"
    Image.fromarray(quarters()).save(gif)
    assert "not a picture" in refusal(gif)


@cache
def speckled(file_type: str) -> bytes:
    """A picture that no codec makes small, so that any cut goes through its pixels."""
    buffer = io.BytesIO()
    pixels = np.random.default_rng(1).integers(0, 256, (HEIGHT_PX, WIDTH_PX, 3), dtype=np.uint8)
    Image.fromarray(pixels).save(buffer, file_type)
    return buffer.getvalue()


@pytest.mark.parametrize("file_type", SUFFIX)
@pytest.mark.parametrize("kept", [0.001, 0.5, 0.999])
def test_file_cut_short_is_refused(tmp_path: Path, file_type: str, kept: float) -> None:
    data = speckled(file_type)
    path = tmp_path / f"speckled{SUFFIX[file_type]}"
    path.write_bytes(data)
    assert read_photo(path).width_px == WIDTH_PX
    path.write_bytes(data[: int(kept * len(data))])
    assert "cut short or damaged" in refusal(path)


@pytest.mark.parametrize("progressive", [False, True])
def test_jpeg_whose_end_is_zeros_is_refused(tmp_path: Path, progressive: bool) -> None:
    path = tmp_path / "photo.jpg"
    pixels = np.random.default_rng(2).integers(0, 256, (HEIGHT_PX, WIDTH_PX, 3), dtype=np.uint8)
    Image.fromarray(pixels).save(path, progressive=progressive)
    data = path.read_bytes()
    path.write_bytes(data[: len(data) // 2] + bytes(len(data) // 2))
    assert "cut short or damaged" in refusal(path)


def test_jpeg_may_be_followed_by_other_data(tmp_path: Path) -> None:
    """As phones write them, with a short film after the picture."""
    path = save(tmp_path)
    path.write_bytes(path.read_bytes() + b"film" * 1000)
    assert read_photo(path).width_px == WIDTH_PX


def test_several_picture_jpeg_gives_its_first(tmp_path: Path) -> None:
    path = tmp_path / "photo.jpg"
    first, second = Image.fromarray(quarters()), Image.new("RGB", (400, 300))
    first.save(path, "MPO", save_all=True, append_images=[second], quality=95)
    np.testing.assert_allclose(corners(read_photo(path)), UPRIGHT_CORNERS[1], atol=CODEC_TOLERANCE)


def test_too_small_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "preview.jpg"
    Image.new("RGB", (640, 480)).save(path)
    assert "640 × 480" in refusal(path)


def png_header(width_px: int, height_px: int) -> bytes:
    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    size = struct.pack(">IIBBBBB", width_px, height_px, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", size) + chunk(b"IDAT", zlib.compress(b"")) + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize("side_px", [12_300, 13_000, 60_000])
def test_decompression_bomb_is_refused(tmp_path: Path, side_px: int) -> None:
    """Above our own limit, and above those at which Pillow warns and gives up."""
    assert side_px**2 > MAX_PIXELS
    path = tmp_path / "bomb.png"
    path.write_bytes(png_header(side_px, side_px))
    assert "150 megapixels" in refusal(path)


def test_large_picture_within_the_limit_opens_without_a_warning(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Pillow warns above its own limit and gives up above twice that; here it is lowered to warn."""
    path = save(tmp_path)
    monkeypatch.setattr(Image, "MAX_IMAGE_PIXELS", WIDTH_PX * HEIGHT_PX * 3 // 4)
    with pytest.warns(Image.DecompressionBombWarning):
        Image.open(path).close()
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        assert read_photo(path).width_px == WIDTH_PX
    assert caught == []


def test_reading_does_not_depend_on_the_name(tmp_path: Path) -> None:
    path = tmp_path / "photo.png"
    buffer = io.BytesIO()
    Image.fromarray(quarters()).save(buffer, "JPEG", quality=95)
    path.write_bytes(buffer.getvalue())
    np.testing.assert_allclose(corners(read_photo(path)), UPRIGHT_CORNERS[1], atol=CODEC_TOLERANCE)


@pytest.mark.parametrize("subsampling", [0, 1, 2])
@pytest.mark.parametrize("progressive", [False, True])
def test_jpeg_pixels_are_those_of_pillow(tmp_path: Path, subsampling: int, progressive: bool) -> None:
    rng = np.random.default_rng(subsampling)
    pixels = rng.integers(0, 256, (75, 113, 3)).astype(np.uint8).repeat(9, axis=0).repeat(9, axis=1)
    path = tmp_path / "noise.jpg"
    Image.fromarray(pixels).save(path, subsampling=subsampling, progressive=progressive, quality=80)
    np.testing.assert_array_equal(read_photo(path).pixels_rgb, np.asarray(Image.open(path)))
