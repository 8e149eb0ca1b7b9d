"""The bench sheet: what to weigh, in which order, to which reading, and what to mind."""

from __future__ import annotations

from dataclasses import replace

from blendwright.estimate import to_celsius
from blendwright.questions.volumes.weighing_order import ORDER_RULE, is_crystal
from blendwright.report.assessment import answer_lines
from blendwright.report.papers.contents import (
    Blanks,
    Block,
    Cell,
    Column,
    PaperSheet,
    PlainAnswers,
    Sentence,
    Sentences,
    Table,
    estimate_value,
    finding_sentences,
    grams,
    in_words,
    plain_sentences,
    quantity,
    volume_mL,
)
from blendwright.report.papers.dossier import Dossier
from blendwright.report.papers.shared_blocks import facts_of, foot_of, read_of
from blendwright.report.warming import verdict_sentence
from blendwright.verdict.as_read import besides

COLUMNS = (
    Column("", "tick"),
    Column("", "numbers"),
    Column("Material"),
    Column("weigh, g", "numbers"),
    Column("balance shows, g", "numbers"),
    Column("about, mL at {here}", "numbers"),
    Column("weighed, g", "blank"),
)
BY_HAND = ("weighed by", "date", "balance", "empty vessel, g", "looked at after a night")
# findings of the warming; its window is the first sentence
WARMING_SHOWN = ("WARM-ORDER", "WARM-LIGHT-LAST", "WARM-IGNITION", "WARM-BOILS", "WARM-GROUNDING")


def bench_sheet(dossier: Dossier) -> PaperSheet:
    """The bench sheet; fifteen rows fit one page of A4 or Letter."""
    assessment = dossier.assessment
    blocks: list[Block] = [
        *read_of(dossier),
        PlainAnswers("verdicts", tuple(answer_lines(assessment, in_full=False))),
        weighing_list(dossier),
    ]
    if dossier.warming is not None:
        found = [f for f in dossier.warming.findings if f.code in WARMING_SHOWN]
        window = Sentence(verdict_sentence(dossier.warming))
        blocks.append(Sentences("warming", "Warming", (window, *finding_sentences(found))))
    told = ("EVAPORATES",) if dossier.warming is not None else ()  # there, by the warm losses
    findings = besides(assessment.findings, assessment.weighing.formula.notices)
    grave = [f for f in findings if f.severity != "info" and f.code not in told]
    stirring = [f for f in assessment.findings if f.code == "DISSOLVES"]
    mind = finding_sentences((*grave, *stirring))
    if dossier.measured_flash is not None:
        mind = (Sentence(f"Flash point measured (yours): {dossier.measured_flash.text}."), *mind)
    blocks += [
        Sentences("mind", "Warnings and cautions", mind),
        Sentences("cautions", "Always", plain_sentences(assessment.cautions), small=True),
        Blanks("by hand", BY_HAND),
    ]
    flash = assessment.estimates["flash_point_closed_cup"]
    facts = (
        ("makes", quantity(assessment.weighing.total_g, "g")),
        ("about", estimate_value(assessment.estimates["volume"])),
        ("flash point, estimate", Cell(in_words(flash), flash.in_display_units().value)),
        *facts_of(dossier),
    )
    return PaperSheet("bench", "Bench sheet", dossier.name, facts, tuple(blocks), foot_of(dossier))


def weighing_list(dossier: Dossier) -> Table:
    """The rows in the order of weighing, with what a tared balance shows after each."""
    weighing = dossier.assessment.weighing
    here = f"{to_celsius(dossier.assessment.temperature_K):.0f} °C"
    columns = tuple(replace(column, title=column.title.format(here=here)) for column in COLUMNS)
    rows, total_g = [], 0.0
    for place, step in enumerate(dossier.steps, start=1):
        row = weighing.rows[step.row]
        total_g = step.running_total_g
        poured = dossier.assessment.row_volumes[step.row]
        if poured.is_ok:
            share = step.grams / row.grams
            value, low, high = (share * volume for volume in poured.interval())
            poured = replace(poured, value=value, low=low, high=high)
        rows.append(
            (
                Cell(""),
                Cell(str(place)),
                Cell(step.words),
                grams(step.grams),
                grams(total_g),
                Cell("weigh it") if is_crystal(row) else volume_mL(poured),
                Cell(""),
            )
        )
    volume = dossier.assessment.estimates["volume"]
    foot = (
        Cell(""),
        Cell(""),
        Cell("total"),
        grams(weighing.total_g),
        grams(total_g),
        volume_mL(volume),
        Cell(""),
    )
    note = f"Tare the vessel. {ORDER_RULE}"
    return Table("weighing", "Weigh", columns, tuple(rows), foot, note)
