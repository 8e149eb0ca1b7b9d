"""What a safety data sheet asks in its sections 9 and 14, so far as a formula can answer.

Section 9: each property stands as "estimated", "measured (yours)" or "not determined", and nothing
else; what no model here looks at (pH, auto-ignition, decomposition, viscosity) stays "not
determined". Section 14 is questions only. The list is in `blendwright.report.papers.measured`.
"""

from __future__ import annotations

from collections.abc import Callable

from blendwright.estimate import Estimate, to_celsius
from blendwright.report.papers.contents import (
    ESTIMATED,
    MEASURED,
    NOT_DETERMINED,
    Block,
    Cell,
    Column,
    PaperSheet,
    Sentence,
    Sentences,
    Table,
    estimate_value,
    in_words,
    plain_sentences,
)
from blendwright.report.papers.dossier import Dossier
from blendwright.report.papers.measured import FLASH_POINT, SECTION_9
from blendwright.report.papers.shared_blocks import facts_of, foot_of, read_of
from blendwright.report.terminal import estimate_cells, number
from blendwright.verdict.limits import NO_CLASS, flash_range

Line = tuple[Cell, str, str]  # value, standing, how it was come by

WARNING = (
    "This is not a safety data sheet. It holds what can be estimated from a formula: a qualified "
    "person must complete it, replace estimates by measurements where the law asks for them, and "
    "answer for it."
)
EMPTY = Cell("")
WHY_NOT = {
    "colour": "look at it",
    "odour": "smell it",
    "melting point": "of the blend; where crystals form again is on the technical sheet",
    "boiling range": "only its beginning is estimated",
    "pH": "not estimated here",
    "auto-ignition temperature": "not estimated here",
    "decomposition temperature": "not estimated here",
    "kinematic viscosity": "not estimated here",
    "solubility": "not estimated as a single number here; a dose in a drink is another question",
    "partition coefficient": "a property of each substance, not of a mixture",
    "relative vapour density": "not estimated here",
    "particle characteristics": "asked of solids",
}
QUESTIONS = (
    "UN number: which entry fits, one for flavour extracts or one not otherwise specified?",
    "Proper shipping name: the name of that entry, with technical names if it asks for them?",
    "Transport hazard class: what does a measured flash point and boiling point make it?",
    "Packing group: what do the same measurements make it?",
    "Environmental hazards: is it a marine pollutant or hazardous to water?",
    "Special precautions: limited quantities, special provisions, the mode's own rules?",
    "Maritime transport in bulk: does it come up at all?",
)


def data_sheet(dossier: Dossier) -> PaperSheet:
    """Sections 9 and 14, for a qualified person to complete."""
    blocks: tuple[Block, ...] = (
        *read_of(dossier),
        Sentences("standing", "", (Sentence(WARNING, "warning"),)),
        _section_9(dossier),
        _section_14(dossier),
        _asked_for_section_14(dossier),
        Sentences("cautions", "Cautions", plain_sentences(dossier.assessment.cautions), small=True),
    )
    facts = facts_of(dossier)
    kind = "For a safety data sheet, sections 9 and 14"
    return PaperSheet("data-sheet", kind, dossier.name, facts, blocks, foot_of(dossier))


def _section_9(dossier: Dossier) -> Table:
    columns = (
        Column("property"), Column("value"), Column("standing"), Column("how it was come by"),
    )  # fmt: skip
    rows = []
    for asked in SECTION_9:
        value, standing, how = _line(dossier, asked.name)
        rows.append((Cell(asked.name), value, Cell(standing), Cell(how)))
    return Table(
        "section 9", "Section 9: physical and chemical properties", columns, tuple(rows),
        note="estimated: by blendwright, with the 90 % interval; measured (yours): as you gave it; "
        "not determined: nobody has said anything.",
    )  # fmt: skip


def _line(dossier: Dossier, name: str) -> Line:
    measured = dossier.measurement(name)
    if measured is not None:
        return Cell(measured.text, measured.celsius()), MEASURED, "given by whoever ran blendwright"
    if name in _ANSWERS:
        return _ANSWERS[name](dossier)
    return EMPTY, NOT_DETERMINED, WHY_NOT[name]


def _estimated(estimate: Estimate, at: str) -> Line:
    """A number with its interval, or nothing: what has no number is not determined."""
    if not estimate.is_ok:
        state, why = estimate_cells(estimate)
        return EMPTY, NOT_DETERMINED, f"{state}: {why}" if why else state
    cell = Cell(in_words(estimate), estimate_value(estimate).number)
    return cell, ESTIMATED, f"{at}; {estimate.method}"


def _here(dossier: Dossier) -> str:
    return f"at {number(to_celsius(dossier.assessment.temperature_K), '°C')} °C"


def _pressure(dossier: Dossier) -> str:
    return f"at {dossier.assessment.pressure_Pa / 1e3:.1f} kPa"


def _named(name: str, at: Callable[[Dossier], str]) -> Callable[[Dossier], Line]:
    return lambda dossier: _estimated(dossier.assessment.estimates[name], at(dossier))


def _state(dossier: Dossier) -> Line:
    """Liquid, unless crystals or layers are expected or can't be told."""
    assessment = dossier.assessment
    if "unknown" in (assessment.dissolution, assessment.liquid):
        return EMPTY, NOT_DETERMINED, "dissolving or layers can't be told: look at it"
    words = ["liquid"]
    if assessment.dissolution != "dissolves":
        words.append("with crystals")
    if assessment.liquid != "clear":
        words.append("in two layers" if assessment.liquid == "splits" else "that may be cloudy")
    return Cell(" ".join(words)), ESTIMATED, f"{_here(dossier)}: dissolution and layers"


def _flammability(dossier: Dossier) -> Line:
    """What to treat it as; with a measured flash point, into which category's range it falls."""
    fire = dossier.fire
    if dossier.measured_flash is not None and dossier.measured_category is None:
        return EMPTY, NOT_DETERMINED, "to be set from the measured flash point and boiling point"
    if fire.category == "unknown":
        return EMPTY, NOT_DETERMINED, "; ".join(fire.reasons)
    words = f"flammable liquid, treat as GHS {fire.treat_as_name}"
    if fire.treat_as == NO_CLASS:
        words = "not classed as a flammable liquid by GHS"
    if dossier.measured_flash is None:
        why = "; ".join((fire.evidence(short=not fire.model_category), *fire.reasons))
        return Cell(words), ESTIMATED, f"from the estimated flash point: {why}"
    leads = MEASURED if fire.treat_as == fire.category else ESTIMATED
    where = "above every category" if fire.category == NO_CLASS else f"in GHS {fire.name}"
    how = (
        f"the measured flash point falls {where} ({flash_range('ghs', fire.category)}); "
        f"{fire.evidence()}; a qualified person sets the class"
    )
    return Cell(words), leads, how


_ANSWERS: dict[str, Callable[[Dossier], Line]] = {
    "physical state": _state,
    "initial boiling point": _named("initial_boiling_point", _pressure),
    "flammability": _flammability,
    "lower explosion limit": _named("lower_flammable_limit", _here),
    "upper explosion limit": lambda d: _estimated(d.upper_limit, _here(d)),
    FLASH_POINT: _named(
        "flash_point_closed_cup", lambda dossier: f"closed cup, {_pressure(dossier)}"
    ),
    "vapour pressure": _named("vapour_pressure", _here),
    "density": _named("density", _here),
}


def _section_14(dossier: Dossier) -> Table:
    columns = Column("question for a qualified person"), Column("answer", "blank")
    rows = tuple((Cell(question), Cell("")) for question in QUESTIONS)
    return Table("section 14", "Section 14: transport, as questions", columns, rows)


def _asked_for_section_14(dossier: Dossier) -> Sentences:
    """What bears on the questions: the flash point, and what the transport text says to look up."""
    flash = dossier.measured_flash
    if flash is not None:
        bears = f"Flash point, measured (yours): {flash.text}."
    else:
        estimate = dossier.assessment.estimates["flash_point_closed_cup"]
        bears = f"Flash point, estimated: {in_words(estimate)}. An estimate decides none of these."
    un = next(c for c in dossier.assessment.classings if c.scheme == "un")
    pointers = [f"To look up: {pointer}" for pointer in un.pointers]
    texts = (bears, f"The text names tests: {un.tests}.", *pointers)
    return Sentences("bears", "What bears on section 14", plain_sentences(texts))
