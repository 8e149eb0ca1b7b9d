"""Compile all machine code by calling it once, so that numba keeps it on the disk.

python -m blendwright.mixture.machine.compiling
"""

from __future__ import annotations

import os

import numpy as np

from blendwright.mixture.machine import is_compiled, lock_file, mark_compiled
from blendwright.mixture.machine.activity import Sets


class _Smallest:
    """Two components of one group each, one blend."""

    def sets(self) -> Sets:
        inward = np.array([[[1.0, 0.0, 1.0, 1.0], [0.0, 1.0, 2.0, 2.0]]])
        outward = np.zeros((1, 7, 2))
        return Sets(
            np.ones(1),
            np.array([2]),
            inward[None],
            outward[None],
            np.ones((1, 1, 2, 2)),
            np.zeros((6, 1, 2, 2)),
            np.ones((4, 1, 2)),
        )


def compile_all() -> None:
    """Every function that the engine calls, with the arguments' types that it gives."""
    from blendwright.mixture.machine import crystals, layers

    model, x = _Smallest(), np.array([[0.5, 0.5]])
    layers.stabilities(model, x)  # type: ignore[arg-type]
    layers.layers(model, x, np.array([[1.0, -1.0]]))  # type: ignore[arg-type]
    crystals.settled(x, x[:, None, :].copy(), np.array([[[-0.1, np.inf]]]), model)
    mark_compiled()


def compile_once(wait: bool = False) -> None:
    """Compile, unless it is done or another process is at it; or `wait` for that one."""
    from filelock import FileLock, Timeout

    try:
        lock_file().parent.mkdir(parents=True, exist_ok=True)
        with FileLock(lock_file(), timeout=-1 if wait else 0):
            if not is_compiled():
                compile_all()
    except (Timeout, OSError):
        return


if __name__ == "__main__":
    if hasattr(os, "nice"):
        os.nice(10)
    compile_once()
