"""Open a photo: upright 8-bit sRGB pixels, and what its EXIF data say about the lens.

Every file is decoded here and nowhere else, so that its orientation is applied exactly once.
"""

from __future__ import annotations

import hashlib
import re
import struct
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cached_property
from io import BytesIO
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, Image, UnidentifiedImageError

from digitise.colour import UnknownColours, is_plain_srgb, to_srgb
from digitise.refusal import Reason, Refused
from digitise.remap import halved

MAX_PIXELS = 150_000_000
"""Largest picture opened; it lies below the size at which Pillow itself gives up (179 million)."""
MIN_PIXELS = 500_000
"""Smallest picture opened: in a smaller one a card is under 100 pixels long, so 1 px is 1 %."""
MAX_FILE_BYTES = 600_000_000
"""Largest file read, just over MAX_PIXELS with 4 bytes each, uncompressed."""
F35_RANGE_MM = (8.0, 800.0)
"""35 mm-equivalent focal lengths believed: a fisheye to a long tele."""
SAME_ASPECT = 0.005
"""Relative difference of side ratios up to which a changed size counts as scaled, not cropped."""

_BAND_ROWS = 64  # turned round in one go, so that no second picture is made
_FORMATS = ("JPEG", "PNG", "TIFF")  # JPEG includes its several-picture kind, MPO
_DECODER_ERRORS = (
    OSError,
    SyntaxError,
    ValueError,
    RuntimeError,
    EOFError,
    LookupError,
    struct.error,
    TypeError,
    cv2.error,
)


@dataclass(frozen=True, eq=False)
class Photo:
    """An upright photo.

    ``pixels_rgb`` is (height, width, 3) uint8 sRGB, C-contiguous and read-only.
    ``f35_mm`` is the 35 mm-equivalent focal length, defined on the frame's diagonal (43.27 mm);
    None where it is missing, absurd, or no longer true because the picture was cropped.
    ``digital_zoom`` is the zoom ratio on record, where it is more than 1.
    ``exif_size_px`` is the (width, height) the camera recorded, only where the file's differs.
    ``f35_uncropped_mm`` is the focal length on record of a cropped picture: it is that of the whole one.
    ``notes`` are short remarks for the person about what was done to the file or left in doubt.
    ``orientation`` is the tag, 1 to 8, by which the sensor's picture was turned upright.
    """

    pixels_rgb: NDArray[np.uint8]
    f35_mm: float | None
    digital_zoom: float | None
    exif_size_px: tuple[int, int] | None
    file_name: str
    sha256: str
    notes: tuple[str, ...]
    orientation: int = 1
    f35_uncropped_mm: float | None = None

    @cached_property
    def half_rgb(self) -> NDArray[np.uint8]:
        """The pixels ``halved``: all that looks at the whole picture looks at a smaller one."""
        return halved(self.pixels_rgb)

    @property
    def sensor_size_px(self) -> tuple[int, int]:
        """(width, height) of the picture before it was turned upright."""
        size = (self.width_px, self.height_px)
        return size if self.orientation < 5 else size[::-1]

    @property
    def width_px(self) -> int:
        return int(self.pixels_rgb.shape[1])

    @property
    def height_px(self) -> int:
        return int(self.pixels_rgb.shape[0])


@dataclass(frozen=True)
class _Lens:
    f35_mm: float | None
    digital_zoom: float | None
    exif_size_px: tuple[int, int] | None
    notes: tuple[str, ...]
    f35_uncropped_mm: float | None = None


def read_photo(path: Path | str) -> Photo:
    """Read a JPEG, PNG, TIFF or HEIC photo from ``path``.

    The orientation tag is applied (0 and other invalid values count as 1), a colour profile is
    converted to sRGB, transparency is laid on white, and 16-bit, grey and CMYK files become 8-bit
    RGB. Raises Refused (UNREADABLE) if there is no whole picture of a usable size in the file.
    """
    path = Path(path)
    data = _read_file(path)
    with _decoding(path.name):
        image = Image.open(BytesIO(data), formats=_formats(data))
        _check_size(path.name, *image.size)
        if image.format in ("JPEG", "MPO") and not _jpeg_has_end(data):
            raise _truncated(path.name)
        stored, colour_notes = _stored_rgb(image, data)
        # Read after loading: Pillow turns a TIFF upright while loading it, and then drops the tag.
        lens = _read_lens(image)
        orientation, turn_notes = _orientation(image)
        pixels_rgb = np.ascontiguousarray(_turned(stored, orientation))
    pixels_rgb.setflags(write=False)
    return Photo(
        pixels_rgb=pixels_rgb,
        f35_mm=lens.f35_mm,
        digital_zoom=lens.digital_zoom,
        exif_size_px=lens.exif_size_px,
        file_name=path.name,
        sha256=hashlib.sha256(data).hexdigest(),
        notes=colour_notes + turn_notes + lens.notes,
        orientation=orientation,
        f35_uncropped_mm=lens.f35_uncropped_mm,
    )


def upright_point(
    point_px: tuple[float, float], sensor_size_px: tuple[int, int], orientation: int
) -> tuple[float, float]:
    """Where a point of the sensor's picture lies in the upright one, for an orientation tag of 1 to 8."""
    (x, y), (width, height) = point_px, sensor_size_px
    across, down = width - 1 - x, height - 1 - y
    return [(x, y), (across, y), (across, down), (x, down), (y, x), (down, x), (down, across), (y, across)][
        orientation - 1
    ]


def sensor_points(
    points_px: NDArray[np.float64], sensor_size_px: tuple[int, int], orientation: int
) -> NDArray[np.float64]:
    """Points (n, 2) of the upright picture in the sensor's: the inverse of ``upright_point``."""
    # tags 6 and 8 are quarter turns, each the other's inverse; all others are their own
    back = {6: 8, 8: 6}.get(orientation, orientation)
    size = sensor_size_px if orientation < 5 else sensor_size_px[::-1]
    return np.array([upright_point((float(x), float(y)), size, back) for x, y in points_px]).reshape(-1, 2)


def _read_file(path: Path) -> bytes:
    if path.is_dir():
        raise _unreadable(f"{path} is a folder; give the name of one photo in it.")
    if not path.exists():
        raise _unreadable(f"There is no file {path}; check the name and the folder.")
    if not path.is_file():
        raise _unreadable(f"{path} is not an ordinary file; give the name of a photo.")
    try:
        if path.stat().st_size > MAX_FILE_BYTES:
            raise _unreadable(
                f"{path} is larger than {MAX_FILE_BYTES // 1_000_000} MB; give the photo as a JPEG."
            )
        data = path.read_bytes()
    except OSError as error:
        raise _unreadable(f"{path} cannot be read ({error.strerror}); check its permissions.") from error
    if not data:
        raise _unreadable(f"{path} is empty; copy the photo again.")
    return data


@contextmanager
def _decoding(name: str) -> Iterator[None]:
    """Word the decoders' own errors; their warnings about odd metadata are no news to the person."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            yield
    except Refused:
        raise
    except (Image.DecompressionBombError, MemoryError) as error:
        raise _too_large(name) from error
    except UnknownColours as error:
        raise _unreadable(f"{name} has {error}; save it as an ordinary JPEG.") from error
    except UnidentifiedImageError as error:
        raise _unreadable(
            f"{name} is not a picture in JPEG, PNG, TIFF or HEIC format, or is cut short or damaged; "
            "give the photo as the camera saved it."
        ) from error
    except _DECODER_ERRORS as error:
        raise _truncated(name) from error


def _formats(data: bytes) -> tuple[str, ...]:
    """The kinds of picture a file of these bytes may be."""
    if data[4:8] != b"ftyp":  # how files of the HEIF kind begin (ISO/IEC 14496-12)
        return _FORMATS
    import pillow_heif  # loads as much again as all of Pillow

    pillow_heif.register_heif_opener()
    return (*_FORMATS, "HEIF")


def _check_size(name: str, width_px: int, height_px: int) -> None:
    if width_px * height_px > MAX_PIXELS:
        raise _too_large(name)
    if width_px * height_px < MIN_PIXELS:
        raise _unreadable(
            f"{name} is only {width_px} × {height_px} pixels, too few to measure from; "
            "give the photo at the camera's full size, not a preview of it."
        )


def _unreadable(sentence: str) -> Refused:
    return Refused(Reason.UNREADABLE, sentence)


def _too_large(name: str) -> Refused:
    limit = MAX_PIXELS // 1_000_000
    return _unreadable(f"{name} is larger than {limit} megapixels; save a smaller copy (12 are plenty).")


def _truncated(name: str) -> Refused:
    return _unreadable(f"{name} is cut short or damaged; copy the photo again from the camera.")


def _jpeg_has_end(data: bytes) -> bool:
    """Whether the marker chain of a JPEG (ITU-T T.81, annex B) reaches its end-of-image marker.

    Pillow's decoder reports a file that stops early, but fills in grey where the missing part was
    replaced by zeros, as an interrupted copy leaves it.
    """
    after_scan = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]")  # the next marker that is no stuffing or restart
    position = 2
    while (found := after_scan.search(data, position)) is not None:
        marker, position = data[found.end() - 1], found.end()
        if marker == 0xD9:
            return True
        position += int.from_bytes(data[position : position + 2], "big")
    return False


def _stored_rgb(image: Image.Image, data: bytes) -> tuple[NDArray[np.uint8], tuple[str, ...]]:
    """sRGB pixels (h, w, 3) as they lie in the file, and notes on their colours.

    Most photos are ordinary JPEGs. OpenCV gives the same pixels of them as Pillow, in half the time.
    """
    if image.format in ("JPEG", "MPO") and is_plain_srgb(image):
        flags = cv2.IMREAD_COLOR | cv2.IMREAD_IGNORE_ORIENTATION
        decoded = cv2.imdecode(np.frombuffer(data, np.uint8), flags)
        if decoded is not None and decoded.shape[:2] == image.size[::-1]:
            for top in range(0, len(decoded), _BAND_ROWS):
                band = decoded[top : top + _BAND_ROWS]
                cv2.cvtColor(band, cv2.COLOR_BGR2RGB, dst=band)
            return np.asarray(decoded, np.uint8), ()
    image.load()
    rgb, notes = to_srgb(image)
    return np.asarray(rgb, np.uint8), notes


def _orientation(image: Image.Image) -> tuple[int, tuple[str, ...]]:
    """The orientation on record, 1 to 8, and a note where that is damaged."""
    try:
        orientation = image.getexif().get(ExifTags.Base.Orientation, 1)
    except _DECODER_ERRORS:
        return 1, ("the EXIF data are damaged: taken as upright",)
    return (orientation if isinstance(orientation, int) and 1 <= orientation <= 8 else 1), ()


def _turned(stored: NDArray[np.uint8], orientation: int) -> NDArray[np.uint8]:
    """Pixels turned upright by an orientation tag of 1 to 8 (EXIF 2.32, 4.6.4).

    OpenCV goes through the picture in blocks: a quarter of the time that numpy's views take to copy.
    """
    turned = np.asarray(cv2.transpose(stored), np.uint8) if orientation >= 5 else stored
    upside_down, mirrored = orientation in (3, 4, 7, 8), orientation in (2, 3, 6, 7)
    if upside_down or mirrored:
        way = -1 if upside_down and mirrored else 0 if upside_down else 1
        # a picture that is our own is flipped where it lies: another one's memory takes longer to get
        turned = np.asarray(cv2.flip(turned, way, None if turned is stored else turned), np.uint8)
    return turned


def _read_lens(image: Image.Image) -> _Lens:
    try:
        tags = dict(image.getexif().get_ifd(ExifTags.IFD.Exif))
    except _DECODER_ERRORS:
        tags = {}
    f35_mm, notes = _focal_length(_number(tags.get(ExifTags.Base.FocalLengthIn35mmFilm)))
    zoom = _number(tags.get(ExifTags.Base.DigitalZoomRatio))
    digital_zoom = zoom if zoom is not None and zoom > 1 else None
    if digital_zoom is not None:
        notes += (f"digital zoom {digital_zoom:.3g} on record: the focal length may include it or not",)
    recorded = tuple(
        int(_number(tags.get(tag)) or 0)
        for tag in (ExifTags.Base.ExifImageWidth, ExifTags.Base.ExifImageHeight)
    )
    if min(recorded) <= 0 or sorted(recorded) == sorted(image.size):
        return _Lens(f35_mm, digital_zoom, None, notes)
    exif_size_px = (recorded[0], recorded[1])
    change = (
        f"{recorded[0]} × {recorded[1]} pixels were taken, {image.width} × {image.height} are in the file"
    )
    if _same_aspect(exif_size_px, image.size):
        return _Lens(f35_mm, digital_zoom, exif_size_px, (*notes, f"scaled: {change}"))
    notes += (f"cropped: {change}; the focal length on record is that of the whole picture",)
    return _Lens(None, digital_zoom, exif_size_px, notes, f35_mm)


def _focal_length(recorded_mm: float | None) -> tuple[float | None, tuple[str, ...]]:
    if recorded_mm is None or recorded_mm == 0:  # the EXIF standard's 0 means unknown
        return None, ("no 35 mm-equivalent focal length on record",)
    if not F35_RANGE_MM[0] <= recorded_mm <= F35_RANGE_MM[1]:
        return None, (f"the focal length on record, {recorded_mm:g} mm, is absurd and not used",)
    return recorded_mm, ()


def _same_aspect(first_px: tuple[int, int], second_px: tuple[int, int]) -> bool:
    first, second = (max(size) / min(size) for size in (first_px, second_px))
    return abs(first / second - 1) <= SAME_ASPECT


def _number(value: object) -> float | None:
    """A finite EXIF number, or None for anything else (0/0, text, several values)."""
    try:
        number = float(value)  # type: ignore[arg-type]  # whatever the file holds
    except (TypeError, ValueError, ZeroDivisionError, OverflowError):
        return None
    return number if np.isfinite(number) else None
