"""The shipped tables of the learned excess energy are what the rows give (two minutes).

The rows of NIST collections may not be passed on: without the directory that holds them
(BLENDWRIGHT_REFERENCE) there is nothing to refit.
"""

from __future__ import annotations

import os

import numpy as np
import pytest

from blendwright.mixture.excess.learned import learned_weights
from fitting.excess.__main__ import fitted
from fitting.excess.rows import OUTSIDE, pair_rows
from fitting.excess.shipped import weights

pytestmark = pytest.mark.skipif(OUTSIDE not in os.environ, reason=f"{OUTSIDE} is not set")


def test_a_refit_gives_the_shipped_weights() -> None:
    _, first, three = fitted(pair_rows())
    shipped = learned_weights()
    refitted = weights([first.telling(), three.posterior().telling()])
    assert (refitted.identity == shipped.identity).all()
    assert refitted.values[0] == pytest.approx(shipped.values[0], abs=0.01)
    assert np.abs(refitted.values[1:] - shipped.values[1:]).max() < 0.05
