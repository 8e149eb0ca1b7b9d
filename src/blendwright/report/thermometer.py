"""Where on the temperature scale does it dissolve, cloud and flash, and where may it be warmed?

The marks of every thermometer that is drawn or printed: freezer, fridge and bench, the three
estimates with their intervals, and the safe window for warming, all in K.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from blendwright.assess import Assessment
from blendwright.estimate import Estimate, to_celsius
from blendwright.formula.conditions import FREEZER_K, FRIDGE_K
from blendwright.mixture.clarity import HIGHEST_CLOUD_K, LOWEST_CLOUD_K
from blendwright.mixture.dissolution import LOWEST_K
from blendwright.verdict.blend import Blend
from blendwright.verdict.dissolution_and_layers import WARMEST_SENSIBLE_K
from blendwright.verdict.warming import WarmingWindow

AT_THE_END_K = 1.0  # a temperature so near the end of what was searched counts as that end


@dataclass(frozen=True)
class Place:
    """A temperature at which the bottle may stand, K."""

    name: str
    temperature_K: float


@dataclass(frozen=True)
class Mark:
    """An estimate on the scale, K, and the ends of what was searched for it (None: no end).

    `at_lowest` and `at_highest` are what it is called where it lies at an end.
    """

    name: str
    estimate: Estimate
    lowest_K: float | None = None
    highest_K: float | None = None
    at_lowest: str = ""
    at_highest: str = ""

    def at_end(self, temperature_K: float) -> str:
        """ "below" or "above" where a temperature is an end of what was searched, else ""."""
        if self.lowest_K is not None and temperature_K <= self.lowest_K + AT_THE_END_K:
            return "below"
        if self.highest_K is not None and temperature_K >= self.highest_K - AT_THE_END_K:
            return "above"
        return ""

    def celsius(self, temperature_K: float) -> str:
        """A temperature without its unit: "12", or "below -40" at an end of what was searched."""
        return f"{self.at_end(temperature_K)} {self._limit(temperature_K)}".strip()

    @property
    def figure_words(self) -> str:
        """ "fully dissolved above 14 °C", "fully dissolved even at -40 °C", or the reason why
        there is no figure."""
        if not self.estimate.is_ok:
            return f"{self.name}: {self.value_words}"
        value = self.estimate.interval()[0]
        name = self._name_at_end(value)
        return f"{name} {self._limit(value)} °C" if name else f"{self.name} {self.value_words}"

    @property
    def span_words(self) -> str:
        """The 90 % interval beside `figure_words`: "-9 to 42 °C", "up to -35 °C", or ""."""
        if not self.estimate.is_ok:
            return ""
        value, low, high = self.estimate.interval()
        if not self._name_at_end(value):
            return self.interval_words
        if self.at_end(value) == "below":
            return "" if self.at_end(high) else f"up to {self.celsius(high)} °C"
        return "" if self.at_end(low) else f"from {self.celsius(low)} °C"

    @property
    def words(self) -> str:
        """Figure and interval: "fully dissolved above 14 °C (-9 to 42 °C)"."""
        return self.figure_words + (f" ({self.span_words})" if self.span_words else "")

    def _name_at_end(self, value_K: float) -> str:
        return {"below": self.at_lowest, "above": self.at_highest}.get(self.at_end(value_K), "")

    def _limit(self, temperature_K: float) -> str:
        """A temperature in whole °C; the end of what was searched where it is at one."""
        end = self.at_end(temperature_K)
        limit_K = {"below": self.lowest_K, "above": self.highest_K}.get(end)
        return _whole(temperature_K if limit_K is None else limit_K)

    @property
    def value_words(self) -> str:
        """The best estimate, "-30 °C", or the reason why there is none."""
        if not self.estimate.is_ok:
            return "; ".join(self.estimate.notes) or self.estimate.status.replace("_", " ")
        return f"{self.celsius(self.estimate.interval()[0])} °C"

    @property
    def interval_words(self) -> str:
        """The 90 % interval, "below -40 to 32 °C"; empty where there is none."""
        if not self.estimate.is_ok:
            return ""
        _, low, high = self.estimate.interval()
        first, last = self.celsius(low), self.celsius(high)
        return f"{first} °C" if first == last else f"{first} to {last} °C"


@dataclass(frozen=True)
class SafeWarming:
    """From where to where it may be warmed, K; both None where no warming is safe."""

    low_K: float | None
    high_K: float | None
    words: str


@dataclass(frozen=True)
class Thermometer:
    """Everything on one temperature scale."""

    places: tuple[Place, Place, Place]
    dissolved: Mark
    clouding: Mark
    flash: Mark
    warming: SafeWarming

    @property
    def bench_K(self) -> float:
        return self.places[-1].temperature_K

    @property
    def marks(self) -> Sequence[Mark]:
        return self.dissolved, self.clouding, self.flash


def thermometer(window: WarmingWindow, cloud: Estimate, flash: Estimate) -> Thermometer:
    """The scale of one blend, from its window for warming, its cloud and its flash point."""
    return Thermometer(
        (Place("freezer", FREEZER_K), Place("fridge", FRIDGE_K), Place("bench", window.bench_K)),
        dissolved_mark(window.dissolution),
        cloud_mark(cloud),
        Mark("flash point", flash),
        safe_warming(window),
    )


def dissolved_mark(dissolution: Estimate) -> Mark:
    """Above which temperature everything is dissolved."""
    even = "fully dissolved even at"
    return Mark("fully dissolved above", dissolution, LOWEST_K, at_lowest=even)


def cloud_mark(cloud: Estimate) -> Mark:
    """Below which temperature it clouds."""
    ends = ("clear even at", "cloudy even at")
    return Mark("clouds below", cloud, LOWEST_CLOUD_K, HIGHEST_CLOUD_K, *ends)


def thermometer_of(found: Assessment | Blend) -> Thermometer:
    """The scale of an assessment, or of a blend whose assessment is not complete yet."""
    if isinstance(found, Blend):
        return thermometer(found.window, found.cloud, found.flash.estimate)
    estimates = found.estimates
    return thermometer(
        found.warming,
        estimates["cloud_temperature"],
        estimates["flash_point_closed_cup"],
    )


def safe_warming(window: WarmingWindow) -> SafeWarming:
    """Written rule: from the high end of what the crystals need, or the bench where that is warmer,
    up to what keeps the margin below the flash point's low end. No warming is safe where either is
    unknown, or where the ends stand the wrong way round."""
    unknown = [
        name
        for name, estimate in (("dissolution", window.dissolution), ("flash point", window.flash))
        if estimate.status == "unknown"
    ]
    if unknown:
        return _none(f"{' and '.join(unknown)} unknown")
    high_K = WARMEST_SENSIBLE_K if window.highest_K is None else window.highest_K
    need_K = window.dissolution.interval()[2] if window.dissolution.is_ok else window.bench_K
    margin = f"{window.margin_K:.0f} °C below {window.low_end_words} is {_whole(high_K)} °C"
    if high_K < window.bench_K:
        return _none(margin)
    if need_K > high_K:
        if window.highest_K is None:
            return _none(f"the crystals may need more than {_whole(high_K)} °C")
        return _none(f"the crystals may need {_whole(need_K)} °C, and {margin}")
    if need_K <= window.bench_K:
        words = f"no warming needed; at most {_whole(high_K)} °C"
        return SafeWarming(window.bench_K, high_K, words)
    return SafeWarming(need_K, high_K, f"safe warming: {_whole(need_K)} to {_whole(high_K)} °C")


def _none(why: str) -> SafeWarming:
    return SafeWarming(None, None, f"no safe warming: {why}")


def _whole(temperature_K: float) -> str:
    """In whole °C, without "-0"."""
    return f"{round(to_celsius(temperature_K)) + 0:d}"
