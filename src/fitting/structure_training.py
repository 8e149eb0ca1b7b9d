"""The open data that the structure estimates are fitted to, read out of the `chemicals` package.

boiling points        CRC Handbook (organics, enthalpies of vaporisation) and Wikidata; those of the
                      NIST WebBook only beside them, as a second opinion, since alone they are
                      often taken at reduced pressure
vapour pressures      Antoine curves of Landolt-Boernstein IV/20, at 25 °C where the range comes
                      within 15 K of it, else at its cold end
densities             CRC Handbook, whose superscript temperature is run into the value:
                      784.525 is 0.7845 g/mL at 25 °C
melting points        Open Notebook Science and CRC Handbook
heats of fusion       CRC Handbook
flash points, limits  IEC 60079-20-1, NFPA 497, Wikidata (never the library's "Serat" column)
flash points          besides, of molecules with a boiling point in the tables, flash_points.csv
                      beside this file: medians of the compilations gathered by Sun et al. 2020
                      (Mol. Inform. 39, 1900101; figshare 9275210, CC BY 4.0), open and closed cup
                      mixed, their values of 93.3, 110 and 113 °C left out (the sign > is lost),
                      and molecules whose compilations lie more than 20 K apart
all but the limits    the catalogue's accepted published values, which win over the tables' above

Neutral molecules of C, H, O, N, S with 2 to 25 heavy atoms. The molecules of held_out.csv are left
out of everything, by the first block of the InChIKey (so with all their stereoisomers).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from statistics import median
from typing import Any

from blendwright.catalogue import default_catalogue
from blendwright.catalogue.library_density import glued_density
from blendwright.catalogue.tables import table_rows
from blendwright.errors import BlendwrightError
from blendwright.estimate import to_kelvin
from blendwright.formula.conditions import BENCH_K, ROOM_K, ATMOSPHERE_Pa
from blendwright.pure.boiling_point import boiling_point
from blendwright.pure.density import liquid_density
from blendwright.pure.flash_point import flash_point
from blendwright.pure.structure.equations import molar_mass_g_mol, vapour_curve
from blendwright.pure.structure.molecule import MOST_FITTED_HEAVY_ATOMS, Molecule, read_molecule

BOILING_AGREEMENT_K = 12.0
FLASH_AGREEMENT_K = 20.0
COMPILED_AGREEMENT_K = 6.0  # two compilations that lie so near corroborate each other
LARGEST_ALONE_ATOMS = 18  # a value of one compilation teaches only of molecules of such a size
FEWEST_CARBONS_ALONE = 4
ANTOINE_REACH_K = 15.0
ANTOINE_TOP_K = 25.0  # a curve that ends this far below its boiling point still gives one
WARMEST_MEETING = 0.75  # of the boiling point in kelvin
VAPORISATION_TRUSTED = (0.85, 1.6)  # outside it the curve or the boiling point is wrong
USUAL_EXPANSION_per_K = 0.0009
COLDEST_BOILING_K = 150.0

_TABLES = {
    "crc": "Misc/Physical Constants of Organic Compounds.csv",
    "crc-vaporisation": "Phase Change/CRC Handbook Heat of Vaporization.tsv",
    "crc-fusion": "Phase Change/CRC Handbook Heat of Fusion.tsv",
    "webbook": "Misc/webbook_constants.tsv",
    "wikidata": "Misc/wikidata_properties.tsv",
    "open-notebook": "Phase Change/OpenNotebook Melting Points.tsv",
    "iec": "Safety/IS IEC 60079-20-1 2010.tsv",
    "nfpa": "Safety/NFPA 497 2008.tsv",
    "landolt": "Vapor Pressure/Landolt_antoine_V20.tsv",
}


@dataclass(frozen=True)
class Target:
    """One molecule's target for one fit, and whether two sources agree on it.

    A flash point also counts as corroborated where a standard, Wikidata or the catalogue has it.
    """

    molecule: Molecule
    value: float
    corroborated: bool

    @property
    def block(self) -> str:
        return self.molecule.inchikey[:14]


@dataclass
class _Facts:
    """What the tables say of one molecule: (source, value) by column."""

    molecule: Molecule
    values: dict[str, list[tuple[str, float]]]
    curves: list[tuple[float, float, float, float, float]]

    def of(self, column: str, *sources: str) -> list[float]:
        return [v for source, v in self.values.get(column, []) if not sources or source in sources]


def held_out_blocks() -> frozenset[str]:
    """First InChIKey blocks of the molecules kept out of every fit."""
    return frozenset(row["inchikey_first_block"] for row in table_rows("fitting", "held_out.csv"))


@cache
def _curated() -> dict[str, dict[str, tuple[Molecule, float]]]:
    """{property: {first block: (molecule, published value as the catalogue chooses it)}}, SI."""
    found: dict[str, dict[str, tuple[Molecule, float]]] = {}
    catalogue = default_catalogue()
    for name in catalogue.names():
        material = catalogue.material(name)
        if material.kind != "substance" or not material.smiles:
            continue
        try:
            molecule = read_molecule(material.smiles)
        except BlendwrightError:
            continue
        if molecule.heavy_atoms > MOST_FITTED_HEAVY_ATOMS:
            continue
        chosen = {
            "boiling_point": boiling_point(material),
            "flash_point": flash_point(material, None),
            "density": liquid_density(material, BENCH_K),
        }
        for kind, estimate in chosen.items():
            facts = [d for d in material.accepted(kind) if d.method != "estimated"]
            if not facts or estimate.value is None:
                continue
            if kind == "density" and material.state_20C == "solid":
                continue
            block = molecule.inchikey[:14]
            found.setdefault(kind, {}).setdefault(block, (molecule, estimate.value))
    return found


def _with_curated(name: str, kind: str, rows: list[Target]) -> list[Target]:
    """The tables' observations with the catalogue's in place of those of its substances."""
    curated = _curated()[kind]
    kept = [o for o in rows if o.block not in curated]
    for molecule, value in curated.values():
        if name == "molar_volume":
            value = 1e3 * molar_mass_g_mol(molecule) / value
        kept.append(Target(molecule, value, True))
    return sorted(kept, key=lambda o: o.block)


def training_data(only: frozenset[str] | None = None) -> dict[str, list[Target]]:
    """Observations by property, held-out molecules included (`structure_regressions` sets them
    apart); with `only` of the tables' molecules with these first InChIKey blocks, which is sooner.
    """
    facts = _facts(only)
    boiling = {block: _boiling(fact) for block, fact in facts.items()}
    data: dict[str, list[Target]] = {
        name: []
        for name in (
            "boiling_point", "vaporisation", "molar_volume", "melting_point", "fusion_entropy",
            "limit_ratio", "flash_point",
        )
    }  # fmt: skip

    def add(name: str, fact: _Facts, value: float | None, corroborated: bool = False) -> None:
        if value is not None and math.isfinite(value):
            data[name].append(Target(fact.molecule, value, corroborated))

    for block in sorted(facts):
        fact = facts[block]
        boiling_K, corroborated = boiling[block]
        add("boiling_point", fact, boiling_K, corroborated)
        add("vaporisation", fact, *_vaporisation(fact, boiling_K))
        melting = fact.of("Tm", "open-notebook", "crc")
        melting_K = median(melting) if melting else None
        add("melting_point", fact, melting_K)
        add("molar_volume", fact, _molar_volume(fact, melting_K, boiling_K))
        heats = fact.of("Hfus", "crc-fusion")
        if heats and melting_K is not None:
            add("fusion_entropy", fact, median(heats) / melting_K)
        add("limit_ratio", fact, _limit_ratio(fact))
        flash = fact.of("T_flash")
        if flash and max(flash) - min(flash) <= FLASH_AGREEMENT_K:
            add("flash_point", fact, median(flash), True)
    data["flash_point"] = _with_compiled(data["flash_point"])
    for name, kind in (
        ("boiling_point", "boiling_point"),
        ("flash_point", "flash_point"),
        ("molar_volume", "density"),
    ):
        data[name] = _with_curated(name, kind, data[name])
    return data


def _with_compiled(tabulated: list[Target]) -> list[Target]:
    """The tables' flash points and those of flash_points.csv, which win where two compilations
    agree; a value of one compilation is taken, uncorroborated, where the tables have none."""
    found = {o.block: o for o in tabulated}
    for row in table_rows("fitting", "flash_points.csv"):
        molecule = read_molecule(row["smiles"])
        agreed = int(row["values"]) > 1 and float(row["spread_K"]) <= COMPILED_AGREEMENT_K
        small = (
            molecule.heavy_atoms <= LARGEST_ALONE_ATOMS
            and molecule.elements["C"] >= FEWEST_CARBONS_ALONE
        )
        block = molecule.inchikey[:14]
        if agreed or (small and block not in found):
            found[block] = Target(molecule, float(row["flash_K"]), agreed)
    return list(found.values())


def _facts(only: frozenset[str] | None) -> dict[str, _Facts]:
    """All rows of the tables, gathered by the first InChIKey block."""
    known: dict[str, Molecule | None] = {}
    facts: dict[str, _Facts] = {}
    for source, row in _table_rows():
        cas = str(row["CAS"])
        if cas not in known:
            known[cas] = _molecule(cas, only)
        molecule = known[cas]
        if molecule is None:
            continue
        fact = facts.setdefault(molecule.inchikey[:14], _Facts(molecule, {}, []))
        if source == "landolt":
            fact.curves.append(
                (float(row["A"]), float(row["B"]), float(row["C"]), float(row["Tmin"]),
                 float(row["Tmax"]))
            )  # fmt: skip
            continue
        for column in ("Tb", "Tm", "rho", "Hfus", "T_flash", "LFL"):
            if column in row and row[column] == row[column]:
                fact.values.setdefault(column, []).append((source, float(row[column])))
    return facts


def _table_rows() -> Iterator[tuple[str, dict[str, Any]]]:
    from pathlib import Path

    import chemicals
    import pandas as pd

    folder = Path(chemicals.__file__).parent
    for source, name in _TABLES.items():
        table = pd.read_csv(folder / name, sep="\t", dtype={"CAS": str})
        for row in table.to_dict("records"):
            yield source, {str(key): value for key, value in row.items()}


def _molecule(cas: str, only: frozenset[str] | None) -> Molecule | None:
    """The library's structure of a CAS number, where the estimates cover it."""
    from chemicals import identifiers

    try:
        found: Any = identifiers.pubchem_db.search_CAS(int(cas.replace("-", "")))
        if not found or not found.smiles:
            return None
        if only is not None and str(found.InChI_key)[:14] not in only:
            return None
        molecule = read_molecule(str(found.smiles))
    except (BlendwrightError, ValueError):
        return None
    return molecule if molecule.heavy_atoms <= MOST_FITTED_HEAVY_ATOMS else None


def _boiling(fact: _Facts) -> tuple[float | None, bool]:
    """(median boiling point, whether two sources agree)."""
    if not fact.of("Tb", "crc", "crc-vaporisation", "wikidata"):
        return None, False
    values = fact.of("Tb", "crc", "crc-vaporisation", "wikidata", "webbook")
    value = median(values)
    if max(values) - min(values) > BOILING_AGREEMENT_K or value < COLDEST_BOILING_K:
        return None, False
    sources = {source for source, _ in fact.values["Tb"]} - {"open-notebook"}
    return value, len(sources) > 1


def _vaporisation(fact: _Facts, boiling_K: float | None) -> tuple[float | None, bool]:
    """(factor that carries the Grain curve through the Antoine curve, whether near 25 °C).

    Met at 25 °C, or at the cold end of the Antoine curve where that is warmer.
    """
    factors: list[tuple[float, float]] = []
    low, high = VAPORISATION_TRUSTED
    for a, b, c, low_K, high_K in fact.curves:
        own_K = b / (a - math.log(ATMOSPHERE_Pa)) - c
        reaches = high_K > own_K - ANTOINE_TOP_K
        agrees = boiling_K is None or abs(own_K - boiling_K) < 15.0
        at_K = own_K if reaches and agrees else boiling_K
        if at_K is None or at_K < 275.0 or high_K < ROOM_K - 10.0:
            continue
        meeting_K = ROOM_K if low_K <= ROOM_K + ANTOINE_REACH_K else low_K
        if meeting_K > WARMEST_MEETING * at_K and meeting_K > ROOM_K:
            continue
        ln_ratio = a - b / (meeting_K + c) - math.log(ATMOSPHERE_Pa)
        unit = float(vapour_curve(at_K, 1.0).ln_pressure(meeting_K)) - math.log(ATMOSPHERE_Pa)
        if abs(unit) > 0.02 and low < ln_ratio / unit < high:
            factors.append((meeting_K, ln_ratio / unit))
    if not factors:
        return None, False
    coldest_K = min(meeting_K for meeting_K, _ in factors)
    return median(f for t, f in factors if t == coldest_K), coldest_K == ROOM_K


def _molar_volume(fact: _Facts, melting_K: float | None, boiling_K: float | None) -> float | None:
    """Molar volume at 20 °C, cm3/mol, of what is liquid at the temperature of its density."""
    from blendwright.pure.structure.equations import molar_mass_g_mol

    read = [glued for v in fact.of("rho", "crc") if (glued := glued_density(v)) is not None]
    if not read:
        return None
    density, at_C = read[0]
    at_K = to_kelvin(at_C)
    if melting_K is not None and melting_K > at_K + 2.0:
        return None
    if boiling_K is not None and boiling_K < at_K:
        return None
    expansion = (
        USUAL_EXPANSION_per_K
        if boiling_K is None
        else min(0.0016, max(0.0006, 0.00248 - 3.2e-6 * boiling_K))
    )
    return 1e3 * molar_mass_g_mol(fact.molecule) / (density * (1.0 + expansion * (at_K - BENCH_K)))


def _limit_ratio(fact: _Facts) -> float | None:
    from blendwright.pure.structure.equations import stoichiometric_share

    limits = [v for v in fact.of("LFL") if 0.001 < v < 0.2]
    if not limits:
        return None
    return math.log(median(limits) / stoichiometric_share(fact.molecule))
