"""Which publications, and what else, does one assessment lean on, and for what?

`bibliography(assessment)` walks the facts of every substance of the blend, the parameter sets that
spoke, the methods of every estimate, the texts behind the classes and the tables behind the
findings. A key that the catalogue's bibliography doesn't hold raises CatalogueError: nothing is
cited as a bare key. What was written down from memory, made here, is common practice or the
person's own stands apart from what was published.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

from blendwright.assess import Assessment
from blendwright.catalogue import Catalogue, Material, Source, default_catalogue
from blendwright.catalogue.material import sources_of
from blendwright.errors import CatalogueError
from blendwright.estimate import Estimate
from blendwright.formula.conditions import FREEZER_K
from blendwright.mixture.composition import Composition
from blendwright.mixture.cosolvency import cosolvency_sources, cosolvents
from blendwright.mixture.density import CLASS_SOURCE
from blendwright.mixture.dissolution import crystallises
from blendwright.mixture.excess_volume import sources_of_pairs
from blendwright.mixture.liquid import SOURCES
from blendwright.mixture.water_solubility import water_solubility
from blendwright.pure.boiling_point import boiling_point
from blendwright.pure.constants import PureConstants
from blendwright.pure.density import liquid_density
from blendwright.verdict.crystal_forms import crystal_form_source
from blendwright.verdict.plastics import hansen_source, polymer_sources

Standing = Literal["published", "web page", "made here", "from memory", "common practice", "yours"]

TITLES: dict[Standing, str] = {
    "published": "Published",
    "web page": "Web pages, read in stored copies",
    "made here": "Estimated or fitted here",
    "from memory": "From memory, in whole or in part",
    "common practice": "Common practice, no source",
    "yours": "Yours",
}
MADE_HERE = (
    "own-estimate",
    "esters-series",
    "own-fit",
    "flash-regression",
    "structure-estimate",
    "excess-terms",
)
OWN_KEY = "yours"  # how the keys of the person's own values and measurements begin
MEMORY = re.compile(r"from memory|as remembered", re.IGNORECASE)
COMMON_PRACTICE = "common-practice"
BLEND_METHODS = ("liaw", "le-chatelier", "zabetakis")  # of a blend, whatever its parts cite
GROUPS_MADE_HERE = ("analogue:", "by hand:")

ESTIMATE_NAMES = {
    "density": "density of the blend",
    "volume": "density of the blend",
    "vapour_pressure": "vapour pressure of the blend",
    "initial_boiling_point": "boiling point of the blend",
    "flash_point_closed_cup": "flash point of the blend",
    "dissolved_share": "crystals",
    "dissolution_temperature": "crystals",
    "cloud_temperature": "layers and cloud point",
    "lower_flammable_limit": "flammable limit of the blend",
}
"""What an estimate is called in "used for"."""

METHODS: dict[str, tuple[str, str]] = {
    "EVAPORATES": ("evaporation from an open beaker", "mackay-matsugu fuller"),
    "DISSOLVES": ("times and margins in the advice", COMMON_PRACTICE),
    "DISSOLVES-SLOWLY": ("times and margins in the advice", COMMON_PRACTICE),
    "NEEDS-WARMING": ("times and margins in the advice", COMMON_PRACTICE),
    "HAZE-MARGIN": ("times and margins in the advice", COMMON_PRACTICE),
    "PRESSURE-WARM": ("limits of a bottle's pressure and filling", COMMON_PRACTICE),
    "KEEP-COOL": ("what a warm store is", COMMON_PRACTICE),
    "OBSERVED": ("how far your measurements carry to similar blends", COMMON_PRACTICE),
}
"""Findings that lean on a method or a usual number: what for, and the keys."""

TEXTS: dict[str, tuple[str, str]] = {
    "FILL-LIMIT": ("how full a bottle may be", "ADR 4.1.1.4 (2023), from memory"),
    "PRESSURE-WARM": ("limit of a gas at 50 °C", "UN Model Regulations 1.2.1, from memory"),
    "FLASH-BELOW-WARMING": (
        "margin below the flash point",
        "EN 1127-1 and TRGS 721 practice, from memory",
    ),
}
"""Findings that lean on a text which is no entry of the catalogue's bibliography."""


@dataclass(frozen=True)
class Entry:
    """One source and what it was used for: (what, of which substances; none for the blend)."""

    source: Source
    standing: Standing
    uses: tuple[tuple[str, tuple[str, ...]], ...]

    @property
    def key(self) -> str:
        return self.source.key

    def citation(self) -> str:
        """One line; what only a note says of how it was read is added."""
        line = self.source.citation()
        return f"{line} [{self.source.note}]" if self.source.note else line

    def used_for(self) -> list[str]:
        """ "flash point of ethyl acetate, ethanol", one text for each use."""
        return [f"{what} of {', '.join(names)}" if names else what for what, names in self.uses]

    def to_dict(self) -> dict[str, object]:
        return {
            "key": self.key,
            "standing": self.standing,
            "type": self.source.kind,
            "citation": self.source.citation(),
            "doi": self.source.doi or None,
            "address": self.source.address or None,
            "read": self.source.read,
            "licence": self.source.licence or None,
            "note": self.source.note,
            "used_for": self.used_for(),
        }


@dataclass(frozen=True)
class _Use:
    key: str
    what: str
    of: str = ""


def bibliography(assessment: Assessment, catalogue: Catalogue | None = None) -> tuple[Entry, ...]:
    """List every source of one assessment, by standing and then by author.

    Parameters
    ----------
    assessment : Assessment
    catalogue : Catalogue, optional
        The one that it was assessed with, where it held the person's own materials.

    Returns
    -------
    tuple of Entry

    Raises
    ------
    CatalogueError
        For a key without an entry.
    """
    catalogue = catalogue or default_catalogue()
    uses: dict[str, dict[str, dict[str, None]]] = {}
    for use in _all_uses(assessment, catalogue):
        names = uses.setdefault(use.key, {}).setdefault(use.what, {})
        if use.of:
            names[use.of] = None
    texts = {use.key for use in _texts(assessment)}
    made = [
        _entry(key, tuple((what, tuple(of)) for what, of in found.items()), catalogue, texts)
        for key, found in uses.items()
    ]
    order = list(TITLES)
    return tuple(
        sorted(made, key=lambda e: (order.index(e.standing), e.source.citation().casefold(), e.key))
    )


def _entry(
    key: str,
    uses: tuple[tuple[str, tuple[str, ...]], ...],
    catalogue: Catalogue,
    texts: set[str],
) -> Entry:
    source = catalogue.sources.get(key)
    if source is None and (key in texts or key.startswith(OWN_KEY)):
        kind = "yours" if key.startswith(OWN_KEY) else "text"
        source = Source(key, kind, "", "", key, "", "", "")
    if source is None:
        raise CatalogueError(f"source {key!r} has no entry in catalogue/data/sources")
    return Entry(source, _standing(source), uses)


def _standing(source: Source) -> Standing:
    if source.key.startswith(OWN_KEY):
        return "yours"
    if source.key == COMMON_PRACTICE:
        return "common practice"
    told = f"{source.kind} {source.title} {source.published_in} {source.note}"
    if MEMORY.search(told):
        return "from memory"
    if source.key in MADE_HERE or source.title.startswith(GROUPS_MADE_HERE):
        return "made here"
    return "web page" if source.kind == "web page" else "published"


def _all_uses(assessment: Assessment, catalogue: Catalogue) -> Iterator[_Use]:
    inputs = [*_facts(assessment, catalogue), *_models(assessment.weighing.composition)]
    yield from inputs
    accounted = {use.key for use in inputs}
    for name, estimate in _estimates(assessment):
        for key in estimate.sources:
            if key not in accounted or key in BLEND_METHODS:
                yield _Use(key, name)
    yield from _texts(assessment)
    for finding in assessment.findings:
        what, keys = METHODS.get(finding.code, ("", ""))
        for key in keys.split():
            yield _Use(key, what)


def _estimates(assessment: Assessment) -> Iterator[tuple[str, Estimate]]:
    """Every estimate with what it is called in "used for"."""
    for name, estimate in assessment.estimates.items():
        yield ESTIMATE_NAMES[name], estimate
    for solid in assessment.solids:
        for estimate in (solid.dissolves, solid.most_20C, solid.most_5C):
            yield "crystals", estimate
    for volume in assessment.row_volumes:
        yield "volumes of the rows", volume


def _facts(assessment: Assessment, catalogue: Catalogue) -> Iterator[_Use]:
    """What is known of every substance, and of every mixture that was opened."""
    composition = assessment.weighing.composition
    watery = "water" in composition.names
    for s in composition.substances:
        yield from _pure_facts(s, assessment.temperature_K)
        if watery and s.name not in cosolvents() and not s.material.is_water:
            found = water_solubility(s.material)
            yield from _used(found.sources if found else (), "solubility in water", s.name)
    if watery:
        for name in composition.names:
            if name in cosolvents():
                yield _Use(cosolvents()[name].source, "help to dissolve in water", name)
    for row in assessment.weighing.rows:
        for material in (row.material, row.carrier):
            if material is not None:
                yield from _opened(material, catalogue)
        own = row.material.accepted("density")
        if row.strength is None and own:
            density = liquid_density(row.material, assessment.temperature_K)
            yield from _used(density.sources, "density", row.material.name)


def _pure_facts(s: PureConstants, temperature_K: float) -> Iterator[_Use]:
    material = s.material
    yield from _used(s.flash.sources, "flash point", s.name)
    if s.vapour is not None:
        yield from _used(s.vapour.sources, "vapour pressure", s.name)
    yield from _used(boiling_point(material).sources, "boiling point", s.name)
    if s.fusion is not None:
        yield from _used(s.fusion.melting.sources, "melting point", s.name)
        if crystallises(s.fusion, min(temperature_K, FREEZER_K)):
            yield from _used(s.fusion.heat.sources, "heat of fusion", s.name)
            points = [point.source for point in material.solubilities]
            in_water = sources_of(material.accepted("water_solubility"))
            yield from _used((*points, *in_water), "measured solubility", s.name)
    yield from _used(liquid_density(material, temperature_K).sources, "density", s.name)
    yield from _used(s.lower_limit.sources, "lower flammable limit", s.name)


def _opened(material: Material, catalogue: Catalogue) -> Iterator[_Use]:
    """Where the composition of an oil or mixture comes from, and of what is in it."""
    for part in material.constituents:
        yield _Use(part.source, "composition", material.name)
        yield from _opened(catalogue.material(part.material), catalogue)


def _used(keys: Iterable[str], what: str, of: str) -> Iterator[_Use]:
    for key in keys:
        yield _Use(key, what, of)


def _models(composition: Composition) -> Iterator[_Use]:
    """The parameter sets that spoke on each question, and what was learned about them here."""
    if len(composition.substances) > 1:
        for key in (CLASS_SOURCE, *sources_of_pairs(composition.names)):
            yield _Use(key, "excess volume of the blend")
    with_groups = composition.only(lambda s: bool(s.groups))
    if not with_groups.substances:
        return
    for source in SOURCES:
        yield _Use(source, "activity coefficients of every question")
    for source in cosolvency_sources(with_groups):
        yield _Use(source, "whether it parts into layers")
    yield _Use("michelsen", "whether it parts into layers")
    yield _Use("own-fit", "the learned terms of the activity model, and intervals")


def _texts(assessment: Assessment) -> Iterator[_Use]:
    """What is cited in words and not by key: group assignments, class texts, tables."""
    substances = assessment.weighing.composition.substances
    for s in substances:
        if s.material.groups_assigned_by:
            yield _Use(s.material.groups_assigned_by, "UNIFAC groups", s.name)
    for classing in assessment.classings:
        yield _Use(classing.edition, f"classes by {classing.title}")
    codes = {finding.code for finding in assessment.findings}
    if any(code.startswith("PLASTIC-") for code in codes):
        for s in substances:
            source = hansen_source(s.name)
            if source:
                yield _Use(source, "Hansen parameters", s.name)
        for polymer, source in polymer_sources().items():
            yield _Use(source, "Hansen parameters", polymer)
    for finding in assessment.findings:
        if finding.code == "CRYSTAL-FORMS":
            for name in finding.materials:
                yield _Use(crystal_form_source(name), "crystal forms", name)
        if finding.code in TEXTS:
            what, text = TEXTS[finding.code]
            yield _Use(text, what)
