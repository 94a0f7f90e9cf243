"""What can be wrong with input to the model: each error's message is one sentence for the person."""

from __future__ import annotations


class ModelError(ValueError):
    """Base of all errors this package raises about its input."""


class UnitError(ModelError):
    """A typed mass or length that can't be understood."""


class OutlineError(ModelError):
    """A ring that is not a usable outline, or a place that is not on it."""


class ReadingError(ModelError):
    """A scale or ruler reading that no racquet of this shape could give."""


class StripError(ModelError):
    """A strip of tape that can't be understood or can't be stuck where it is asked for."""


class MaterialError(ModelError):
    """A material that is not known, or a materials file that can't be used."""


class SearchError(ModelError):
    """A limit, target or zone of a search that can't be understood or makes no sense."""


class PictureError(ModelError):
    """A picture that can't be drawn: the drawing library is missing, or the file's kind unknown."""


class RacquetFileError(ModelError):
    """A racquet file that can't be read or written."""
