"""Where the observations of the bench are kept: the file that `blendwright observe` writes too.

With others on the network let in each browser has a file of its own, as its formulas are its own.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

from blendwright.observations.store import OWN_FILE


def seen_file(folder: Path, owner: str) -> Path:
    """The file of all who use this computer (owner ""), or of one owner."""
    if not owner:
        return folder / OWN_FILE
    whose = hashlib.sha256(owner.encode()).hexdigest()[:16]
    return folder / f"observations-{whose}.sqlite"


def stamp_of(file: Path) -> tuple[str, int]:
    """(path, age) of a file, ("", 0) where there is none: another age is another content."""
    try:
        return str(file), file.stat().st_mtime_ns
    except FileNotFoundError:
        return "", 0
