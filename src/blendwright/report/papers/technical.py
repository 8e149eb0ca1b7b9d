"""The technical sheet: every number with its interval, method and sources, and what was assumed."""

from __future__ import annotations

from collections.abc import Iterator

from blendwright.estimate import Estimate, per_cent, to_celsius
from blendwright.mixture.dissolution import MOST_TO_REST
from blendwright.report.assessment import answer_lines
from blendwright.report.papers.contents import (
    Block,
    Cell,
    Column,
    PaperSheet,
    Picture,
    PlainAnswers,
    Sentence,
    Sentences,
    Table,
    estimate_ends,
    estimate_value,
    finding_sentences,
    grams,
    percent,
    plain_sentences,
    quantity,
    volume_mL,
)
from blendwright.report.papers.dossier import Dossier
from blendwright.report.papers.shared_blocks import facts_of, foot_of, read_of
from blendwright.report.terminal import LABELS, most_dissolved_cell
from blendwright.report.warming import verdict_sentence
from blendwright.verdict.as_read import besides
from blendwright.verdict.flammability import ASK

UPPER_LIMIT = "Upper flammable limit"


def technical_sheet(dossier: Dossier, drawn: tuple[Picture | Sentences, ...] = ()) -> PaperSheet:
    """The technical sheet; what is `drawn` (or said in its place) comes after the rows."""
    assessment = dossier.assessment
    findings = besides(assessment.findings, assessment.weighing.formula.notices)
    blocks: list[Block | None] = [
        *read_of(dossier),
        PlainAnswers("verdicts", tuple(answer_lines(assessment))),
        _numbers(dossier),
        _measured(dossier),
        _classes(dossier),
        _rows(dossier),
        _solids(dossier),
        *drawn,
        _layers(dossier),
        _warming(dossier),
        Sentences("findings", "Findings", finding_sentences(findings)),
        _left_out(dossier),
        Sentences("assumptions", "Assumed", tuple(_assumptions(dossier))),
        _sources(dossier),
        Sentences("cautions", "Cautions", plain_sentences(assessment.cautions), small=True),
    ]
    facts = (
        ("batch", quantity(assessment.weighing.total_g, "g")),
        *facts_of(dossier),
        ("blendwright", Cell(f"{assessment.version}, data {assessment.data_version}")),
        ("formula, sha256", Cell(dossier.formula_sha256)),
    )
    kept = tuple(block for block in blocks if block is not None)
    return PaperSheet("technical", "Technical sheet", dossier.name, facts, kept, foot_of(dossier))


def all_estimates(dossier: Dossier) -> dict[str, Estimate]:
    """The assessment's estimates by their labels, and the upper flammable limit."""
    found = {LABELS[name]: e for name, e in dossier.assessment.estimates.items()}
    return {**found, UPPER_LIMIT: dossier.upper_limit}


def _numbers(dossier: Dossier) -> Table:
    columns = (
        Column(""),
        Column("value", "numbers"),
        Column("low", "numbers"),
        Column("high", "numbers"),
        Column("method and notes"),
    )
    rows = []
    for label, estimate in all_estimates(dossier).items():
        method = "" if estimate.method == "none" else estimate.method
        notes = "; ".join(part for part in (method, *estimate.notes) if part)
        rows.append((Cell(label), estimate_value(estimate), *estimate_ends(estimate), Cell(notes)))
    note = "low and high are the ends of the 90 % interval; the sources stand at the end."
    return Table("numbers", "Numbers, estimated", columns, tuple(rows), note=note)


def _measured(dossier: Dossier) -> Table | None:
    if not dossier.measured:
        return None
    rows = tuple((Cell(m.property), Cell(m.text)) for m in dossier.measured)
    return Table("measured", "Measured (yours)", (Column(""), Column("as written")), rows)


def _classes(dossier: Dossier) -> Table:
    columns = (
        Column("scheme"), Column("treat as"), Column("how sure"), Column("why"),
        Column("text"),
    )  # fmt: skip
    rows = tuple(
        (
            Cell(c.title),
            Cell(c.words()),
            Cell("" if c.category == "unknown" else c.evidence(short=not c.model_category)),
            Cell("; ".join(c.reasons)),
            Cell(f"{c.edition}, {c.clause}"),
        )
        for c in dossier.assessment.classings
    )
    return Table("classes", "Classes", columns, rows, note=f"The texts name tests: {ASK}")


def _rows(dossier: Dossier) -> Table:
    assessment = dossier.assessment
    total_g = assessment.weighing.total_g
    here = f"{to_celsius(assessment.temperature_K):.0f} °C"
    columns = (
        Column("material"),
        Column("written, CAS"),
        Column("g", "numbers"),
        Column("mass %", "numbers"),
        Column(f"mL at {here}", "numbers"),
        Column("low", "numbers"),
        Column("high", "numbers"),
        Column("vapour %", "numbers"),
        Column("flash %", "numbers"),
    )
    rows = []
    for row, volume, share in zip(
        assessment.weighing.rows, assessment.row_volumes, assessment.contributions, strict=True
    ):
        shown = volume.in_display_units()
        ends = shown.interval()[1:] if shown.is_ok else ()
        also = [row.material.cas] if row.material.cas else []
        if row.written != row.label:
            also.insert(0, row.written)
        rows.append(
            (
                Cell(row.label),
                Cell(", ".join(also)),
                grams(row.grams),
                percent(row.grams / total_g * 100.0, 2),
                volume_mL(volume),
                *([Cell(f"{end:.3f}", end) for end in ends] or [Cell(""), Cell("")]),
                percent(share.vapour_pct),
                percent(share.flammability_pct),
            )
        )
    whole = assessment.estimates["volume"]
    foot = (
        Cell("total"), Cell(""), grams(total_g), percent(100.0, 2), volume_mL(whole),
        *estimate_ends(whole), Cell(""), Cell(""),
    )  # fmt: skip
    note = (
        "vapour %: the row's share of the vapour over the blend; flash %: of what makes it flash. "
        f"Rows' volumes are those before mixing, all at {here}."
    )
    return Table("rows", "Rows", columns, tuple(rows), foot, note)


def _solids(dossier: Dossier) -> Table | None:
    solids = dossier.assessment.solids
    if not solids:
        return None
    columns = (
        Column("crystals"),
        Column("g", "numbers"),
        Column("dissolved above", "numbers"),
        Column("low", "numbers"),
        Column("high", "numbers"),
        Column("most at 20 °C", "numbers"),
        Column("most at 5 °C", "numbers"),
        Column("undissolved here, g", "numbers"),
        Column("at 4 °C, g", "numbers"),
        Column("at -18 °C, g", "numbers"),
    )
    rows = tuple(
        (
            Cell(s.material),
            grams(s.mass_kg * 1e3),
            estimate_value(s.dissolves),
            *estimate_ends(s.dissolves),
            _most(s.most_20C),
            _most(s.most_5C),
            grams(s.undissolved_here_g),
            grams(s.back_4C_g),
            grams(s.back_minus18C_g),
        )
        for s in solids
    )
    note = (
        "most: what stays dissolved, at most; any: more than "
        f"{MOST_TO_REST:g} times what all the rest weighs."
    )
    return Table("solids", "Crystals", columns, rows, note=note)


def _most(estimate: Estimate) -> Cell:
    return estimate_value(estimate) if estimate.is_ok else Cell(most_dissolved_cell(estimate))


def _layers(dossier: Dossier) -> Table | None:
    assessment = dossier.assessment
    if not assessment.layers:
        return None
    columns = (
        Column("layer"), Column("mass %", "numbers"), Column("g/mL", "numbers"), Column("holds"),
    )  # fmt: skip
    rows = tuple(
        (
            Cell(layer.place),
            percent(layer.share * 100.0),
            Cell("?")
            if layer.density_kg_m3 is None
            else Cell(f"{layer.density_kg_m3 / 1e3:.3f}", layer.density_kg_m3 / 1e3),
            Cell(
                ", ".join(
                    f"{name} {per_cent(share, 1)}"
                    for name, share in sorted(layer.holds, key=lambda held: -held[1])
                    if share >= 1e-3
                )
            ),
        )
        for layer in assessment.layers
    )
    chance = assessment.chance_of_layers
    note = "" if chance is None else f"Chance that it parts: {per_cent(chance)}."
    return Table("layers", "Layers, if it parts", columns, rows, note=note)


def _warming(dossier: Dossier) -> Sentences | None:
    warming = dossier.warming
    if warming is None:
        return None
    window = Sentence(verdict_sentence(warming))
    notes = plain_sentences(warming.notes)
    return Sentences("warming", "Warming", (window, *finding_sentences(warming.findings), *notes))


def _left_out(dossier: Dossier) -> Table | None:
    left_out = dossier.assessment.left_out
    if not left_out:
        return None
    columns = Column("left out"), Column("from"), Column("why")
    rows = tuple((Cell(o.material), Cell(o.left_from), Cell(o.why)) for o in left_out)
    return Table("left out", "Left out", columns, rows)


def _assumptions(dossier: Dossier) -> Iterator[Sentence]:
    """What was taken for granted, of this formula and of every one."""
    weighing = dossier.assessment.weighing
    yield Sentence(
        "One liquid at rest, at one temperature and ambient pressure; natural oils by a typical "
        "composition; no reactions, electrolytes or emulsions."
    )
    yield Sentence("Volumes and density are those of one homogeneous liquid, crystals dissolved.")
    yield Sentence("An interval holds the true value nine times in ten, if the models' errors are "
                   "those seen against published measurements.")  # fmt: skip
    for row in weighing.rows:
        if row.strength is not None and row.carrier is not None:
            basis = "volume" if row.strength.basis == "vol" else "mass"
            yield Sentence(
                f"{row.material.name}: {row.strength.percent:g} % by {basis}, the rest "
                f"{row.carrier.name}."
            )
        if row.material.kind == "natural_oil":
            yield Sentence(f"{row.material.name}: {len(row.substances)} constituents stand for it.")
        if row.material.is_undisclosed:
            yield Sentence(f"{row.material.name}: undisclosed composition.")
    for step in dossier.steps:
        if step.makes_up:
            yield Sentence(f"{step.material} makes up to {weighing.total_g:g} g.")
    if weighing.summed:
        yield Sentence(f"Rows of one material were added up: {', '.join(weighing.summed)}.")
    if any(row.amount.unit == "drops" for row in weighing.formula.rows):
        yield Sentence(f"A drop is {dossier.drop_mL:g} mL.")


def _sources(dossier: Dossier) -> Table:
    """Every source with what leans on it; a source that is no key stands in its own words."""
    used: dict[str, list[str]] = {}
    for label, estimate in all_estimates(dossier).items():
        for key in estimate.sources:
            used.setdefault(key, []).append(label.casefold())
    for volume in dossier.assessment.row_volumes:
        for key in volume.sources:
            uses = used.setdefault(key, [])
            if "rows' volumes" not in uses:
                uses.append("rows' volumes")
    for solid in dossier.assessment.solids:
        for estimate in (solid.dissolves, solid.most_20C, solid.most_5C):
            for key in estimate.sources:
                uses = used.setdefault(key, [])
                if "crystals" not in uses:
                    uses.append("crystals")
    columns = Column("source"), Column("reference"), Column("used for")
    rows = []
    for key in sorted(used):
        source = dossier.sources.get(key)
        words = key if source is None else source.citation()
        if source is not None and source.note:
            words = f"{words}; {source.note}"
        rows.append((Cell(key if source else ""), Cell(words), Cell(", ".join(used[key]))))
    return Table("sources", "Sources", columns, tuple(rows))
