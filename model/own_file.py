"""Where the person keeps files of their own that go before the shipped ones."""

from __future__ import annotations

import os
from pathlib import Path


def own_path(variable: str, file_name: str) -> Path:
    """What the environment's ``variable`` names, else the file in ``digitise/`` of the configuration folder.

    That is ``$XDG_CONFIG_HOME``, else ``~/.config``. The file need not be there.
    """
    chosen = os.environ.get(variable)
    if chosen:
        return Path(chosen)
    base = os.environ.get("XDG_CONFIG_HOME")
    return (Path(base) if base else Path.home() / ".config") / "digitise" / file_name
