"""A label for the bottle: what is in it, when it was made, how it burns, where to keep it.

Without a measured flash point it is marked as incomplete, the class is an estimate and says so,
and there is no pictogram. With one it bears the flame where the class has it, signal word and
hazard statement of the more cautious of the measured and the modelled category. Only
flammability is looked at: a label by law needs the other hazards, and a qualified person.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from blendwright.errors import BlendwrightError
from blendwright.estimate import to_celsius
from blendwright.formula.numbers import parse_number
from blendwright.report.papers.contents import HASH_SHOWN, Cell, in_words, one_line, quantity
from blendwright.report.papers.dossier import Dossier
from blendwright.report.papers.pictogram import CATEGORIES
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
# GHS rev. 9, annex 3, from memory
P210 = (
    "P210 Keep away from heat, hot surfaces, sparks, open flames and other ignition sources. "
    "No smoking."
)
KEEP_AWAY = "Keep away from heat, sparks and flames."
INCOMPLETE = "Incomplete label, estimate only"
NO_NUMBER = "Incomplete label: the measured flash point is no plain number"
NO_FLASH_POINT = "Incomplete label: no measured flash point"
MAKER = "Maker (name, address, telephone):"
FIRE_ONLY = "Flammability only: other hazards are not assessed"
STORE_AT = "15 to 25 °C"  # common practice, no source
COLD_CODES = {"CLOUDS-IN-FRIDGE": "cloud", "CRYSTALS-IN-FRIDGE": "form crystals"}
FRIDGE_CODE = "FRIDGE-SPARKS"
# The printable part of A4 with the page margins of papers.css, mm
PAGE_mm = (194.0, 277.0)
LEAST_mm = (50.0, 25.0)  # goes round a bottle of 10 mL
USUAL_mm = (64.0, 34.0)
PICTOGRAM_mm = 14.2  # a square of 1 cm2, on its point: the least that EU CLP asks for, from memory
PADDING_mm = (2.2, 1.2)  # as papers.css has it
LEAST_pt, MOST_pt, STEP_pt = 3.4, 14.0, 0.1  # of the words, which grow with the room
# Mean widths of letters as Arial has them, a little wide; height of a line; sizes of title and foot
LETTER_em, BOLD_em, CAPITAL_em, LINE_em = 0.5, 0.55, 0.76, 1.12
TITLE_em, SMALL_em, TITLE_LINES = 1.3, 0.85, 2
RULES_mm = 2.7  # the rule and the gaps between the parts
POINT_mm = 25.4 / 72.0
MOST_COPIES = 1000
LABELLED = ("1", "2", "3", "4")
_SIZE = re.compile(r"^\s*([\d.,]+)\s*[x×]\s*([\d.,]+)\s*$", re.IGNORECASE)


class LabelError(BlendwrightError):
    """A label that can't be made as asked."""


@dataclass(frozen=True)
class LabelWish:
    """How the person wants it: copies, width and height (mm), bottle (mL; the batch if None),
    where to store it, the GHS category that they measured ("1" to "4", "none"), who makes it."""

    copies: int = 1
    size_mm: tuple[float, float] = USUAL_mm
    bottle_mL: float | None = None
    store_at: str = ""
    measured_category: str = ""
    maker: str = ""

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
    """The words on a label, each under its name, and how many are printed. `mark` says what it
    lacks, `has_flame` whether it bears the pictogram."""

    title: str
    lines: tuple[tuple[str, Cell], ...]
    fire: tuple[str, ...]
    store: str
    maker: str
    foot: str
    wish: LabelWish
    mark: str = ""
    has_flame: bool = False

    @property
    def in_rows(self) -> list[int]:
        """How many labels each printed row holds."""
        across = max(1, int(PAGE_mm[0] // self.wish.size_mm[0]))
        full, rest = divmod(self.wish.copies, across)
        return [across] * full + ([rest] if rest else [])

    @property
    def is_one_row(self) -> bool:
        """Few enough to share the page of the paper before."""
        return len(self.in_rows) == 1

    @property
    def text_pt(self) -> float:
        """The largest size at which its words fit. Raises LabelError where none does."""
        points = MOST_pt
        while points >= LEAST_pt:
            if self._height_mm(points) <= self.wish.size_mm[1]:
                return round(points, 2)
            points -= STEP_pt
        wide, high = self.wish.size_mm
        raise LabelError(
            f"the words don't fit a label of {wide:g} x {high:g} mm: choose a larger one, or "
            "shorten the maker's line and where to store it"
        )

    def _height_mm(self, points: float) -> float:
        """How high all words come out, the pictogram at their side."""
        wide_mm = self.wish.size_mm[0] - 2.0 * PADDING_mm[0]
        height_mm = 2.0 * PADDING_mm[1] + RULES_mm
        beside_mm = PICTOGRAM_mm if self.has_flame else 0.0  # of height still beside the pictogram
        contents = "   ".join(f"{name} {cell.text}" for name, cell in self.lines)
        first, *others, last = self.fire
        parts = [(self.mark.upper(), CAPITAL_em, 1.0), (self.title, BOLD_em, TITLE_em)]
        parts += [(first, BOLD_em, 1.0), *((line, LETTER_em, 1.0) for line in others)]
        parts += [(last, BOLD_em, 1.0), (contents, LETTER_em, 1.0), (self.store, LETTER_em, 1.0)]
        parts += [(self.maker, LETTER_em, 1.0), (self.foot, LETTER_em, SMALL_em)]
        for words, letter_em, size in parts:
            em_mm = points * POINT_mm * size
            left, lines = words.split(), 0
            while left and (lines < TITLE_LINES or words != self.title):
                room_mm = wide_mm - (PICTOGRAM_mm + 1.0 if beside_mm > 0.0 else 0.0)
                left = left[_words_on_a_line(left, int(room_mm / (letter_em * em_mm))) :]
                height_mm += LINE_em * em_mm
                beside_mm -= LINE_em * em_mm
                lines += 1
        return max(height_mm, 2.0 * PADDING_mm[1] + PICTOGRAM_mm * self.has_flame)

    def to_dict(self) -> dict[str, object]:
        return {
            "paper": "label",
            "title": self.title,
            "facts": {k: {"text": c.text, "number": c.number} for k, c in self.lines},
            "fire": list(self.fire),
            "store": self.store,
            "maker": self.maker,
            "mark": self.mark,
            "pictogram": "flame" if self.has_flame else None,
            "foot": self.foot,
            "copies": self.wish.copies,
            "size_mm": list(self.wish.size_mm),
        }


def _words_on_a_line(words: list[str], letters: int) -> int:
    """How many of the words fit a line of so many letters; at least one."""
    count, used = 0, -1
    for word in words:
        used += 1 + len(word)
        if used > letters and count:
            break
        count += 1
    return count


def parse_size_mm(text: str) -> tuple[float, float]:
    """ "64x34" as (width, height) in mm; the words run along the longer side of a label that is
    narrower than they need. Raises LabelError.

    >>> parse_size_mm("64x34"), parse_size_mm("25 x 50")
    ((64.0, 34.0), (50.0, 25.0))
    """
    found = _SIZE.match(text)
    width, height = map(parse_number, found.groups()) if found else (None, None)
    if width is None or height is None:
        raise LabelError(f"{text!r} is not a size; write width and height in mm, like 64x34")
    return (height, width) if width < min(LEAST_mm[0], height) else (width, height)


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
        one_line(f"Maker: {wish.maker}" if wish.maker else f"{MAKER} {'_' * 18}"),
        f"{FIRE_ONLY}. Formula {dossier.formula_sha256[:HASH_SHOWN]}",
        wish,
        _mark(dossier, wish),
        dossier.measured_category is not None and _class(dossier, wish).treat_as in CATEGORIES,
    )


def _mark(dossier: Dossier, wish: LabelWish) -> str:
    """What the label lacks; nothing once a flash point was measured."""
    if dossier.measured_category is not None:
        return ""
    if dossier.measured_flash is not None:
        return NO_NUMBER
    return NO_FLASH_POINT if wish.measured_category else INCOMPLETE


def _class(dossier: Dossier, wish: LabelWish) -> Classing:
    """The more cautious of what was measured and the model."""
    if wish.measured_category:
        return with_measured_category(dossier.assessment.flammability, wish.measured_category)
    return dossier.fire


def _contents(dossier: Dossier, wish: LabelWish) -> tuple[tuple[str, Cell], ...]:
    """Mass and volume of the batch, or of the bottle through the density."""
    assessment = dossier.assessment
    here = f"at {number(to_celsius(assessment.temperature_K), '°C')} °C"
    density = assessment.estimates["density"].in_display_units().value
    if wish.bottle_mL is None:
        batch_mL = assessment.estimates["volume"].in_display_units().value
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
    fire = _class(dossier, wish)
    keep = KEEP_AWAY if fire.treat_as == NO_CLASS else P210
    if wish.measured_category:
        _check_agreement(wish.measured_category, None if measured is None else measured.celsius())
        return (*_stated(dossier, wish.measured_category), point, keep)
    if measured is not None and dossier.measured_category is None:
        return (point, "Class: to be set from the measured value", keep)
    signal = (_signal(fire.treat_as),) if measured and fire.treat_as in LABELLED else ()
    return (_class_words(fire), *signal, point, keep)


def _signal(category: str) -> str:
    """Signal word and hazard statement of a category."""
    signal, code = category_words("ghs", category)[1].split(", ")
    return f"{signal.upper()} {code} {STATEMENTS[code]}"


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
        if measured == model:
            told = "measured"
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
        words = _signal(category)
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
