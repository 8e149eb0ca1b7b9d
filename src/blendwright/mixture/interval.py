"""An answer about every blend of a block: values with their 90 % intervals, as arrays."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendwright.errors import NotConvergedError
from blendwright.estimate import Estimate
from blendwright.mixture.parameter_sets import Array
from blendwright.pure.roots import Bools, Ints

Words = NDArray[Any]


@dataclass(frozen=True, eq=False)
class Interval:
    """Value, low and high end (SI; NaN unless the status is "ok"), the status of each blend as in
    `Estimate`, and whether every search behind it converged (an unknown may be for want of that).
    """

    value: Array
    low: Array
    high: Array
    status: Words
    converged: Bools

    @classmethod
    def of(
        cls, value: Array, low: Array, high: Array, status: Words, converged: Bools | None = None
    ) -> Interval:
        """With NaN where the status isn't "ok", and low <= value <= high where it is."""
        sure = np.ones(len(value), dtype=bool) if converged is None else converged
        if not sure.all():
            status = np.where(sure, status, "unknown").astype(object)
        low, high = np.fmin(low, value), np.fmax(high, value)
        ok = status == "ok"
        if not ok.all():
            value, low, high = (np.where(ok, end, np.nan) for end in (value, low, high))
        return cls(value, low, high, status, sure)

    @classmethod
    def from_estimate(cls, found: Estimate) -> Interval:
        """An estimate as a block of one."""
        value, low, high = found.interval() if found.is_ok else (np.nan, np.nan, np.nan)
        status = np.array([found.status], dtype=object)
        return cls.of(np.array([value]), np.array([low]), np.array([high]), status)

    @classmethod
    def unknown(cls, size: int) -> Interval:
        nothing = np.full(size, np.nan)
        return cls.of(nothing, nothing, nothing, np.full(size, "unknown", dtype=object))

    def __len__(self) -> int:
        return len(self.value)

    @property
    def is_ok(self) -> Bools:
        return np.asarray(self.status == "ok")

    def only(self, blends: Ints) -> Interval:
        """The interval of some blends."""
        return Interval(
            self.value[blends],
            self.low[blends],
            self.high[blends],
            self.status[blends],
            self.converged[blends],
        )

    def with_some(self, blends: Ints, other: Interval) -> Interval:
        """With what another says of some of the blends."""

        def changed(own: NDArray[Any], theirs: NDArray[Any]) -> NDArray[Any]:
            made = own.copy()
            made[blends] = theirs
            return made

        return Interval(
            changed(self.value, other.value),
            changed(self.low, other.low),
            changed(self.high, other.high),
            changed(self.status, other.status),
            changed(self.converged, other.converged),
        )

    def ends(self, blend: int = 0) -> tuple[float, float, float]:
        """(value, low, high) of one blend."""
        return float(self.value[blend]), float(self.low[blend]), float(self.high[blend])

    def not_ok(self, unit: str, what: str, reason: str, method: str = "none") -> Estimate:
        """The estimate of a part of one blend that has no value: for want of convergence of
        `what`, or for a reason that the caller knows."""
        status = str(self.status[0])
        if not self.converged[0]:
            return Estimate.unknown(unit, str(NotConvergedError(what)))
        if status == "unknown":
            return Estimate.unknown(unit, reason)
        return Estimate.absent(unit, status, reason, method)  # type: ignore[arg-type]
