"""Bit depths, transparency, CMYK and colour profiles to 8-bit sRGB."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageCms

from digitise.colour import UnknownColours, to_srgb
from digitise.photo import read_photo
from digitise.refusal import Refused

SIZE_PX = (900, 600)
SRGB_D50 = np.array(  # linear sRGB to XYZ under D50, columns are the primaries (IEC 61966-2-1, Bradford)
    [[0.4360747, 0.3850649, 0.1430804], [0.2225045, 0.7168786, 0.0606169], [0.0139322, 0.0971045, 0.7141733]]
)
P3_D50 = np.array(  # the same for Display P3's primaries with the D65 white
    [[0.51512, 0.29198, 0.15710], [0.24120, 0.69225, 0.06657], [-0.00105, 0.04189, 0.78407]]
)


def level(image: Image.Image) -> list[int]:
    converted, _ = to_srgb(image)
    assert converted.mode == "RGB"
    return [int(value) for value in np.asarray(converted)[0, 0]]


def profile(primaries_d50: NDArray[np.float64], gamma: float) -> bytes:
    """A matrix profile (ICC.1, version 2) with one power as its tone curve, built by hand."""

    def fixed(value: float) -> bytes:
        return round(value * 65536).to_bytes(4, "big", signed=True)

    def xyz(values: NDArray[np.float64]) -> bytes:
        return b"XYZ \0\0\0\0" + b"".join(fixed(float(value)) for value in values)

    curve = b"curv\0\0\0\0" + (1).to_bytes(4, "big") + round(gamma * 256).to_bytes(2, "big") + b"\0\0"
    text = b"test"
    name = b"desc\0\0\0\0" + (len(text) + 1).to_bytes(4, "big") + text + bytes(1 + 79)
    name += bytes(-len(name) % 4)
    tags = [(b"desc", name), (b"wtpt", xyz(np.array([0.9642, 1.0, 0.8249])))]
    tags += [(key, xyz(primaries_d50[:, i])) for i, key in enumerate((b"rXYZ", b"gXYZ", b"bXYZ"))]
    tags += [(key, curve) for key in (b"rTRC", b"gTRC", b"bTRC")]
    offset, table, body = 128 + 4 + 12 * len(tags), len(tags).to_bytes(4, "big"), b""
    for key, content in tags:
        table += key + (offset + len(body)).to_bytes(4, "big") + len(content).to_bytes(4, "big")
        body += content
    length = (128 + len(table) + len(body)).to_bytes(4, "big")
    header = length + bytes(4) + bytes.fromhex("02400000") + b"mntrRGB XYZ " + bytes(12) + b"acsp"
    header += bytes(28) + b"".join(fixed(value) for value in (0.9642, 1.0, 0.8249))
    return header.ljust(128, b"\0") + table + body


def srgb_level(linear: float) -> float:
    """IEC 61966-2-1, to 0..255."""
    clipped = min(max(linear, 0.0), 1.0)
    return 255 * (12.92 * clipped if clipped <= 0.0031308 else 1.055 * clipped ** (1 / 2.4) - 0.055)


def test_grey_of_sixteen_bits_is_scaled() -> None:
    for value, expected in [
        (0, 0),
        (65535, 255),
        (257 * 100, 100),
        (257 * 100 + 128, 100),
        (257 * 100 + 129, 101),
    ]:
        assert level(Image.fromarray(np.full((2, 2), value, np.uint16))) == [expected] * 3


def test_sixteen_bit_files(tmp_path: Path) -> None:
    for suffix in ("png", "tif"):
        path = tmp_path / f"grey.{suffix}"
        Image.fromarray(np.full(SIZE_PX[::-1], 257 * 77, np.uint16)).save(path)
        assert read_photo(path).pixels_rgb[5, 5].tolist() == [77, 77, 77]


def test_transparency_lies_on_white() -> None:
    assert level(Image.new("RGBA", (2, 2), (10, 20, 30, 0))) == [255, 255, 255]
    assert level(Image.new("RGBA", (2, 2), (10, 20, 30, 255))) == [10, 20, 30]
    # 102/255 = 0.4 of the colour, 0.6 of white
    assert level(Image.new("RGBA", (2, 2), (10, 20, 30, 102))) == [157, 161, 165]
    assert level(Image.new("LA", (2, 2), (100, 0))) == [255, 255, 255]


def test_palette_grey_and_line_art() -> None:
    assert level(Image.new("RGB", (2, 2), (200, 100, 50)).convert("P", palette=Image.Palette.ADAPTIVE)) == [
        200,
        100,
        50,
    ]
    assert level(Image.new("L", (2, 2), 90)) == [90, 90, 90]
    assert level(Image.new("1", (2, 2), 1)) == [255, 255, 255]


def test_cmyk_without_profile() -> None:
    # C = 255 absorbs all red; K = 51 takes a fifth of the rest
    assert level(Image.new("CMYK", (2, 2), (255, 0, 0, 51))) == pytest.approx([0, 204, 204], abs=1)


def test_cmyk_jpeg_is_not_inverted(tmp_path: Path) -> None:
    path = tmp_path / "print.jpg"
    Image.new("CMYK", SIZE_PX, (0, 0, 255, 0)).save(path, quality=95)
    assert read_photo(path).pixels_rgb[5, 5].tolist() == pytest.approx([255, 255, 0], abs=3)


@pytest.mark.parametrize("stored", [(200, 80, 60), (128, 128, 128), (255, 255, 255), (30, 120, 90)])
def test_wide_gamut_profile_is_converted(stored: tuple[int, int, int]) -> None:
    """Against the definition: primaries to XYZ, XYZ to linear sRGB, sRGB's tone curve."""
    image = Image.new("RGB", (2, 2), stored)
    image.info["icc_profile"] = profile(P3_D50, 2.2)
    linear = np.linalg.solve(SRGB_D50, P3_D50 @ (np.array(stored) / 255) ** 2.2)
    assert level(image) == pytest.approx([srgb_level(float(value)) for value in linear], abs=1.5)


def test_srgb_profile_changes_nothing(tmp_path: Path) -> None:
    pixels = np.random.default_rng(3).integers(0, 256, (*SIZE_PX[::-1], 3), dtype=np.uint8)
    path = tmp_path / "photo.png"
    icc = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    Image.fromarray(pixels).save(path, icc_profile=icc)
    np.testing.assert_array_equal(read_photo(path).pixels_rgb, pixels)


@pytest.mark.parametrize("damage", ["noise", "other space"])
def test_unusable_profile_is_left_out_with_a_note(damage: str) -> None:
    image = Image.new("RGB", (2, 2), (200, 80, 60))
    good = profile(P3_D50, 2.2)
    image.info["icc_profile"] = b"no profile" if damage == "noise" else good.replace(b"mntrRGB ", b"mntrGRAY")
    converted, notes = to_srgb(image)
    assert converted.getpixel((0, 0)) == (200, 80, 60)
    assert "colour profile" in notes[0]


def test_values_without_a_scale_are_refused(tmp_path: Path) -> None:
    image = Image.fromarray(np.full(SIZE_PX[::-1], 0.5, np.float32))
    with pytest.raises(UnknownColours, match="floating-point"):
        to_srgb(image)
    path = tmp_path / "depth.tif"
    image.save(path)
    with pytest.raises(Refused, match="floating-point"):
        read_photo(path)


def test_grey_profile() -> None:
    """A grey picture with an RGB profile, as some scanners leave it, keeps its values."""
    image = Image.new("L", (2, 2), 90)
    image.info["icc_profile"] = profile(P3_D50, 2.2)
    converted, notes = to_srgb(image)
    assert converted.getpixel((0, 0)) == (90, 90, 90)
    assert len(notes) == 1


def test_profile_survives_the_file(tmp_path: Path) -> None:
    buffer = io.BytesIO()
    Image.new("RGB", SIZE_PX, (200, 80, 60)).save(
        buffer, "JPEG", quality=100, icc_profile=profile(P3_D50, 2.2)
    )
    path = tmp_path / "photo.jpg"
    path.write_bytes(buffer.getvalue())
    linear = np.linalg.solve(SRGB_D50, P3_D50 @ (np.array([200, 80, 60]) / 255) ** 2.2)
    expected = [srgb_level(float(value)) for value in linear]
    assert read_photo(path).pixels_rgb[5, 5].tolist() == pytest.approx(expected, abs=3)
