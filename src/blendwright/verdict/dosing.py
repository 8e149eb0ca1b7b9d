"""What a dose does to a drink, in words: clear, hazy, an oil ring, crystals.

Thresholds of the chance are those of `verdict.dissolution_and_layers`. Saturation is not haze: the
chance of haze is that more than VISIBLE_kg_m3 of oil stays undissolved; where oil may stay but
surely not so much, it is a trace. What is no longer clear is called by how much oil is out: up to a
drop of oil in a litre stays about as haze, more gathers, on top where it is lighter than the drink.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from blendwright.estimate import per_cent
from blendwright.verdict.dissolution_and_layers import SURELY_CLEAR_BELOW, liquid_word
from blendwright.verdict.finding import Finding, listed

DoseWord = Literal[
    "clear", "trace", "may_cloud", "hazy", "oil_ring", "oil_sinks", "crystals", "unknown"
]  # fmt: skip

VISIBLE_kg_m3 = 0.001  # 1 mg/L of undissolved oil: less is hardly seen (common practice, no source)
HAZE_UP_TO_kg_m3 = 0.05  # 50 mg/L, a drop of oil in a litre (common practice, no source)

FIRST_TASTING = (
    "Two drops in 100 mL of 10 % sugar solution is a usual first tasting dose (common practice, "
    "no source)."
)
ALCOHOL_TAKES_MORE = (
    "Alcoholic drinks usually take more flavour than soft ones (common practice, no source)."
)
NATIONAL_LISTS = (
    "The mg/kg are for you to hold against your own lists. Whether a substance may be used in "
    "food, and how much, is a matter of national lists and of a qualified person."
)
OBSERVED_CONCENTRATE = (
    "Your observations are of the concentrate: its measured density counts here; how it looked "
    "does not, as no drink was observed."
)
LEFT_OUT_SUGAR = (
    "Left out: sugar's salting-out of the flavour, for want of a published constant; makes haze a "
    "little likelier than told. (Ethyl acetate and ethyl hexanoate grow more volatile with "
    "sucrose: Covarrubias-Cervantes et al. 2004, J. Agric. Food Chem. 52, 7064, abstract read.) "
    "The room that sugar takes is counted."
)
LEFT_OUT_REST = (
    "Left out: acids, salts, colours, proteins, gums and emulsifiers of the drink, and its gas "
    "(bubbles carry top notes off). The concentrate is taken as clear and well shaken."
)


@dataclass(frozen=True)
class Appearance:
    """How the finished drink looks: the chance of haze (None: can't be told), how much oil by the
    best estimate, whether it floats, which crystals stay, surely or perhaps, and the chance that
    any oil stays undissolved, if only a trace (None: that of haze)."""

    chance: float | None
    oil_kg_m3: float
    floats: bool | None
    crystals: tuple[str, ...] = ()
    perhaps_crystals: tuple[str, ...] = ()
    chance_of_oil: float | None = None

    @property
    def word(self) -> DoseWord:
        liquid = liquid_word(self.chance)
        if liquid == "splits":
            if self.oil_kg_m3 <= HAZE_UP_TO_kg_m3 or self.floats is None:
                return "hazy"
            return "oil_ring" if self.floats else "oil_sinks"
        if self.crystals:
            return "crystals"
        surely = self.chance is not None and self.chance < SURELY_CLEAR_BELOW
        if surely and liquid_word(self.chance_of_oil) in ("may_cloud", "splits"):
            return "trace"
        return liquid


_PARTED: dict[DoseWord, tuple[str, str]] = {
    "hazy": ("DOSE-HAZY", "turns hazy"),
    "oil_ring": ("DOSE-OIL-RING", "gets an oil ring"),
    "oil_sinks": ("DOSE-OIL-SINKS", "gets drops of oil at the bottom"),
}


def amount(kg_m3: float) -> str:
    """A concentration as people read it.

    >>> amount(0.0123), amount(0.827), amount(2.5)
    ('12 mg/L', '830 mg/L', '2.5 g/L')
    """
    return f"{two_digits(kg_m3)} g/L" if kg_m3 >= 0.995 else f"{two_digits(kg_m3 * 1e3)} mg/L"


def two_digits(value: float) -> str:
    """Two digits of a number, without an exponent."""
    return f"{float(f'{value:.2g}'):.12g}"


def dose_findings(
    word: DoseWord, appearance: Appearance, first_out: tuple[str, ...], uncounted: tuple[str, ...]
) -> list[Finding]:
    """What the person should know of the drink; `first_out` are the first to part as oil."""
    found = []
    oil = f"about {amount(appearance.oil_kg_m3)} of oil, mostly {listed(first_out)}"
    chance = f"chance {per_cent(appearance.chance)}" if appearance.chance is not None else ""
    less = "Dose less, use a stronger spirit, or leave out some of what separates."
    if word == "unknown":
        found.append(
            Finding(
                "DOSE-UNKNOWN",
                "caution",
                "It is unknown whether the drink stays clear: no groups, or no solubility in "
                f"water, of {listed(uncounted)}."
                if uncounted
                else "It is unknown whether the drink stays clear: no model covers it.",
                "Dose a glass, and look at it after a night.",
                uncounted,
            )
        )
    elif word == "trace":
        found.append(
            Finding(
                "DOSE-TRACE",
                "info",
                "A trace of oil may stay undissolved (chance "
                f"{per_cent(appearance.chance_of_oil or 0.0)}), hardly visible: below about "
                f"{amount(VISIBLE_kg_m3)} (common practice, no "
                f"source); first to separate: {listed(first_out)}.",
                "Look at a glass against the light after a night.",
                first_out,
            )
        )
    elif word == "may_cloud":
        found.append(
            Finding(
                "DOSE-MAY-CLOUD",
                "caution",
                f"The drink may cloud ({chance}); first to separate: {listed(first_out)}.",
                "Dose a glass, and look at it after a night; a little less usually helps.",
                first_out,
            )
        )
    elif word in ("hazy", "oil_ring", "oil_sinks"):
        code, how = _PARTED[word]
        found.append(
            Finding(code, "warning", f"The drink {how} ({chance}): {oil}.", less, first_out)
        )
    elif (
        word == "clear"
        and appearance.chance is not None
        and appearance.chance >= SURELY_CLEAR_BELOW
    ):
        found.append(
            Finding(
                "DOSE-PROBABLY-CLEAR",
                "caution",
                f"Probably clear, but haze can't be ruled out ({chance}); first to separate: "
                f"{listed(first_out)}.",
                "Dose a glass, and look at it after a night.",
                first_out,
            )
        )
    if appearance.crystals:
        found.append(
            Finding(
                "DOSE-CRYSTALS",
                "warning",
                f"Crystals are expected: {listed(appearance.crystals)}.",
                "Dose less; they may take days to show.",
                appearance.crystals,
            )
        )
    elif appearance.perhaps_crystals:
        found.append(
            Finding(
                "DOSE-PERHAPS-CRYSTALS",
                "caution",
                f"Crystals can't be ruled out: {listed(appearance.perhaps_crystals)}.",
                "Look at a glass after some days.",
                appearance.perhaps_crystals,
            )
        )
    if uncounted and word != "unknown":
        found.append(
            Finding(
                "DOSE-LEFT-OUT",
                "caution",
                f"Not counted, as groups or a solubility in water are missing: "
                f"{listed(uncounted)}.",
                "The answer holds for the rest.",
                uncounted,
            )
        )
    return found
