"""How good is the catalogue itself? Its weakest entries, and counts.

An entry is weak where a chosen value is an estimate or rests on memory alone, where values disagree
beyond DISAGREEMENT, or where a physical check of `pure.consistency` fails.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from statistics import median_low

from blendwright.catalogue import Catalogue, Curve, Datum, Material
from blendwright.catalogue.origins import all_from_memory
from blendwright.catalogue.tables import table_rows
from blendwright.estimate import to_celsius
from blendwright.pure.boiling_point import published_first
from blendwright.pure.consistency import inconsistencies
from blendwright.pure.constants import pure_constants

# spread (largest less smallest) of accepted values beyond which sources disagree, SI
DISAGREEMENT = {
    "boiling_point": 6.0,
    "melting_point": 6.0,
    "flash_point": 10.0,
    "heat_of_fusion": 4000.0,
}
TOLD_OF_MEMORY = (*DISAGREEMENT, "density", "lower_flammable_limit", "water_solubility")
LIBRARIES = (
    "crc-organics", "crc-fusion", "wikidata", "webbook", "yaws",
    "open-notebook-melting", "iec-60079-20-1", "nfpa-497", "perry-2-8", "perry-2-32", "vdi-atlas",
    "poling-antoine", "poling-wagner", "mcgarry", "landolt-boernstein",
)  # fmt: skip
OPENED = ("flash_point", "density", "melting_point", "heat_of_fusion", "boiling_point")
"""Properties of which the audit counts how many rest on a source that a person can open."""
GLUED_DENSITY = ("superscript", "ran value", "run together", "glued", "decoded", "digits")


@dataclass(frozen=True)
class Weakness:
    """One weak spot: the material, the kind of weakness, and what it is."""

    material: str
    kind: str
    what: str


@dataclass(frozen=True)
class LibraryError:
    """A value that a library tabulates and this catalogue rejects, with the reason."""

    material: str
    property: str
    value: str
    source: str
    reason: str
    instead: str


def substances(catalogue: Catalogue) -> Iterator[Material]:
    for name in catalogue.names():
        material = catalogue.material(name)
        if material.kind == "substance" and not material.is_undisclosed:
            yield material


def weaknesses(catalogue: Catalogue) -> list[Weakness]:
    """All weak spots, material by material."""
    found: list[Weakness] = []
    for material in substances(catalogue):
        name = material.name
        constants = pure_constants(material)
        estimated = []
        if not [d for d in material.accepted("flash_point") if d.method != "estimated"]:
            estimated.append("flash point")
        if not [d for d in material.accepted("boiling_point") if d.method != "estimated"]:
            estimated.append("boiling point")
        points = [d for d in material.accepted("vapour_pressure") if d.method != "estimated"]
        if constants.vapour is not None and constants.vapour.kind != "curve" and not points:
            estimated.append("vapour pressure")
        if material.state_20C == "solid" and not material.accepted("heat_of_fusion"):
            estimated.append("heat of fusion")
        if material.is_water:
            estimated = []
        found += [Weakness(name, "estimated only", text) for text in estimated]
        found += [
            Weakness(name, "from memory alone", fact.replace("_", " "))
            for fact in TOLD_OF_MEMORY
            if all_from_memory(d.source for d in published_first(material.accepted(fact)))
        ]
        by_points = constants.vapour is not None and constants.vapour.kind == "points"
        if by_points and all_from_memory(d.source for d in points):
            found.append(Weakness(name, "from memory alone", "vapour pressure"))
        for fact, limit in DISAGREEMENT.items():
            values = [d.value for d in published_first(material.accepted(fact))]
            if len(values) > 1 and max(values) - min(values) > limit:
                spread = max(values) - min(values)
                found.append(
                    Weakness(name, "sources disagree", f"{fact.replace('_', ' ')} by {spread:.0f}")
                )
        found += [Weakness(name, "check fails", text) for text in inconsistencies(material)]
        if material.is_analogue:
            found.append(Weakness(name, "groups", material.groups_assigned_by))
    return found


def summary(catalogue: Catalogue) -> dict[str, int]:
    """Counts: materials by kind and family, facts, rejected facts, weak spots by kind."""
    materials = [catalogue.material(name) for name in catalogue.names()]
    facts: list[Datum | Curve] = [d for m in materials for d in m.data]
    facts += [c for m in materials for c in m.curves]
    counts: dict[str, int] = {
        "materials": len(materials),
        "single substances": sum(m.kind == "substance" for m in materials),
        "natural oils and extracts": sum(m.kind == "natural_oil" for m in materials),
        "mixtures": sum(m.kind == "mixture" for m in materials),
        "names and synonyms": sum(1 + len(m.names) for m in materials),
        "values and correlations": len(facts),
        "of these rejected, with the reason": sum(bool(fact.rejected) for fact in facts),
        "sources": len(catalogue.sources),
    }
    for column in ("original", "dortmund", "liquid_liquid", "nist"):
        counts[f"with groups for {column}"] = sum(column in m.groups for m in materials)
    for fact, (opens, known) in opened(catalogue).items():
        what = fact.replace("_", " ")
        counts[f"substances with a published {what}"] = known
        counts[f"with a {what} read in a source that opens"] = opens
    solids = [m for m in substances(catalogue) if m.state_20C == "solid"]
    counts["solids at 20 °C"] = len(solids)
    counts["solids with a heat of fusion read in a source that opens"] = sum(
        _rests_on_what_opens(catalogue, solid, "heat_of_fusion") for solid in solids
    )
    for kind, count in sorted(Counter(w.kind for w in weaknesses(catalogue)).items()):
        counts[f"weak spots: {kind}"] = count
    return counts


STRUCTURE_TESTS = {
    "boiling_point": "boiling point",
    "vapour_pressure": "vapour pressure at 25 °C",
    "density": "density",
    "flash_point": "flash point",
    "flash_point_known_boiling": "flash point, boiling point known",
    "melting_point": "melting point",
}


def structure_figures() -> dict[str, str]:
    """How far the estimates from structure alone are off, on molecules left out of the fit."""
    found = {}
    for row in table_rows("blendwright.pure.structure", "cross_validation.csv"):
        if row["property"] in STRUCTURE_TESTS:
            what = f"from structure alone, {STRUCTURE_TESTS[row['property']]}: {row['test']}"
            if row["rows"] != "all":
                what += f", {row['rows']}"
            found[what] = (
                f"{row['mean_absolute']} {row['unit']} mean, {row['median_absolute']} median, "
                f"{row['n']} molecules"
            )
    return found


def opened(catalogue: Catalogue) -> dict[str, tuple[int, int]]:
    """Property: (substances of which an accepted value was read in a source with a DOI or an
    address, substances with an accepted value that isn't an estimate)."""
    found = {}
    for fact in OPENED:
        published = [
            material
            for material in substances(catalogue)
            if any(d.method != "estimated" for d in material.accepted(fact))
        ]
        opens = sum(_rests_on_what_opens(catalogue, material, fact) for material in published)
        found[fact] = (opens, len(published))
    return found


def _rests_on_what_opens(catalogue: Catalogue, material: Material, fact: str) -> bool:
    """Whether an accepted value, no estimate, was read in a source with a DOI or an address."""
    sources = {
        catalogue.sources[d.source] for d in material.accepted(fact) if d.method != "estimated"
    }
    return any(source.address and source.was_read for source in sources)


def families(catalogue: Catalogue) -> dict[str, int]:
    """Materials in each family."""
    return dict(Counter(catalogue.material(name).family for name in catalogue.names()))


def library_errors(catalogue: Catalogue) -> list[LibraryError]:
    """Values of the libraries that were rejected, with the value that won.

    The densities that one table runs together with their temperature are one fault, not hundreds:
    they are left out here.
    """
    found: list[LibraryError] = []
    for material in substances(catalogue):
        for datum in material.data:
            if not datum.rejected or datum.source not in LIBRARIES:
                continue
            if datum.property == "density" and any(w in datum.rejected for w in GLUED_DENSITY):
                continue
            found.append(
                LibraryError(
                    material.name, datum.property, shown(datum), datum.source, datum.rejected,
                    _winner(material, datum),
                )
            )  # fmt: skip
        found += [
            LibraryError(
                material.name, f"{c.property} curve",
                f"{to_celsius(c.minimum_K):.0f} to {to_celsius(c.maximum_K):.0f} °C", c.source,
                c.rejected, "",
            )
            for c in material.curves
            if c.rejected and c.source in LIBRARIES
        ]  # fmt: skip
    return found


def _winner(material: Material, lost: Datum) -> str:
    rivals = published_first(material.accepted(lost.property))
    if not rivals:
        return "none known"
    value = median_low([d.value for d in rivals])
    best = min(rivals, key=lambda d: abs(d.value - value))
    return f"{shown(best)} ({best.source})"


def shown(datum: Datum) -> str:
    """A value in the unit that people read."""
    kelvin = ("boiling_point", "melting_point", "flash_point")
    if datum.property in kelvin:
        return f"{to_celsius(datum.value):.1f} °C"
    if datum.property == "density":
        return f"{datum.value / 1e3:.4f} g/mL"
    if datum.property == "heat_of_fusion":
        return f"{datum.value / 1e3:.2f} kJ/mol"
    if datum.property == "vapour_pressure":
        return f"{datum.value:.3g} Pa"
    return f"{datum.value * 100:.2f} vol %"
