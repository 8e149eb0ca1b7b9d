"""Reading the catalogue's text files.

    data/materials/<family>.csv   identity: name, CAS, formula, structure, synonyms
    data/properties/<family>.csv  one value a row: property, value, unit, temperature, source
    data/curves/<family>.csv      correlations against temperature
    data/compositions.csv         what natural oils and mixtures consist of
    data/groups.csv               UNIFAC groups for each parameter set
    data/sources/*.json           the bibliography (csl.py)
    data/ambiguous_names.csv      names that mean several materials
    data/isomers.csv              what a record stands for among its isomers
    data/grade_words.csv          words of grade that say nothing of what a material is
    data/outside_*.csv            what can't be calculated here at all (outside.py)

Values stand in the files in the units that people read and are turned to SI here.
"""

from __future__ import annotations

import copy
import csv
import hashlib
import io
import json
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import cache, cached_property
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import TYPE_CHECKING, Any, Literal, cast

from blendwright.catalogue.csl import source_of
from blendwright.catalogue.library_names import Known
from blendwright.catalogue.material import (
    Constituent,
    Curve,
    Datum,
    Material,
    MeasuredSolubility,
    Source,
    parse_groups,
)
from blendwright.catalogue.names import (
    SUGGESTIONS,
    NameIndex,
    cas_check_digit_is_right,
    is_cas,
    normalise,
    spellings,
    without_grade,
    without_isomer,
)
from blendwright.catalogue.outside import OutsideList
from blendwright.catalogue.smiles import Structure, read_smiles
from blendwright.catalogue.structure_index import Match, StructureIndex
from blendwright.errors import CatalogueError, StructureError, UnknownMaterialError
from blendwright.estimate import to_kelvin

if TYPE_CHECKING:
    from pandas import DataFrame

_TO_SI: dict[str, Callable[[float], float]] = {
    "°C": to_kelvin,
    "K": lambda value: value,
    "Pa": lambda value: value,
    "kPa": lambda value: value * 1e3,
    "g/mL": lambda value: value * 1e3,
    "kg/m3": lambda value: value,
    "kJ/mol": lambda value: value * 1e3,
    "vol %": lambda value: value / 100.0,
    "g/L": lambda value: value,
}
_SI_UNITS = {
    "°C": "K",
    "Pa": "Pa",
    "g/mL": "kg/m3",
    "kJ/mol": "J/mol",
    "vol %": "mol/mol",
    "g/L": "kg/m3",
}
UNITS: dict[str, tuple[str, ...]] = {
    "boiling_point": ("°C", "K"),
    "melting_point": ("°C", "K"),
    "flash_point": ("°C", "K"),
    "heat_of_fusion": ("kJ/mol",),
    "density": ("g/mL", "kg/m3"),
    "vapour_pressure": ("Pa", "kPa"),
    "lower_flammable_limit": ("vol %",),
    "upper_flammable_limit": ("vol %",),
    "water_solubility": ("g/L", "kg/m3"),
}
# SI; outside these a value is a slip of the pen, whatever the substance
_RANGES: dict[str, tuple[float, float]] = {
    "boiling_point": (200.0, 1000.0),
    "melting_point": (50.0, 700.0),
    "flash_point": (150.0, 700.0),
    "heat_of_fusion": (500.0, 200e3),
    "density": (500.0, 2500.0),
    "vapour_pressure": (1e-12, 1e7),
    "lower_flammable_limit": (0.001, 0.3),
    "upper_flammable_limit": (0.01, 1.0),
    "water_solubility": (1e-6, 1500.0),
}
_METHODS = ("measured", "compiled", "estimated")
_NEEDS_TEMPERATURE = ("density", "vapour_pressure", "water_solubility")
_INCHIKEY = re.compile(r"(?:InChIKey\s*[=:]\s*)?([A-Z]{14}-[A-Z]{10}-[A-Z])", re.IGNORECASE)
MOST_NOTED = 1_000  # records with a note on what was written; then forgotten
_CURVE_FORMS = ("antoine_ln", "dippr101", "wagner25", "wagner36", "dippr105", "vdi_ppds")


def _rows(file: Traversable) -> Iterator[tuple[str, dict[str, str]]]:
    """Each row with its place ("esters.csv row 12"), as text."""
    header, lines = _lines(file)
    return (_row(file.name, number, header, cells) for number, cells in lines)


def _row(
    file_name: str, number: int, header: Sequence[str], cells: Sequence[str]
) -> tuple[str, dict[str, str]]:
    return f"{file_name} row {number}", dict(zip(header, cells, strict=True))


def _lines(file: Traversable) -> tuple[list[str], list[tuple[int, list[str]]]]:
    """The header, and each row's number and cells."""
    reader = csv.reader(io.StringIO(file.read_text(encoding="utf-8"), newline=""))
    header = next(reader, [])
    lines = list(enumerate(reader, start=2))
    for number, cells in lines:
        if len(cells) != len(header):
            raise CatalogueError(
                f"{file.name} row {number}: {len(cells)} cells, the header has {len(header)}"
            )
    return header, lines


def _number(text: str, place: str, column: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise CatalogueError(f"{place}, column {column}: {text!r} is not a number") from None


def usual_unit(name: str) -> str:
    """The unit that a property is read in where none is given."""
    return UNITS[name][0]


def si_value(name: str, value: float, unit: str) -> float:
    """A value of a property in SI; raises ValueError for a wrong unit or an impossible value."""
    if unit not in UNITS[name]:
        raise ValueError(f"{name} stands in {' or '.join(UNITS[name])}, not {unit!r}")
    si = _TO_SI[unit](value)
    low, high = _RANGES[name]
    if not low <= si <= high:
        raise ValueError(f"{name} of {value:g} {unit} is out of any range")
    return si


def _datum(place: str, row: dict[str, str]) -> Datum:
    name, unit = row["property"], row["unit"]
    if name not in UNITS:
        raise CatalogueError(f"{place}: unknown property {name!r}; known: {', '.join(UNITS)}")
    number = _number(row["value"], place, "value")
    try:
        value = si_value(name, number, unit)
    except ValueError as error:
        if not row["rejected"] or unit not in UNITS[name]:
            raise CatalogueError(f"{place}: {error}") from None
        value = _TO_SI[unit](number)
    if row["method"] not in _METHODS:
        raise CatalogueError(f"{place}: method {row['method']!r} is none of {', '.join(_METHODS)}")
    temperature = row["temperature_C"]
    if name in _NEEDS_TEMPERATURE and not temperature:
        raise CatalogueError(f"{place}: {name} needs a temperature")
    uncertainty = row["uncertainty"]
    scale = _TO_SI[unit](1.0) - _TO_SI[unit](0.0)
    return Datum(
        property=name,
        value=value,
        temperature_K=to_kelvin(_number(temperature, place, "temperature_C"))
        if temperature
        else None,
        uncertainty=_number(uncertainty, place, "uncertainty") * scale if uncertainty else None,
        method=cast(Any, row["method"]),
        source=row["source"],
        rejected=row["rejected"],
        note=row["note"],
    )


def _curve(place: str, row: dict[str, str]) -> Curve:
    if row["form"] not in _CURVE_FORMS:
        raise CatalogueError(f"{place}: unknown curve form {row['form']!r}")
    coefficients = [
        _number(part, place, f"c{i}")
        for i in range(1, 6)
        for part in (row[f"c{i}"] or "").split(";")
        if part
    ]
    return Curve(
        property=row["property"],
        form=row["form"],
        coefficients=tuple(coefficients),
        minimum_K=_number(row["minimum_K"], place, "minimum_K"),
        maximum_K=_number(row["maximum_K"], place, "maximum_K"),
        source=row["source"],
        rejected=row["rejected"],
    )


class Catalogue:
    """All materials of one data folder, found by name.

    Identities are read at once; the facts of a family when one of its materials is first asked
    for. Raises CatalogueError for a file that can't be read.
    """

    def __init__(self, folder: Traversable) -> None:
        self.folder = folder
        self._identity: dict[str, tuple[str, dict[str, str]]] = {}
        for file in self._files("materials"):
            for place, row in _rows(file):
                if row["material"] in self._identity:
                    raise CatalogueError(f"{place}: {row['material']!r} is there twice")
                self._identity[row["material"]] = (file.name, row)
        self._groups = {row["material"]: row for _, row in _rows(folder / "groups.csv")}
        self._compositions: dict[str, list[dict[str, str]]] = {}
        for place, row in _rows(folder / "compositions.csv"):
            self._check_known(place, row["material"])
            self._check_known(place, row["constituent"])
            self._compositions.setdefault(row["material"], []).append(row)
        self._solubilities: dict[str, list[dict[str, str]]] = {}
        for place, row in _rows(folder / "solubility.csv"):
            self._check_known(place, row["solid"])
            self._check_known(place, row["solvent"])
            if not 0.0 < _number(row["mole_fraction"], place, "mole_fraction") < 1.0:
                raise CatalogueError(f"{place}: a mole fraction lies between 0 and 1")
            self._solubilities.setdefault(row["solid"], []).append(row)
        self._materials: dict[str, Material] = {}
        self._own: dict[str, Material] = {}
        self._own_digest = ""
        self._noted: dict[tuple[str, str], Material] = {}
        self._facts: dict[
            tuple[str, str], tuple[list[str], dict[str, list[tuple[int, list[str]]]]]
        ] = {}

    def _files(self, kind: str, ending: str = ".csv") -> list[Traversable]:
        found = [f for f in (self.folder / kind).iterdir() if f.name.endswith(ending)]
        return sorted(found, key=lambda file: file.name)

    def _check_known(self, place: str, name: str) -> None:
        if name not in self._identity:
            raise CatalogueError(f"{place}: no material {name!r} in materials/")

    def _facts_of(self, kind: str, name: str) -> list[tuple[str, dict[str, str]]]:
        """The rows of properties/ or curves/ that speak of one material."""
        file_name, _ = self._identity[name]
        if (kind, file_name) not in self._facts:
            file = self.folder / kind / file_name
            header, lines = _lines(file) if file.is_file() else (["material"], [])
            owner = header.index("material")
            rows: dict[str, list[tuple[int, list[str]]]] = {}
            for number, cells in lines:
                known = self._identity.get(cells[owner])
                if known is None or known[0] != file_name:
                    place = f"{file_name} row {number}"
                    self._check_known(place, cells[owner])
                    raise CatalogueError(f"{place}: {cells[owner]!r} is of another family")
                rows.setdefault(cells[owner], []).append((number, cells))
            self._facts[kind, file_name] = header, rows
        header, rows = self._facts[kind, file_name]
        return [_row(file_name, number, header, cells) for number, cells in rows.get(name, [])]

    @cached_property
    def sources(self) -> dict[str, Source]:
        """The bibliography, by key. Raises CatalogueError for a source that can't be used."""
        found: dict[str, Source] = {}
        for file in self._files("sources", ".json"):
            try:
                items = json.loads(file.read_text(encoding="utf-8"))
            except json.JSONDecodeError as error:
                raise CatalogueError(f"{file.name} line {error.lineno}: {error.msg}") from None
            for item in items:
                source = source_of(file.name, item)
                if source.key in found:
                    raise CatalogueError(f"{file.name}: source {source.key!r} is there twice")
                found[source.key] = source
        return found

    def extended(
        self, own: Sequence[Material], sources: Mapping[str, Source], digest: str
    ) -> Catalogue:
        """This catalogue with the person's own materials over it; this one stays as it is."""
        made = copy.copy(self)
        for cached in ("index", "structures", "sources"):
            made.__dict__.pop(cached, None)
        made._noted = {}
        made._own = {**self._own, **{material.name: material for material in own}}
        made._own_digest = digest
        made.__dict__["sources"] = {**self.sources, **sources}
        return made

    def own_names(self) -> tuple[str, ...]:
        """The person's own materials, new and corrected."""
        return tuple(self._own)

    def names(self) -> tuple[str, ...]:
        """Every material's own name, the person's own ones last."""
        return tuple(dict.fromkeys((*self._identity, *self._own)))

    def __len__(self) -> int:
        return len(self.names())

    def __bool__(self) -> bool:
        return True  # one without materials is a catalogue all the same

    def __iter__(self) -> Iterator[Material]:
        """Every material, the person's own ones last."""
        return (self.material(name) for name in self.names())

    def __repr__(self) -> str:
        return f"<Catalogue: {len(self)} materials, data {self.version()}>"

    def search(self, text: str) -> list[Material]:
        """Every material with `text` in its name or a synonym, whatever its case and hyphens."""
        wanted = normalise(text)
        return [
            self.material(own.name)
            for own in self._identities()
            if any(wanted in normalise(name) for name in (own.name, *own.names))
        ]

    def to_frame(self, what: Literal["materials", "facts"] = "materials") -> DataFrame:
        """A pandas DataFrame of the catalogue.

        Parameters
        ----------
        what : {"materials", "facts"}
            "materials": a row for each material, with what it is; "facts": a row for each value
            that is known of one, in SI, with temperature, method, source and why it is rejected
            (empty where it is not).

        Raises
        ------
        ValueError
            For any other word.
        """
        import pandas as pd

        identity = ("name", "family", "kind", "cas", "formula", "smiles", "inchikey", "state_20C")
        if what == "materials":
            rows = [[getattr(own, column) for column in identity] for own in self]
            return pd.DataFrame(rows, columns=identity).set_index("name")
        if what == "facts":
            return pd.DataFrame(
                {
                    "material": own.name,
                    "property": datum.property,
                    "value": datum.value,
                    "unit": _SI_UNITS[usual_unit(datum.property)],
                    "temperature_K": datum.temperature_K,
                    "method": datum.method,
                    "source": datum.source,
                    "rejected": datum.rejected,
                }
                for own in self
                for datum in own.data
            )
        raise ValueError(f"a frame of {what!r} is not known; of materials or facts")

    def _optional_rows(self, file_name: str) -> list[dict[str, str]]:
        file = self.folder / file_name
        return [row for _, row in _rows(file)] if file.is_file() else []

    def _identities(self) -> Iterator[Material]:
        for name in self.names():
            yield self._own[name] if name in self._own else self._identity_only(name)

    @cached_property
    def index(self) -> NameIndex:
        """All names, synonyms, CAS and FEMA numbers."""
        several = self._optional_rows("ambiguous_names.csv")
        return NameIndex(
            self._identities(), {row["name"]: tuple(row["choices"].split("|")) for row in several}
        )

    @cached_property
    def structures(self) -> StructureIndex:
        """All structures."""
        sold_as = {row["material"]: row["sold_as"] for row in self._isomers}
        return StructureIndex(self._identities(), sold_as)

    @cached_property
    def _isomers(self) -> list[dict[str, str]]:
        return self._optional_rows("isomers.csv")

    @cached_property
    def _cas_of_isomers(self) -> dict[str, str]:
        """CAS number of an isomer -> the record that stands for it."""
        return {
            cas: row["material"]
            for row in self._isomers
            for cas in filter(None, row["cas"].split("|"))
        }

    @cached_property
    def outside(self) -> OutsideList:
        """What can't be calculated here at all."""
        return OutsideList(
            self._optional_rows("outside_names.csv"), self._optional_rows("outside_classes.csv")
        )

    @cached_property
    def _grades(self) -> tuple[str, ...]:
        return tuple(row["word"] for row in self._optional_rows("grade_words.csv"))

    def by_inchikey(self, inchikey: str) -> Material | None:
        """The material with this structure; None without. Raises AmbiguousMaterialError."""
        return self._matched(self.structures.find_key(inchikey), inchikey)

    def by_structure(self, structure: Structure, written: str) -> Material | None:
        """The material with this structure, whichever way it is drawn; None without.

        Where the isomers are not told apart, its note says so. Raises AmbiguousMaterialError for a
        drawing that several isomers of the catalogue fit.
        """
        return self._matched(self.structures.find(structure, written), written)

    def same_substance(self, known: Known, written: str) -> Material | None:
        """The record of a substance of the library, by CAS number, InChIKey or structure.

        Raises AmbiguousMaterialError where the library draws no stereo marks and several isomers
        of the catalogue fit.
        """
        name = self.index.get(known.cas)
        if name is not None and self.material(name).kind == "substance":
            return self.material(name)
        if known.inchikey in self.structures.keys:
            return self.by_inchikey(known.inchikey)
        try:
            structure = read_smiles(known.smiles)
        except StructureError:
            return None
        return self.by_structure(structure, written)

    def covers_isomer(self, material: Material, written: str) -> bool:
        """Whether a record may stand for an isomer that a name tells by its leading marks.

        Marks of double bonds (cis, E) or of several centres (1R,2S) may tell another substance,
        where the record is drawn with such marks and isn't sold as a mixture.
        """
        return self.structures.covers(material.name, written)

    def _matched(self, match: Match | None, written: str) -> Material | None:
        if match is None:
            return None
        found = self.material(match.name)
        return found if match.is_exact else self.noted(found, written)

    def noted(self, material: Material, written: str) -> Material:
        """A record with the note that it stands for an isomer as written."""
        if material is not self.material(material.name):
            return material  # it has such a note
        key = (material.name, written)
        if key not in self._noted:
            if len(self._noted) >= MOST_NOTED:
                self._noted.clear()
            note = f"taken for {written}: the isomers are not told apart"
            said = "; ".join(part for part in (material.note, note) if part)
            self._noted[key] = replace(material, note=said)
        return self._noted[key]

    def version(self) -> str:
        """A short hash of all data files: two runs with one version used the same facts."""
        ours = self._files_digest
        return f"{ours}+{self._own_digest}" if self._own_digest else ours

    @cached_property
    def _files_digest(self) -> str:
        digest = hashlib.sha256()
        folders = [
            *(f for kind in ("materials", "properties", "curves") for f in self._files(kind)),
            *self._files("sources", ".json"),
            self.folder / "groups.csv",
            self.folder / "compositions.csv",
            self.folder / "solubility.csv",
            *(
                file
                for name in ("ambiguous_names", "isomers", "grade_words", "outside_names")
                for file in [self.folder / f"{name}.csv"]
                if file.is_file()
            ),
        ]
        for file in folders:
            digest.update(file.read_bytes())
        return digest.hexdigest()[:12]

    def find(self, name: str) -> Material:
        """The material that goes by this name, synonym, CAS or FEMA number, InChIKey or SMILES.

        Raises AmbiguousMaterialError, OutsideScopeError for what can't be calculated here at all,
        or UnknownMaterialError with suggestions.
        """
        for spelling in spellings(name):
            own = self.index.get(spelling)
            if own is not None:
                return self.material(own)
        found = self._drawn(name)
        if found is not None:
            return found
        plain = without_grade(name, self._grades)
        own = self.index.get(plain) if plain else None
        if own is not None:
            return self.material(own)
        number = spellings(name)[-1]
        if number in self._cas_of_isomers:
            return self.noted(self.material(self._cas_of_isomers[number]), name)
        self.outside.refuse(name, name=number)
        if is_cas(number) and not cas_check_digit_is_right(number):
            raise UnknownMaterialError(
                name, why="its last digit doesn't fit the others, as in a CAS number it must"
            )
        asked = (part for part in (without_isomer(name), name) if part)
        near = dict.fromkeys(found for part in asked for found in self.index.suggest(part))
        raise UnknownMaterialError(name, tuple(near)[:SUGGESTIONS])

    def _drawn(self, text: str) -> Material | None:
        """The material of an InChIKey or SMILES; None for another text or another structure."""
        if key := _INCHIKEY.fullmatch(text.strip()):
            return self.by_inchikey(key[1].upper())
        try:
            structure = read_smiles(text)
        except StructureError:
            return None
        return self.by_structure(structure, text)

    def material(self, name: str) -> Material:
        """A material by its own name, with all its facts. Raises UnknownMaterialError."""
        if name in self._own:
            return self._own[name]
        if name not in self._identity:
            raise UnknownMaterialError(name)
        if name not in self._materials:
            self._materials[name] = self._build(name)
        return self._materials[name]

    def _identity_only(self, name: str) -> Material:
        file_name, row = self._identity[name]
        synonyms = tuple(part.strip() for part in row["names"].split("|") if part.strip())
        return Material(
            name=name,
            kind=cast(Any, row["kind"]),
            cas=row["cas"],
            formula=row["formula"],
            smiles=row["smiles"],
            inchikey=row["inchikey"],
            state_20C=cast(Any, row["state_20C"]),
            fema=row["fema"],
            names=synonyms,
            note=row["note"],
            family=file_name.removesuffix(".csv").replace("_", " "),
        )

    def _build(self, name: str) -> Material:
        groups = self._groups.get(name)
        columns = ("original", "dortmund", "liquid_liquid", "nist")
        return replace(
            self._identity_only(name),
            data=tuple(_datum(place, row) for place, row in self._facts_of("properties", name)),
            curves=tuple(_curve(place, row) for place, row in self._facts_of("curves", name)),
            groups={c: parse_groups(groups[c]) for c in columns if groups[c]} if groups else {},
            groups_assigned_by=groups["assigned_by"] if groups else "",
            constituents=tuple(
                Constituent(
                    material=row["constituent"],
                    typical=float(row["typical_pct"]) / 100.0,
                    low=float(row["low_pct"] or row["typical_pct"]) / 100.0,
                    high=float(row["high_pct"] or row["typical_pct"]) / 100.0,
                    source=row["source"],
                )
                for row in self._compositions.get(name, [])
            ),
            solubilities=tuple(
                MeasuredSolubility(
                    solvent=row["solvent"],
                    temperature_K=to_kelvin(float(row["temperature_C"])),
                    mole_fraction=float(row["mole_fraction"]),
                    source=row["source"],
                )
                for row in self._solubilities.get(name, [])
            ),
        )


@cache
def default_catalogue() -> Catalogue:
    """The catalogue that ships with blendwright."""
    return Catalogue(files("blendwright.catalogue") / "data")
