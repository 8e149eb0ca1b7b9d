"""From what the person wrote to grams of each material, and on to the blend's composition.

Names are resolved, strengths opened (a dilution into active and carrier, ethanol of a given
strength into ethanol and water; where an unknown name tells them plainly, too), millilitres and
drops turned to grams through the row's own density, rows of one material summed, and "to weight"
made up to the batch.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from blendwright.catalogue import Catalogue, Material
from blendwright.catalogue.isomers import agreement
from blendwright.catalogue.library_names import Known
from blendwright.catalogue.name_parts import structure_of_name, trade_structure
from blendwright.catalogue.names import is_prefixed_isomer, spellings, without_isomer
from blendwright.catalogue.smiles import read_smiles
from blendwright.errors import (
    AmbiguousMaterialError,
    BlendwrightError,
    FormulaError,
    OutsideScopeError,
    Problem,
    StructureError,
    UnknownMaterialError,
)
from blendwright.estimate import Estimate
from blendwright.formula import Formula, Row, Strength
from blendwright.formula.conditions import BENCH_K
from blendwright.formula.dilution_names import (
    COLUMNS_FOR_IT,
    DilutionName,
    carrier_hinted_at,
    dilution_in_name,
    has_a_strength,
)
from blendwright.formula.notices import Notice, without_twins
from blendwright.mixture.composition import Composition, compose, substances_of
from blendwright.mixture.density import material_density
from blendwright.pure.density import liquid_density
from blendwright.pure.evidence import with_structure
from blendwright.pure.roots import Array, Ints, roots_between

DEFAULT_CARRIER = "propylene glycol"
AQUEOUS = ("ethanol", "isopropanol", "1-propanol", "glycerol", "acetic acid")
CARRIERS = ("ethanol", "benzyl alcohol")  # besides the family of that name
DROP_mL = 0.05  # common practice, no source: about 20 drops a millilitre
SHARE_TOLERANCE = 1e-14  # of a mass share


@dataclass(frozen=True)
class WeighedRow:
    """One row in grams: the material, and the substances it brings as mass fractions."""

    written: str
    material: Material
    strength: Strength | None
    carrier: Material | None
    grams: float
    substances: tuple[tuple[Material, float], ...]
    role: str
    note: str
    lines: tuple[int, ...]

    @property
    def label(self) -> str:
        """The row's name as shown: with its strength, if it has one."""
        if self.strength is None:
            return self.material.name
        basis = " vol" if self.strength.basis == "vol" else ""
        within = f" in {self.carrier.name}" if self.carrier else ""
        return f"{self.material.name} {self.strength.percent:g} %{basis}{within}"

    @property
    def active_fraction(self) -> float:
        """Share of the row's mass that is the material itself, not the carrier of its dilution."""
        if self.strength is None:
            return 1.0
        if self.strength.basis == "mass" or self.strength.percent >= 100.0:
            return self.strength.percent / 100.0
        return 1.0 - sum(share for part, share in self.substances if part.is_water)

    @property
    def oil_substances(self) -> frozenset[str]:
        """Names of what a natural oil brings itself, without its carrier; none for other rows."""
        if self.material.kind != "natural_oil":
            return frozenset()
        names = frozenset(substance.name for substance, _ in self.substances)
        if self.carrier is None:
            return names
        carried = {part.material for part in self.carrier.constituents} or {self.carrier.name}
        return names - (carried - {part.material for part in self.material.constituents})

    def density(self, temperature_K: float = BENCH_K) -> Estimate:
        """Density of the row as it is poured: an oil's own published density before its
        constituents'."""
        if self.strength is None and self.material.accepted("density"):
            return liquid_density(self.material, temperature_K)
        return material_density(list(self.substances), temperature_K)


@dataclass(frozen=True)
class Weighing:
    """All rows in grams, what was summed, and the composition."""

    formula: Formula
    rows: tuple[WeighedRow, ...]
    composition: Composition
    summed: tuple[str, ...]

    @property
    def total_g(self) -> float:
        return sum(row.grams for row in self.rows)

    def times_rows(self, factors: Sequence[float]) -> Weighing:
        """The blend with each row's grams multiplied; a row that comes to nothing goes."""
        kept = [number for number, factor in enumerate(factors) if factor > 0.0]
        whole = self.composition
        by_row = np.array([whole.by_row[number] * factors[number] for number in kept])
        present = by_row.sum(axis=0) > 0.0
        substances = tuple(s for s, here in zip(whole.substances, present, strict=True) if here)
        return Weighing(
            self.formula,
            tuple(_with_grams(self.rows[n], self.rows[n].grams * factors[n]) for n in kept),
            Composition(substances, by_row[:, present], whole.liquid_as_sold),
            self.summed,
        )


def resolve(name: str, catalogue: Catalogue) -> Material:
    """The one record of a substance, whatever name, number or structure it was asked by.

    Tried in this order: the catalogue, by name, number or structure; the library, whose substance
    is the catalogue's record wherever its CAS number, InChIKey or structure is there, and is taken
    uncurated elsewhere; the name without its stereo marks, with a note; a SMILES, or the structure
    that a name spells out (with the extra `structures`). What was asked before doesn't count.
    Raises UnknownMaterialError with suggestions, OutsideScopeError for what can't be calculated
    here, AmbiguousMaterialError, or MissingExtraError for a new SMILES without the extra.
    """
    from blendwright.catalogue.beyond import known_beyond, known_beyond_loosely

    try:
        return catalogue.find(name)
    except OutsideScopeError:
        raise
    except UnknownMaterialError as error:
        unknown = error
    spelled = trade_structure(name)
    if spelled is not None:
        return _named_as_written(from_structure(spelled, catalogue), name, spelled)
    for spelling in spellings(name):
        found = _of_the_library(known_beyond(spelling), name, catalogue)
        if found is not None:
            return found
    plain = without_isomer(name)
    if plain is not None:
        found = _without_isomer(plain, name, catalogue)
        if found is not None:
            return found
    if _is_smiles(name):
        return from_structure(name, catalogue)
    spelled = structure_of_name(name)
    if spelled is not None:
        return _named_as_written(from_structure(spelled, catalogue), name, spelled)
    if not catalogue.index.has_near_miss(name):
        loose = known_beyond_loosely(spellings(name)[-1])
        found = _of_the_library(loose, name, catalogue)
        if found is not None:
            return found
    raise unknown


def _is_smiles(text: str) -> bool:
    try:
        read_smiles(text)
    except StructureError:
        return False
    return True


def _of_the_library(known: Known | None, written: str, catalogue: Catalogue) -> Material | None:
    """The catalogue's record of a substance of the library, or else the library's own values.

    None without one, and where the library's names mistake an isomer for one of our records.
    Raises OutsideScopeError for what can't be calculated here.
    """
    from blendwright.catalogue.beyond import library_material, shown_names

    if known is None:
        return None
    record = catalogue.same_substance(known, written)
    if record is not None:
        if is_prefixed_isomer(written, record.name) or not (
            record.cas == known.cas or catalogue.covers_isomer(record, written)
        ):
            return None
        return record if without_isomer(written) is None else catalogue.noted(record, written)
    catalogue.outside.refuse_known(written, known)
    names = (name for name in shown_names(known) if not catalogue.index.has(name))
    found = library_material(known.cas, next(names, known.cas))
    return None if found is None else with_structure(found)


def _without_isomer(plain: str, written: str, catalogue: Catalogue) -> Material | None:
    """A material by its name without stereo marks, unless it is drawn as another isomer."""
    from blendwright.catalogue.beyond import known_beyond

    try:
        found = catalogue.find(plain)
    except OutsideScopeError:
        raise
    except UnknownMaterialError:
        return _of_the_library(known_beyond(plain), written, catalogue)
    return catalogue.noted(found, written) if catalogue.covers_isomer(found, written) else None


def _named_as_written(found: Material, written: str, smiles: str) -> Material:
    """A record of ours as it is; a substance of the library or of its structure by the name that
    spelled out its structure, with a note of it."""
    if found.curated:
        return found
    note = f"structure as its name spells it out: {smiles}"
    return replace(found, name=written, note="; ".join(filter(None, (found.note, note))))


def from_structure(smiles: str, catalogue: Catalogue) -> Material:
    """A material from its structure alone: known by it, or else estimated from it.

    Raises StructureError for a structure that can't be read, AmbiguousMaterialError,
    OutsideScopeError, or, beyond the catalogue, MissingExtraError without the extra `structures`.
    """
    from blendwright.catalogue.beyond import known_beyond
    from blendwright.pure.structure import identity, material_from_smiles

    structure = read_smiles(smiles)
    record = catalogue.by_structure(structure, smiles)
    if record is not None:
        return record
    catalogue.outside.refuse(smiles, structure=structure)
    known = known_beyond(f"InChIKey={identity(smiles)}")
    found = _of_the_library(known, smiles, catalogue)
    return material_from_smiles(smiles) if found is None else found


def weigh(formula: Formula, catalogue: Catalogue, drop_mL: float = DROP_mL) -> Weighing:
    """Resolve a formula: what each row is, its grams, and what it is made of.

    Parameters
    ----------
    formula : Formula
    catalogue : Catalogue
    drop_mL : float
        What a row in drops is taken for, mL a drop.

    Returns
    -------
    Weighing

    Raises
    ------
    FormulaError
        With every problem of every row.
    """
    problems: list[Problem] = []
    opened = [(row, open_row(row, catalogue, drop_mL, problems)) for row in formula.rows]
    return made_up(formula, opened, problems)


def made_up(
    formula: Formula, opened: Sequence[tuple[Row, WeighedRow | None]], problems: list[Problem]
) -> Weighing:
    """Opened rows made up to weight, twins summed. Raises FormulaError with all the problems."""
    weighed = [w for row, w in opened if w is not None and row.amount.unit != "to weight"]
    fillers = [(row, w) for row, w in opened if row.amount.unit == "to weight"]
    total = sum(w.grams for w in weighed)
    if len(fillers) > 1:
        lines = ", ".join(str(row.line) for row, _ in fillers)
        problems.append(Problem(f"only one row can be made up to weight; rows {lines} ask for it"))
    elif fillers:
        row, filler = fillers[0]
        if formula.batch_g is None:
            problems.append(
                Problem(
                    "q.s. needs a batch size: a line '# batch 50 g' in the file, or --batch-g 50",
                    row.line,
                    "grams",
                )
            )
        elif total > formula.batch_g:
            problems.append(
                Problem(
                    f"the other rows weigh {total:.4g} g, already more than the batch of "
                    f"{formula.batch_g:g} g",
                    row.line,
                    "grams",
                )
            )
        elif filler is not None:
            weighed.append(_with_grams(filler, formula.batch_g - total))
            total = formula.batch_g
    if not problems and not total > 0.0:
        problems.append(Problem("the rows add up to nothing; give the grams of each material"))
    if problems:
        raise FormulaError(formula.source or formula.name, problems)
    formula = _telling_of_names(formula, opened)
    rows, summed = _sum_twins(weighed)
    rows = [row for row in rows if row.grams > 0.0]
    return Weighing(formula, tuple(rows), compose_rows(rows), tuple(summed))


def telling_of_names(formula: Formula, catalogue: Catalogue) -> Formula:
    """The formula with a notice for each name that is read as a dilution."""
    opened = [
        (row, open_row(row, catalogue, DROP_mL, []))
        for row in formula.rows
        if row.strength is None and dilution_in_name(row.material) is not None
    ]
    return _telling_of_names(formula, opened)


def _telling_of_names(formula: Formula, opened: Sequence[tuple[Row, WeighedRow | None]]) -> Formula:
    notices = without_twins((*formula.notices, *_read_from_names(opened)))
    return formula if notices == formula.notices else replace(formula, notices=notices)


def _read_from_names(opened: Sequence[tuple[Row, WeighedRow | None]]) -> Iterator[Notice]:
    """What is to be told of rows whose name was read as a dilution."""
    for row, weighed in opened:
        if weighed is not None and weighed.strength is not None and row.strength is None:
            yield Notice(
                "STRENGTH-IN-NAME",
                "info",
                f"{row.material!r} is read as {weighed.label}.",
                "If it is something else, give its strength and its carrier in columns of their "
                "own: strength_pct, carrier.",
            )


def compose_rows(rows: Sequence[WeighedRow]) -> Composition:
    """The composition of weighed rows."""
    parts = [
        (substance, row.grams / 1e3 * fraction, number)
        for number, row in enumerate(rows)
        for substance, fraction in row.substances
    ]
    return compose(parts, liquid_as_sold(rows))


def liquid_as_sold(rows: Sequence[WeighedRow]) -> frozenset[str]:
    """Substances that come in liquid mixtures (MCT oil) and in no other row."""
    inside = {
        part.name for row in rows if row.material.kind == "mixture" for part, _ in row.substances
    }
    outside = {
        part.name for row in rows if row.material.kind != "mixture" for part, _ in row.substances
    }
    return frozenset(inside - outside)


def with_name_problems(error: FormulaError, catalogue: Catalogue) -> FormulaError:
    """The error with the unknown names of its unchecked rows added, so all come at once."""
    problems = list(error.problems)
    for name, line in error.unchecked:
        try:
            resolve(name, catalogue)
        except BlendwrightError as unknown:
            if dilution_of(name, catalogue) is None:
                problems.append(Problem(_unknown_words(unknown, name, catalogue), line, "material"))
    return FormulaError(error.source, problems)


def dilution_of(name: str, catalogue: Catalogue) -> DilutionName | None:
    """A name that nothing is known by, taken apart into material, strength and carrier.

    None unless both are known and it plainly says which is in which: behind anything but "in" a
    carrier has to be one that things are usually diluted in, for "orange oil 5 % citral" is no
    orange oil diluted in citral.
    """
    told = dilution_in_name(name)
    if told is None:
        return None
    try:
        resolve(name, catalogue)
    except UnknownMaterialError:
        pass
    except BlendwrightError:
        return None
    else:
        return None
    try:
        resolve(told.name, catalogue)
        carrier = resolve(told.carrier, catalogue)
    except BlendwrightError:
        return None
    return told if told.says_in or _is_usual_carrier(carrier) else None


def _is_usual_carrier(material: Material) -> bool:
    return material.family == "carriers" or material.name in CARRIERS


def _unknown_words(error: BlendwrightError, name: str, catalogue: Catalogue) -> str:
    """The error, with the columns for a dilution where the name seems to be one."""
    seems = has_a_strength(name)
    if not seems and (hinted := carrier_hinted_at(name)):
        try:
            seems = _is_usual_carrier(resolve(hinted, catalogue))
        except BlendwrightError:
            seems = False
    return f"{error}; {COLUMNS_FOR_IT}" if seems else str(error)


def _find(
    name: str, column: str, row: Row, catalogue: Catalogue, problems: list[Problem]
) -> Material | None:
    try:
        return resolve(name, catalogue)
    except BlendwrightError as error:
        problems.append(Problem(str(error), row.line, column))
        return None


def _material_of(row: Row, catalogue: Catalogue, problems: list[Problem]) -> Material | None:
    """The material of a row: by its name, or else by its CAS number, or else by its structure.

    Where a name can mean several materials, a number or structure chooses. A name, a number and
    a structure that tell different substances are a problem of the row.
    """
    try:
        material: Material | None = resolve(row.material, catalogue)
    except AmbiguousMaterialError as error:
        material = _chosen(error, row, catalogue)
        if material is None:
            problems.append(Problem(str(error), row.line, "material"))
            return None
    except UnknownMaterialError as error:
        if not (row.cas or row.smiles):
            words = _unknown_words(error, row.material, catalogue)
            problems.append(Problem(words, row.line, "material"))
            return None
        material = None
    except BlendwrightError as error:
        problems.append(Problem(str(error), row.line, "material"))
        return None
    if material is None:
        return _by_identifier("cas" if row.cas else "smiles", row, catalogue, problems)
    if row.cas and not _has_number(material, row.cas, catalogue):
        problems.append(_contradiction(row, "cas", f"CAS {material.cas}", material))
        return None
    if row.smiles and material.smiles:
        try:
            same = _has_structure(material, row.smiles, catalogue)
        except StructureError as error:
            problems.append(Problem(str(error), row.line, "smiles"))
            return None
        if not same:
            problems.append(_contradiction(row, "smiles", material.smiles, material))
            return None
    return material


def _chosen(error: AmbiguousMaterialError, row: Row, catalogue: Catalogue) -> Material | None:
    """The one of a name's materials that the row's number or structure names; None without."""
    if not (row.cas or row.smiles):
        return None
    found = _by_identifier("cas" if row.cas else "smiles", row, catalogue, [])
    return found if found is not None and found.name in error.choices else None


def _by_identifier(
    column: str, row: Row, catalogue: Catalogue, problems: list[Problem]
) -> Material | None:
    """A row whose name nobody knows, by its number or structure, keeping the name as written."""
    try:
        if column == "cas":
            return resolve(row.cas, catalogue)
        found = from_structure(row.smiles, catalogue)
    except BlendwrightError as error:
        problems.append(Problem(str(error), row.line, column))
        return None
    return found if found.curated else replace(found, name=row.material)


def _has_number(material: Material, cas: str, catalogue: Catalogue) -> bool:
    """Whether a CAS number is this material's, or that of an isomer that it stands for."""
    if not material.cas or spellings(cas)[-1] == material.cas:
        return True
    try:
        return resolve(cas, catalogue).name == material.name
    except AmbiguousMaterialError as error:
        return material.name in error.choices
    except BlendwrightError:
        return False


def _has_structure(material: Material, smiles: str, catalogue: Catalogue) -> bool:
    """Whether a structure is this material's, or an isomer that it stands for.

    Raises StructureError for what can't be read.
    """
    structure, own = read_smiles(smiles), read_smiles(material.smiles)
    found = [agreement(one, own) for one in (structure, structure.mirrored)]
    if any(one is not None and not one.contradicts for one in found):
        return True
    try:
        record = catalogue.by_structure(structure, smiles)
    except AmbiguousMaterialError:
        return False
    return record is not None and record.name == material.name


def _contradiction(row: Row, column: str, own: str, material: Material) -> Problem:
    told = f"CAS {row.cas}" if column == "cas" else row.smiles
    return Problem(
        f"{row.material!r} is {material.name} ({own}), but the row says {told}; correct one of "
        "them",
        row.line,
        column,
    )


def open_row(
    row: Row, catalogue: Catalogue, drop_mL: float, problems: list[Problem]
) -> WeighedRow | None:
    """One row resolved, in grams; None with its problems added where it can't be."""
    written = row.material
    if row.strength is None and not row.carrier:
        told = dilution_of(written, catalogue)
        if told is not None:
            row = replace(row, material=told.name, strength=told.strength, carrier=told.carrier)
    material = _material_of(row, catalogue, problems)
    if material is None:
        return None
    carrier: Material | None = None
    substances: list[tuple[Material, float]] = substances_of(material, catalogue.material)
    if row.strength is not None:
        aqueous = material.name in AQUEOUS and not row.carrier
        carrier_name = row.carrier or ("water" if aqueous else DEFAULT_CARRIER)
        carrier = _find(carrier_name, "carrier", row, catalogue, problems)
        if carrier is None:
            return None
        fraction = _active_fraction(row, material, carrier, catalogue, problems)
        if fraction is None:
            return None
        substances = [(m, f * fraction) for m, f in substances] + [
            (m, f * (1.0 - fraction)) for m, f in substances_of(carrier, catalogue.material)
        ]
    elif row.carrier:
        problems.append(
            Problem("a carrier is named but no strength_pct is given", row.line, "strength_pct")
        )
        return None
    made = WeighedRow(
        written=written,
        material=material,
        strength=row.strength,
        carrier=carrier,
        grams=row.amount.number,
        substances=tuple(_gathered(substances)),
        role=row.role,
        note=row.note,
        lines=(row.line,) if row.line is not None else (),
    )
    if row.amount.unit in ("mL", "drops"):
        density = made.density()
        if density.value is None:
            problems.append(
                Problem(
                    f"no density of {material.name} to turn {row.amount.unit} into grams; give "
                    "grams",
                    row.line,
                    row.amount.unit,
                )
            )
            return None
        volume_mL = row.amount.number * (drop_mL if row.amount.unit == "drops" else 1.0)
        return _with_grams(made, volume_mL * density.value / 1e3)
    return made


def _active_fraction(
    row: Row,
    material: Material,
    carrier: Material,
    catalogue: Catalogue,
    problems: list[Problem],
) -> float | None:
    """Mass fraction of the active in a row with a strength."""
    strength = row.strength
    assert strength is not None
    if material.name == "ethanol" and carrier.is_water and not _basis_is_stated(row):
        problems.append(
            Problem(
                f"is {strength.percent:g} % of ethanol by volume or by mass? write "
                f"'{strength.percent:g} % vol' or '{strength.percent:g} % mass'",
                row.line,
                "strength_pct",
            )
        )
        return None
    if strength.basis == "mass" or strength.percent >= 100.0:
        return strength.percent / 100.0
    if not carrier.is_water:
        problems.append(
            Problem(
                "a strength by volume is read for aqueous materials only; give it by mass",
                row.line,
                "strength_pct",
            )
        )
        return None
    return mass_fraction_from_volume_percent(material, carrier, strength.percent)


def _basis_is_stated(row: Row) -> bool:
    return row.strength is not None and (
        row.strength.basis == "vol" or row.strength.basis_stated or row.strength.percent >= 100.0
    )


def mass_fraction_from_volume_percent(
    active: Material, water: Material, volume_percent: float
) -> float:
    """Mass fraction w with volume_percent/100 = w rho_mix / rho_active at 20 °C (OIML R 22)."""
    pure = material_density([(active, 1.0)], BENCH_K).interval()[0]

    def too_strong(share: Array, _: Ints) -> Array:
        w = float(share[0])
        parts = [(m, f) for m, f in ((active, w), (water, 1.0 - w)) if f > 0.0]
        mixed = material_density(parts, BENCH_K).interval()[0]
        return np.array([w * mixed / pure - volume_percent / 100.0])

    found = roots_between(too_strong, np.zeros(1), np.ones(1), SHARE_TOLERANCE)
    return float(found.root[0])


def _gathered(substances: list[tuple[Material, float]]) -> list[tuple[Material, float]]:
    totals: dict[str, float] = {}
    by_name: dict[str, Material] = {}
    for material, fraction in substances:
        totals[material.name] = totals.get(material.name, 0.0) + fraction
        by_name[material.name] = material
    return [(by_name[name], fraction) for name, fraction in totals.items() if fraction > 0.0]


def _with_grams(row: WeighedRow, grams: float) -> WeighedRow:
    return replace(row, grams=grams)


def _sum_twins(rows: list[WeighedRow]) -> tuple[list[WeighedRow], list[str]]:
    kept: dict[str, WeighedRow] = {}
    summed: list[str] = []
    for row in rows:
        if row.label in kept:
            twin = kept[row.label]
            kept[row.label] = replace(
                twin, grams=twin.grams + row.grams, lines=twin.lines + row.lines
            )
            if row.label not in summed:
                summed.append(row.label)
        else:
            kept[row.label] = row
    return list(kept.values()), summed
