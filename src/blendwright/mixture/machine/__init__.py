"""The slowest loops in machine code (numba, extra `batch`), where they are ready.

Nobody waits for the compiler: answers begin in NumPy, whose forms say the same, and go on in
machine code once it is there. `prepare` asks for it: what is compiled already is loaded, anything
else is compiled in a process of its own, once for each installation. A single `assess` asks for
nothing, as loading takes longer than the answer; `advise` and maps make hundreds.
"""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from functools import cache
from importlib.util import find_spec
from pathlib import Path

_state = {"loaded": False, "begun": False}


def is_ready() -> bool:
    """Whether machine code is loaded in this process."""
    return _state["loaded"]


def is_awaited() -> bool:
    """Whether this process had it compiled and it is not ready yet."""
    return _state["begun"] and not _state["loaded"]


def prepare(compile_missing: bool = True) -> bool:
    """Load what is compiled, or have it compiled in the background; whether it is ready now."""
    if _state["loaded"] or find_spec("numba") is None:
        return _state["loaded"]
    if is_compiled():
        import blendwright.mixture.machine.crystals
        import blendwright.mixture.machine.layers  # noqa: F401

        _state["loaded"] = True
    elif compile_missing and not _state["begun"]:
        _state["begun"] = True
        subprocess.Popen(
            [sys.executable, "-m", "blendwright.mixture.machine.compiling"],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
    return _state["loaded"]


def load() -> None:
    """Wait for the compiler, if need be, and load (for tests and measurements)."""
    if not is_compiled():
        from blendwright.mixture.machine.compiling import compile_once

        compile_once(wait=True)
    prepare()


@cache
def _mark() -> Path:
    """A file that is there when these sources were compiled on this machine."""
    import numba

    digest = hashlib.sha256(f"{sys.version} {numba.__version__}".encode())
    folder = Path(__file__).parent
    for source in sorted(folder.glob("*.py")):
        digest.update(source.read_bytes())
        digest.update(str(source.stat().st_mtime_ns).encode())  # numba goes by it too
    home = os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache"
    return Path(home) / "blendwright" / "compiled" / digest.hexdigest()[:16]


def is_compiled() -> bool:
    """Whether these sources were compiled on this machine."""
    return _mark().exists()


def lock_file() -> Path:
    """What the one process that compiles holds."""
    return _mark().with_suffix(".lock")


def mark_compiled() -> None:
    """Note that machine code is compiled; without a place to write it goes unnoted."""
    try:
        _mark().parent.mkdir(parents=True, exist_ok=True)
        _mark().touch()
    except OSError:
        pass
