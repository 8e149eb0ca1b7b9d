"""A label for the bottle: what is in it, when it was made, how it burns, where to keep it.

The class is an estimate and says so, and no pictogram is drawn. Where the person states a class
that was measured, its signal word and hazard statement stand instead, in words.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from blendwright.errors import BlendwrightError
from blendwright.formula.numbers import parse_number
from blendwright.report.papers.contents import HASH_SHOWN, Cell, in_words, one_line, quantity
from blendwright.report.papers.dossier import Dossier
from blendwright.report.terminal import number
from blendwright.verdict.classes import category_of
from blendwright.verdict.flammability import Classing, with_measured_category
from blendwright.verdict.limits import NO_CLASS, category_words, limits

# GHS rev. 9, annex 3, from memory
STATEMENTS = {
    "H224": "Extremely flammable liquid and vapour",
    "H225": "Highly flammable liquid and vapour",
    "H226": "Flammable liquid and vapour",
    "H227": "Combustible liquid",
}
KEEP_AWAY = "Keep away from heat, sparks and flames."
STORE_AT = "15 to 25 °C"  # common practice, no source
COLD_CODES = {"CLOUDS-IN-FRIDGE": "cloud", "CRYSTALS-IN-FRIDGE": "set crystals"}
FRIDGE_CODE = "FRIDGE-SPARKS"
# The printable part of A4 with the page margins of papers.css, mm
PAGE_mm = (194.0, 277.0)
LEAST_mm = (60.0, 32.0)
USUAL_mm = (64.0, 34.0)
USUAL_pt, MOST_pt = 6.1, 14.0  # of the words, which grow with the label
MOST_COPIES = 1000
_SIZE = re.compile(r"^\s*([\d.,]+)\s*[x×]\s*([\d.,]+)\s*$", re.IGNORECASE)


class LabelError(BlendwrightError):
    """A label that can't be made as asked."""


@dataclass(frozen=True)
class LabelWish:
    """How the person wants it: copies, width and height (mm), bottle (mL; the batch if None),
    where to store it, and the GHS category that they measured ("1" to "4", "none")."""

    copies: int = 1
    size_mm: tuple[float, float] = USUAL_mm
    bottle_mL: float | None = None
    store_at: str = ""
    measured_category: str = ""

    def __post_init__(self) -> None:
        if not 1 <= self.copies <= MOST_COPIES:
            raise LabelError(f"labels come in 1 to {MOST_COPIES} copies, not {self.copies}")
        fits = all(
            least <= size <= most
            for size, least, most in zip(self.size_mm, LEAST_mm, PAGE_mm, strict=True)
        )
        if not fits:
            raise LabelError(
                f"a label is {LEAST_mm[0]:g} to {PAGE_mm[0]:g} mm wide and {LEAST_mm[1]:g} to "
                f"{PAGE_mm[1]:g} mm high, so that its words can be read and it fits the sheet"
            )
        known = [limit.category for limit in limits("ghs")]
        if self.measured_category not in ("", NO_CLASS, *known):
            raise LabelError(
                f"{self.measured_category!r} is no GHS category of a flammable liquid; write "
                f"{', '.join(known)} or {NO_CLASS}"
            )


@dataclass(frozen=True)
class Label:
    """The words on a label, each under its name, and how many are printed."""

    title: str
    lines: tuple[tuple[str, Cell], ...]
    fire: tuple[str, ...]
    store: str
    foot: str
    wish: LabelWish

    @property
    def in_rows(self) -> list[int]:
        """How many labels each printed row holds."""
        across = max(1, int(PAGE_mm[0] // self.wish.size_mm[0]))
        full, rest = divmod(self.wish.copies, across)
        return [across] * full + ([rest] if rest else [])

    @property
    def text_pt(self) -> float:
        """The size of its words."""
        grown = min(size / usual for size, usual in zip(self.wish.size_mm, USUAL_mm, strict=True))
        return round(min(USUAL_pt * grown, MOST_pt), 2)

    def to_dict(self) -> dict[str, object]:
        return {
            "paper": "label",
            "title": self.title,
            "facts": {k: {"text": c.text, "number": c.number} for k, c in self.lines},
            "fire": list(self.fire),
            "store": self.store,
            "foot": self.foot,
            "copies": self.wish.copies,
            "size_mm": list(self.wish.size_mm),
        }


def parse_size_mm(text: str) -> tuple[float, float]:
    """ "64x34" as (width, height) in mm. Raises LabelError."""
    found = _SIZE.match(text)
    width, height = map(parse_number, found.groups()) if found else (None, None)
    if width is None or height is None:
        raise LabelError(f"{text!r} is not a size; write width and height in mm, like 64x34")
    return width, height


def label(dossier: Dossier, wish: LabelWish) -> Label:
    """The label of one bottle. Raises LabelError where the stated class contradicts the measured
    flash point."""
    lot = (("lot", Cell(dossier.lot)),) if dossier.lot else ()
    lines = (*lot, ("made", Cell(dossier.made_on.isoformat())), *_contents(dossier, wish))
    return Label(
        one_line(dossier.name),
        lines,
        tuple(one_line(line) for line in _fire(dossier, wish)),
        one_line(_store(dossier, wish)),
        f"formula {dossier.formula_sha256[:HASH_SHOWN]}; estimates, not tests",
        wish,
    )


def _contents(dossier: Dossier, wish: LabelWish) -> tuple[tuple[str, Cell], ...]:
    """Mass and volume of the batch, or of the bottle through the density."""
    assessment = dossier.assessment
    here = f"at {number(assessment.temperature_K - 273.15, '°C')} °C"
    density = assessment.estimates["density"].at_the_edge().value
    if wish.bottle_mL is None:
        batch_mL = assessment.estimates["volume"].at_the_edge().value
        mass = quantity(assessment.weighing.total_g, "g")
        if batch_mL is None:
            return (("mass", mass), ("volume", Cell("unknown")))
        return (("mass", mass), ("volume", _about(batch_mL, f"mL {here}")))
    volume_mL = quantity(wish.bottle_mL, "mL")
    if density is None:
        return (("volume", volume_mL), ("mass", Cell("unknown")))
    return (("volume", volume_mL), ("mass", _about(wish.bottle_mL * density, f"g {here}")))


def _about(value: float, unit: str) -> Cell:
    return Cell(f"about {value:.1f} {unit}", value)


def _fire(dossier: Dossier, wish: LabelWish) -> tuple[str, ...]:
    """Flash point and class, and to keep it from flames."""
    measured = dossier.measured_flash
    if measured is None:
        estimate = dossier.assessment.estimates["flash_point_closed_cup"]
        point = f"Flash point (estimate): {in_words(estimate)}"
    else:
        point = f"Flash point, measured: {measured.text}"
    if wish.measured_category:
        _check_agreement(wish.measured_category, None if measured is None else measured.celsius())
        return (*_stated(dossier, wish.measured_category), point, KEEP_AWAY)
    if measured is not None and dossier.measured_category is None:
        return (point, "Class: to be set from the measured value", KEEP_AWAY)
    return (_class_words(dossier.fire), point, KEEP_AWAY)


def _class_words(fire: Classing) -> str:
    """In one line of a small label; with an own measurement the more cautious one first."""
    if fire.treat_as == "unknown":
        return "Flash point class: unknown, treat as highly flammable"
    told = fire.evidence()
    if fire.model_category:
        measured, model = (
            category_words("ghs", category)[0] for category in (fire.category, fire.model_category)
        )
        leads = fire.treat_as == fire.category
        told = f"measured; model: {model}" if leads else f"model; measured: {measured}"
    words = f"{_first_up(fire.lead())} ({told})"
    return f"{words}; it may burn all the same" if fire.treat_as == NO_CLASS else words


def _first_up(sentence: str) -> str:
    return sentence[0].upper() + sentence[1:]


def _stated(dossier: Dossier, category: str) -> tuple[str, ...]:
    """Signal word and hazard statement of a category that the person measured; where the model's is
    more hazardous, that leads."""
    both = with_measured_category(dossier.assessment.flammability, category)
    words = "no category of flammable liquid"
    if category != NO_CLASS:
        signal, code = both.label.split(", ")
        words = f"{signal.upper()}  {code} {STATEMENTS[code]}"
    if both.treat_as != category:
        return (_class_words(both), f"Measured: {words}")
    if category == NO_CLASS:
        return (f"Measured: {words}",)
    return (words, f"GHS {both.name}, measured (stated)")


def _check_agreement(category: str, flash_C: float | None) -> None:
    """A stated category has to hold the measured flash point; 1 and 2 differ in boiling only."""
    if flash_C is None:
        return
    by_flash = category_of(flash_C, float("inf"))
    if category != by_flash and {category, by_flash} != {"1", "2"}:
        told = "no category" if by_flash == NO_CLASS else f"category {by_flash}"
        raise LabelError(
            f"a measured flash point of {flash_C:g} °C is GHS {told}, not {category}: correct one "
            "of them"
        )


def _store(dossier: Dossier, wish: LabelWish) -> str:
    """Closed, dark, at a temperature; and what the cold does."""
    assessment = dossier.assessment
    codes = {finding.code for finding in assessment.findings}
    where = f"Keep closed and dark at {wish.store_at or STORE_AT}"
    if FRIDGE_CODE in codes:
        where += ", not in a household fridge"
    sentences = [where]
    if assessment.dissolution != "dissolves" or assessment.liquid != "clear":
        sentences.append("It may not be clear")
    cold = [word for code, word in COLD_CODES.items() if code in codes]
    if cold:
        sentences.append(f"In the cold it may {' or '.join(cold)}")
    return ". ".join(sentences) + "."
