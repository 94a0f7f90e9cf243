"""Any picture's colours to 8-bit sRGB: bit depth, transparency, CMYK and colour profiles."""

from __future__ import annotations

from io import BytesIO
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image

if TYPE_CHECKING:
    from PIL import ImageCms

WHITE = (255, 255, 255, 255)
_NO_PLAIN_WAY = {
    "F": "floating-point values of unknown scale",
    "LAB": "Lab colours",
    "HSV": "HSV colours",
}
_PROFILE_SPACES = {"RGB": "RGB ", "L": "GRAY", "CMYK": "CMYK"}


class UnknownColours(ValueError):
    """A picture whose values have no defined way to sRGB; the message names its kind of values."""


def to_srgb(image: Image.Image) -> tuple[Image.Image, tuple[str, ...]]:
    """``image`` in mode RGB with sRGB values, and notes on what could not be honoured.

    Transparency is laid on white. A profile that is damaged or of another kind than the picture
    is left out, with a note. Raises UnknownColours where values have no defined way to sRGB.
    """
    if image.mode in _NO_PLAIN_WAY:
        raise UnknownColours(_NO_PLAIN_WAY[image.mode])
    profile_bytes = image.info.get("icc_profile")
    plain = _opaque(_eight_bit(image))
    if profile_bytes:
        converted = _convert_profile(plain, profile_bytes)
        if converted is not None:
            return converted, ()
        return plain.convert("RGB"), ("its colour profile cannot be used: colours taken as sRGB",)
    return plain.convert("RGB"), ()


def is_plain_srgb(image: Image.Image) -> bool:
    """Whether the picture's stored values are sRGB already, by its mode and its profile alone."""
    if image.mode != "RGB" or "transparency" in image.info:
        return False
    profile_bytes = image.info.get("icc_profile")
    if not profile_bytes:
        return True
    from PIL import ImageCms  # most photos need none of it

    try:
        return _says_srgb(ImageCms.ImageCmsProfile(BytesIO(profile_bytes)))
    except (ImageCms.PyCMSError, OSError, TypeError, ValueError):
        return False


def _says_srgb(profile: ImageCms.ImageCmsProfile) -> bool:
    return profile.profile.xcolor_space == "RGB " and "sRGB" in (profile.profile.profile_description or "")


def _eight_bit(image: Image.Image) -> Image.Image:
    """Grey of 16 bits, which Pillow would clip at 255, scaled to 8: 65535 = 257 · 255."""
    if image.mode == "I" or image.mode.startswith("I;16"):
        values = np.asarray(image).astype(np.int64)
        return Image.fromarray(((np.clip(values, 0, 65535) + 128) // 257).astype(np.uint8))
    return image


def _opaque(image: Image.Image) -> Image.Image:
    """``image`` without transparency, in mode RGB, L or CMYK wherever it had a colour space of these."""
    if image.mode in ("RGBA", "LA", "PA", "La", "RGBa") or "transparency" in image.info:
        layer = image.convert("RGBA")
        return Image.alpha_composite(Image.new("RGBA", layer.size, WHITE), layer).convert("RGB")
    if image.mode in ("RGB", "L", "CMYK"):
        return image
    return image.convert("L" if image.mode == "1" else "RGB")


def _convert_profile(image: Image.Image, profile_bytes: bytes) -> Image.Image | None:
    """``image`` from its profile to sRGB in mode RGB; None where the profile does not fit or is damaged."""
    from PIL import ImageCms

    try:
        profile = ImageCms.ImageCmsProfile(BytesIO(profile_bytes))
        if profile.profile.xcolor_space != _PROFILE_SPACES[image.mode]:
            return None
        if image.mode == "RGB" and _says_srgb(profile):
            return image
        srgb = ImageCms.createProfile("sRGB")
        return ImageCms.profileToProfile(image, profile, srgb, outputMode="RGB")
    except (ImageCms.PyCMSError, OSError, TypeError, ValueError):
        return None
