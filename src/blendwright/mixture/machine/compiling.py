"""Compile all machine code by calling it once, so that numba keeps it on the disk.

python -m blendwright.mixture.machine.compiling
"""

from __future__ import annotations

import os

import numpy as np

from blendwright.mixture.machine import is_compiled, lock_file, mark_compiled
from blendwright.mixture.machine.activity import KINDS, Blends, Tables


class _Smallest:
    """Two components of one group each, one blend."""

    blends = Blends(np.array([[0, 1]]), np.array([300.0]), np.array([-1]))
    tables = Tables(
        weights=np.ones(1),
        groups=np.array([2]),
        is_lyngby=np.zeros(1, dtype=bool),
        inward=np.array([[[1.0, 0.0, 1.0, 1.0], [0.0, 1.0, 2.0, 2.0]]]),
        outward=np.zeros((1, 2, 7)),
        interactions=np.zeros((1, 3, 2, 2)),
        mean=np.zeros((2, 2 * KINDS + 1)),
        deviations=np.zeros((2, KINDS, 2, 1), dtype=np.float32),
        marks=np.ones((2, 4)),
    )


def compile_all() -> None:
    """Every function that the engine calls, with the arguments' types that it gives."""
    from blendwright.mixture.machine import activity, crystals, layers

    model, x = _Smallest(), np.array([[0.5, 0.5]])
    activity.ln_gammas(model, x[:, None, :])
    activity.draw_shifts(model, x, x)
    activity.at_nodes(model, x, np.linspace(280.0, 300.0, 3))
    layers.stabilities(model, x)  # type: ignore[arg-type]
    layers.layers(model, x, np.array([[1.0, -1.0]]), np.zeros((1, 2, 0, 2)))  # type: ignore[arg-type]
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
