"""The bar that long work shows, only where somebody looks at a terminal."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TypeVar

Item = TypeVar("Item")


def with_bar(items: Sequence[Item], words: str) -> Iterable[Item]:
    """``items`` one by one, with a bar on standard error where that is a terminal."""
    from rich.console import Console
    from rich.progress import track

    screen = Console(stderr=True)
    if not screen.is_terminal:  # a disabled bar of older releases still ends a line
        return items
    return track(items, words, console=screen, transient=True)
