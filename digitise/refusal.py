"""Why a photo is refused: one registry of reasons, each with a sentence for the person."""

from __future__ import annotations

from enum import StrEnum


class Reason(StrEnum):
    """What is wrong with a photo, in the terms the person is told."""

    UNREADABLE = "unreadable"
    NO_CARD = "no card"
    CARD_CUT = "card cut off"
    TOO_SMALL = "card too small"
    TOO_NEAR = "too near"
    RACQUET_CUT = "racquet cut off"
    TOO_OBLIQUE = "too oblique"
    BLURRED = "too blurred"
    SEVERAL_RACQUETS = "more than one racquet"
    NO_RACQUET = "no racquet"


MENDED_BY_HAND = (Reason.NO_CARD, Reason.NO_RACQUET)
"""What a person may see in a photo although the program did not: it can be marked by hand."""


class Refused(Exception):
    """A photo that cannot be traced: ``reason`` for programs, the message for the person.

    The message is one sentence that names what is wrong and what to do about it.
    """

    def __init__(self, reason: Reason, message: str) -> None:
        super().__init__(reason, message)  # all it is made of, or it could not pass between processes
        self.reason = reason
        self.message = message

    def __str__(self) -> str:
        return self.message
