"""The person's own materials: new ones, corrections from a data sheet, sub-blends, bought bases.

One table (CSV or XLSX), one fact a row: `material, property, value` and, where they say something,
`unit, temperature_C, uncertainty, source, lot, date, note`. Besides the properties of the
catalogue (boiling_point, melting_point, flash_point, heat_of_fusion, density, vapour_pressure,
lower_flammable_limit) a fact may be

    cas, formula, smiles, synonym, state     who it is
    solubility                               of a crystal (`own_solubility`)
    constituent                              value = % by mass, note = which material
    formula_file                             value = a formula file that it is made by
    solvent, solids_pct                      a base of undisclosed composition: what it is in

Facts about a material that the catalogue has win over the catalogue's, whatever they call it: by a
name, a CAS number or a structure of its. A base of undisclosed
composition is known by its density and flash point only; wherever composition matters the answer
is unknown or bounded on the cautious side.
"""

from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from blendwright.catalogue import Catalogue, Constituent, Datum, Material, Source
from blendwright.catalogue.loader import UNITS, si_value, usual_unit
from blendwright.catalogue.material import OWN, Kind
from blendwright.catalogue.names import cas_check_digit_is_right, normalise
from blendwright.errors import (
    AmbiguousMaterialError,
    BlendwrightError,
    FormulaError,
    Problem,
    UnknownMaterialError,
)
from blendwright.estimate import to_kelvin
from blendwright.formula.numbers import number_between, parse_number, why_no_number
from blendwright.formula.table_files import table_cells
from blendwright.pure.boiling_point import boiling_point
from blendwright.questions.materials.own_fact import OwnFact
from blendwright.questions.materials.own_solubility import SOLUBILITY, with_solubilities

COLUMNS = (
    "material", "property", "value", "unit", "temperature_C", "uncertainty", "source", "lot",
    "date", "note",
)  # fmt: skip
IDENTITY = ("cas", "formula", "smiles", "synonym", "state")
COMPOSITION = ("constituent", "formula_file", "solvent", "solids_pct")
SUM_RANGE_PCT = (95.0, 102.0)


def read_own_materials(path: str | Path, catalogue: Catalogue) -> Catalogue:
    """Read the person's own materials over a catalogue.

    Parameters
    ----------
    path : str or Path
        A table of materials, a row each.
    catalogue : Catalogue
        What they are laid over.

    Returns
    -------
    Catalogue
        With the own materials; facts about a material that the catalogue has win over the
        catalogue's.

    Raises
    ------
    FormulaError
        With every problem, row and column, of a table that can't be used.
    """
    path = Path(path)
    facts = _facts(path)
    problems: list[Problem] = []
    made: list[Material] = []
    overlay = catalogue
    for name, rows in _by_identity(facts, catalogue, problems).items():
        material = _material(name, rows, overlay, path.parent, problems)
        if material is not None:
            made.append(material)
            overlay = catalogue.extended(made, _sources(facts), _digest(path))
    if problems:
        raise FormulaError(path.name, problems)
    return overlay


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()[:8]


def _sources(facts: Sequence[OwnFact]) -> dict[str, Source]:
    return {
        fact.provenance: Source(
            fact.provenance, "yours", "", fact.date, "the person's own value", fact.source, "",
            fact.note,
        )
        for fact in facts
    }  # fmt: skip


def _facts(path: Path) -> list[OwnFact]:
    cells = table_cells(path)
    header: list[str] | None = None
    facts: list[OwnFact] = []
    for line, values in cells:
        if not any(values) or values[0].startswith("#"):
            continue
        if header is None:
            header = [value.strip() for value in values]
            missing = [c for c in ("material", "property", "value") if c not in header]
            if missing:
                text = f"the header must name material, property and value; {missing[0]} is missing"
                raise FormulaError(path.name, [Problem(text, line)])
            continue
        row = dict(zip(header, values, strict=False))
        if row.get("material"):
            facts.append(_fact(row, line))
    if not facts:
        raise FormulaError(path.name, [Problem("the table holds no facts")])
    return facts


def _fact(row: Mapping[str, str], line: int) -> OwnFact:
    def cell(column: str) -> str:
        return row.get(column, "").strip()

    return OwnFact(
        cell("material"), cell("property"), cell("value"), cell("unit"), cell("temperature_C"),
        cell("uncertainty"), cell("source"), cell("lot"), cell("date"), cell("note"), line,
    )  # fmt: skip


def _by_identity(
    facts: Sequence[OwnFact], catalogue: Catalogue, problems: list[Problem]
) -> dict[str, list[OwnFact]]:
    """The facts of each substance together: a record's own name, or else the first name given."""
    groups: dict[str, list[OwnFact]] = {}
    numbers: dict[str, str] = {}  # CAS number of a new material -> its name here
    for name in dict.fromkeys(fact.material for fact in facts):
        rows = [fact for fact in facts if fact.material == name]
        target = name
        if not any(fact.what in COMPOSITION for fact in rows):
            try:
                record = _record(name, rows, catalogue, problems)
            except BlendwrightError as error:
                problems.append(Problem(str(error), rows[0].line, "material"))
                continue
            cas = next((fact.value for fact in rows if fact.what == "cas"), "")
            target = record.name if record else numbers.setdefault(cas or name, name)
        groups.setdefault(target, []).extend(rows)
    return groups


def _record(
    name: str, facts: Sequence[OwnFact], catalogue: Catalogue, problems: list[Problem]
) -> Material | None:
    """The catalogue's record of what the rows speak of; None for a new material.

    Raises AmbiguousMaterialError, unless a CAS number or structure tells which one.
    """
    told = {fact.what: fact for fact in facts if fact.what in ("cas", "smiles")}
    by_number = {what: _found(fact.value, catalogue) for what, fact in told.items()}
    found = next((record for record in by_number.values() if record), None)
    try:
        by_name: Material | None = catalogue.find(name)
    except AmbiguousMaterialError:
        if found is None:
            raise
        by_name = None
    except UnknownMaterialError:
        by_name = None if told else _from_library_names(name, catalogue)
    for what, fact in told.items():
        record = by_number[what]
        if by_name is not None and (record is None or record.name != by_name.name):
            problems.append(
                Problem(
                    f"{name!r} is {by_name.name}, but {fact.value!r} is "
                    f"{record.name if record else 'not'}; correct one of them",
                    fact.line,
                    "value",
                )
            )
    return by_name or found


def _found(number: str, catalogue: Catalogue) -> Material | None:
    try:
        return catalogue.find(number)
    except BlendwrightError:
        return None


def _from_library_names(name: str, catalogue: Catalogue) -> Material | None:
    """The record that one of the library's names stands for ("vaniline")."""
    from blendwright.catalogue.beyond import names_a_substance
    from blendwright.mixture.weighing import resolve

    try:
        found = resolve(name, catalogue) if names_a_substance(name) else None
    except BlendwrightError:
        return None
    return found if found is not None and found.curated else None


def _material(
    name: str,
    facts: Sequence[OwnFact],
    catalogue: Catalogue,
    folder: Path,
    problems: list[Problem],
) -> Material | None:
    """A record with the person's values over it, or a new material by this name."""
    before = len(problems)
    data = [
        datum
        for fact in facts
        if fact.what not in (*IDENTITY, *COMPOSITION, SOLUBILITY)
        for datum in [_datum(fact, problems)]
        if datum is not None
    ]
    composition = [fact for fact in facts if fact.what in COMPOSITION]
    constituents = _constituents(composition, catalogue, folder, problems)
    if len(problems) > before:
        return None
    if name in catalogue.names() and not composition:
        material: Material | None = _corrected(catalogue.material(name), facts, data)
    else:
        material = _new(name, facts, data, constituents, problems)
    if len(problems) > before or material is None:
        return None
    solubilities = [fact for fact in facts if fact.what == SOLUBILITY]
    material = with_solubilities(material, solubilities, catalogue, problems)
    problems.extend(
        Problem(text, facts[0].line, "material")
        for text in _own_checks(material, bool(composition))
    )
    return material if len(problems) == before else None


def _own_checks(material: Material, is_blend: bool) -> list[str]:
    if is_blend or material.kind != "substance" or not material.formula:
        return []
    from blendwright.pure.consistency import inconsistencies

    yours = [d for d in material.data if d.source.startswith(OWN)]
    bad = inconsistencies(material)
    return [
        f"{material.name}: {text}; check your values"
        for text in bad
        if yours and ("not below" in text or "declared" in text or "density" in text)
    ]


def _datum(fact: OwnFact, problems: list[Problem]) -> Datum | None:
    if fact.what not in UNITS:
        known = ", ".join((*UNITS, SOLUBILITY, *IDENTITY, *COMPOSITION))
        problems.append(
            Problem(f"unknown property {fact.what!r}; known: {known}", fact.line, "property")
        )
        return None
    value = parse_number(fact.value)
    if value is None:
        problems.append(Problem(why_no_number(fact.value), fact.line, "value"))
        return None
    try:
        si = si_value(fact.what, value, fact.unit or usual_unit(fact.what))
    except ValueError as error:
        problems.append(
            Problem(str(error), fact.line, "unit" if "stands in" in str(error) else "value")
        )
        return None
    temperature = parse_number(fact.temperature_C) if fact.temperature_C else None
    if fact.temperature_C and temperature is None:
        problems.append(Problem(why_no_number(fact.temperature_C), fact.line, "temperature_C"))
        return None
    if temperature is None and fact.what in ("density", "vapour_pressure"):
        if fact.what == "vapour_pressure":
            problems.append(Problem("needs a temperature", fact.line, "temperature_C"))
            return None
        temperature = 20.0
    uncertainty = parse_number(fact.uncertainty) if fact.uncertainty else None
    if fact.uncertainty and uncertainty is None:
        problems.append(Problem(why_no_number(fact.uncertainty), fact.line, "uncertainty"))
        return None
    return Datum(
        property=fact.what,
        value=si,
        temperature_K=to_kelvin(temperature) if temperature is not None else None,
        uncertainty=uncertainty,
        method="measured",
        source=fact.provenance,
        rejected="",
        note=fact.note,
    )


def _corrected(known: Material, facts: Sequence[OwnFact], data: Sequence[Datum]) -> Material:
    """Yours win: the catalogue's values of the same properties are set aside, and say so.

    The names that you use for it are kept beside its own.
    """
    touched = {datum.property for datum in data}
    state = next((fact.value for fact in facts if fact.what == "state"), known.state_20C)
    names = [fact.value for fact in facts if fact.what == "synonym"]
    names += [fact.material for fact in facts]
    mine = {normalise(name) for name in (known.name, *known.names)}
    fresh = {normalise(name): name for name in names if normalise(name) not in mine}
    return replace(
        known,
        names=(*known.names, *fresh.values()),
        state_20C="solid" if state == "solid" else "liquid",
        data=(
            *(
                replace(d, rejected="yours wins") if d.property in touched and not d.rejected else d
                for d in known.data
            ),
            *data,
        ),
        curves=tuple(
            replace(c, rejected="yours wins") if c.property in touched and not c.rejected else c
            for c in known.curves
        ),
    )


def _constituents(
    facts: Sequence[OwnFact], catalogue: Catalogue, folder: Path, problems: list[Problem]
) -> list[Constituent]:
    parts: list[Constituent] = []
    for fact in facts:
        if fact.what == "formula_file":
            parts.extend(_from_formula(fact, catalogue, folder, problems))
        elif fact.what == "constituent":
            share = number_between(fact.value, 0.0, 100.0)
            if not share:
                problems.append(Problem(f"{fact.value!r} is not a % by mass", fact.line, "value"))
                continue
            try:
                inner = catalogue.find(fact.note)
            except BlendwrightError as error:
                problems.append(Problem(str(error), fact.line, "note"))
                continue
            fraction = share / 100.0
            parts.append(Constituent(inner.name, fraction, fraction, fraction, fact.provenance))
    return parts


def _from_formula(
    fact: OwnFact, catalogue: Catalogue, folder: Path, problems: list[Problem]
) -> list[Constituent]:
    from blendwright.formula import read_formula
    from blendwright.mixture.weighing import weigh

    try:
        blend = weigh(read_formula(folder / fact.value), catalogue).composition
    except FormulaError as error:
        problems.append(Problem(f"{fact.value}: {error.problems[0]}", fact.line, "value"))
        return []
    return [
        Constituent(name, float(share), float(share), float(share), fact.provenance)
        for name, share in zip(blend.names, blend.mass_fractions, strict=True)
    ]


def _new(
    name: str,
    facts: Sequence[OwnFact],
    data: Sequence[Datum],
    constituents: Sequence[Constituent],
    problems: list[Problem],
) -> Material | None:
    said: Mapping[str, OwnFact] = {fact.what: fact for fact in facts}
    synonyms = tuple(fact.value for fact in facts if fact.what == "synonym")
    cas = said["cas"].value if "cas" in said else ""
    if cas and not cas_check_digit_is_right(cas):
        problems.append(
            Problem(
                f"{cas!r} is not a CAS number: its check digit is wrong", said["cas"].line, "value"
            )
        )
        return None
    state = said["state"].value if "state" in said else "liquid"
    if state not in ("solid", "liquid"):
        problems.append(
            Problem(f"{state!r} is neither solid nor liquid", said["state"].line, "value")
        )
        return None
    if constituents:
        total = 100.0 * sum(part.typical for part in constituents)
        if not SUM_RANGE_PCT[0] <= total <= SUM_RANGE_PCT[1]:
            problems.append(
                Problem(
                    f"the constituents of {name} add up to {total:.1f} %, not 95 to 102",
                    facts[0].line,
                    "value",
                )
            )
            return None
    kind: Kind = "mixture" if constituents else "substance"
    base = Material(
        name=name,
        kind=kind,
        cas=cas,
        formula=said["formula"].value if "formula" in said else "",
        smiles=said["smiles"].value if "smiles" in said else "",
        inchikey="",
        state_20C="solid" if state == "solid" else "liquid",
        fema="",
        names=synonyms,
        note="yours",
        family="yours",
        data=tuple(data),
        constituents=tuple(constituents),
    )
    if constituents:
        return base
    if base.smiles:
        from blendwright.pure.structure import material_from_smiles

        estimated = material_from_smiles(base.smiles, name, boiling_point(base).value)
        touched = {datum.property for datum in data}
        return replace(
            estimated, cas=cas, names=synonyms, family="yours", note="yours, the rest estimated",
            state_20C=base.state_20C,
            data=(*data, *(d for d in estimated.data if d.property not in touched)),
        )  # fmt: skip
    return _undisclosed(base, said, problems)


def _undisclosed(
    base: Material, said: Mapping[str, OwnFact], problems: list[Problem]
) -> Material | None:
    """A bought base known by its data sheet: density and flash point, no composition."""
    if base.formula:
        return base
    have = {datum.property for datum in base.data}
    for needed in ("density", "flash_point"):
        if needed not in have:
            first = next(iter(said.values()))
            problems.append(
                Problem(
                    f"{base.name} is not in the catalogue and has neither constituents, a formula "
                    f"nor a structure; a base of undisclosed composition needs its {needed}",
                    first.line,
                    "property",
                    instead=(needed,),
                )
            )
            return None
    solvent = said["solvent"].value if "solvent" in said else "not said"
    solids = said["solids_pct"].value if "solids_pct" in said else "not said"
    return replace(
        base, note=f"yours: undisclosed composition; solvent {solvent}, solids {solids} %"
    )


QUESTIONS = (
    ("density", "density, g/mL at 20 °C"),
    ("flash_point", "closed-cup flash point, °C"),
    ("boiling_point", "boiling point, °C"),
    ("melting_point", "melting point, °C"),
    ("cas", "CAS number"),
    ("smiles", "structure (SMILES)"),
    ("solvent", "if a bought base: what it is dissolved in"),
)


def ask_facts(ask: Callable[[str], str]) -> list[dict[str, str]]:
    """Ask for a material's facts, one question each; an empty answer leaves it out."""
    name = ask("name of the material").strip()
    if not name:
        return []
    sheet = ask("data sheet or supplier (source)").strip()
    lot = ask("lot").strip()
    rows = []
    for fact, question in QUESTIONS:
        value = ask(f"{question} (empty: unknown)").strip()
        if value:
            rows.append(
                {"material": name, "property": fact, "value": value, "source": sheet, "lot": lot}
            )
    parts = ask("constituents, as 'ethanol 90; water 10' in % by mass (empty: none)").strip()
    for part in filter(None, (text.strip() for text in parts.split(";"))):
        inner, _, share = part.rpartition(" ")
        rows.append(
            {
                "material": name, "property": "constituent", "value": share, "note": inner,
                "source": sheet, "lot": lot,
            }
        )  # fmt: skip
    return rows


def table_text(rows: Sequence[Mapping[str, str]]) -> str:
    """Facts as a CSV table in the form that `read_own_materials` reads."""
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, lineterminator="\n", extrasaction="ignore")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()
