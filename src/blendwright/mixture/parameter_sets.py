"""Which published group-contribution parameter sets there are, and their numbers as arrays.

The numbers are those of `thermo.unifac`: from the text files of `catalogue.group_tables` for the
sets of the liquid model, from `thermo` itself for the others. A set is used for a blend only where
every pair of groups in it has published parameters: a missing pair is refused
(`MissingGroupPairError`), never taken as zero.

| name           | model                     | published by                                        |
|----------------|---------------------------|-----------------------------------------------------|
| original       | UNIFAC                    | Fredenslund et al. 1975; Wittig et al. 2003         |
| unifac2        | UNIFAC 2.0                | Hayer, Wendel, Mandt, Hasse, Jirasek 2025           |
| dortmund       | modified UNIFAC (Dortmund)| Weidlich and Gmehling 1987; Constantinescu 2016     |
| dortmund2      | modified UNIFAC 2.0       | Hayer, Hasse, Jirasek 2024 (arXiv:2412.12962)       |
| liquid_liquid  | UNIFAC-LLE                | Magnussen, Rasmussen, Fredenslund 1981              |
| nist           | modified UNIFAC (NIST)    | Kang, Diky, Frenkel 2015                            |
| psrk           | PSRK                      | Horstmann et al. 2005                               |
| lyngby         | modified UNIFAC (Lyngby)  | Larsen, Rasmussen, Fredenslund 1987                 |
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from blendwright.catalogue import group_tables
from blendwright.catalogue.group_tables import PAIR_TABLES, SUBGROUP_TABLES
from blendwright.errors import MissingGroupPairError

Array = NDArray[np.float64]
Groups = Mapping[int, int]
Combinatorial = Literal["original", "modified", "lyngby"]
TemperatureLaw = Literal["quadratic", "lyngby"]


@dataclass(frozen=True)
class ParameterSet:
    """How one published set is computed, and where its groups and pairs are in `thermo.unifac`."""

    name: str
    title: str
    source: str
    groups_of: str  # the column of catalogue/data/groups.csv that assigns its groups
    subgroups: str
    interactions: str
    version: int  # the number that thermo's UNIFAC object knows the equations by
    combinatorial: Combinatorial
    combinatorial_power: float
    temperature_law: TemperatureLaw


PARAMETER_SETS: dict[str, ParameterSet] = {
    entry.name: entry
    for entry in (
        ParameterSet("original", "UNIFAC", "unifac-original", "original", "UFSG", "UFIP",
                     0, "original", 1.0, "quadratic"),
        ParameterSet("unifac2", "UNIFAC 2.0", "unifac-2.0", "original", "UFSG", "UF2IP",
                     0, "original", 1.0, "quadratic"),
        ParameterSet("dortmund", "modified UNIFAC (Dortmund)", "unifac-dortmund", "dortmund",
                     "DOUFSG", "DOUFIP2016", 1, "modified", 0.75, "quadratic"),
        ParameterSet("dortmund2", "modified UNIFAC 2.0", "unifac-dortmund-2.0", "dortmund",
                     "DOUFSG", "DOUF2IP", 1, "modified", 0.75, "quadratic"),
        ParameterSet("liquid_liquid", "UNIFAC-LLE", "unifac-lle", "liquid_liquid", "LLEUFSG",
                     "LLEUFIP", 0, "original", 1.0, "quadratic"),
        ParameterSet("nist", "modified UNIFAC (NIST)", "unifac-nist", "nist", "NISTUFSG",
                     "NISTUFIP", 1, "modified", 0.75, "quadratic"),
        ParameterSet("psrk", "PSRK", "unifac-psrk", "original", "PSRKSG", "PSRKIP",
                     2, "original", 1.0, "quadratic"),
        ParameterSet("lyngby", "modified UNIFAC (Lyngby)", "unifac-lyngby", "lyngby", "LUFSG",
                     "LUFIP", 4, "lyngby", 2.0 / 3.0, "lyngby"),
    )
}  # fmt: skip


@dataclass(frozen=True, eq=False)
class GroupArrays:
    """One parameter set laid out for a list of components, by main group.

    Subgroups of one main group interact alike, so only their surfaces are told apart:
    `group_area` is components x main groups, the sum of count times Q; `r` and `q` are per
    component; `a`, `b`, `c` are main groups x main groups, zero where a pair is not published.
    `lacking` marks those pairs, `known` the components whose groups the set all has.
    """

    parameter_set: ParameterSet
    group_area: Array
    r: Array
    q: Array
    a: Array
    b: Array
    c: Array
    lacking: NDArray[np.bool_]
    known: NDArray[np.bool_]


@cache
def _subgroups(parameter_set: ParameterSet) -> Mapping[int, Any]:
    table = parameter_set.subgroups
    return group_tables.subgroups(table) if table in SUBGROUP_TABLES else _of_thermo(table)


@cache
def _interactions(parameter_set: ParameterSet) -> Mapping[int, Mapping[int, Any]]:
    table = parameter_set.interactions
    return group_tables.pairs(table) if table in PAIR_TABLES else _of_thermo(table)


def _of_thermo(table: str) -> Any:
    from thermo import unifac

    return getattr(unifac, table)


def main_group_counts(name: str, groups: Groups) -> dict[str, int]:
    """How many groups of each main group ("CH2", "CCOO") a component has in a set."""
    subgroups = _subgroups(PARAMETER_SETS[name])
    counts: dict[str, int] = {}
    for key, n in groups.items():
        if key in subgroups:
            main = str(subgroups[key].main_group)
            counts[main] = counts.get(main, 0) + n
    return counts


def main_group_surfaces(name: str, groups: Groups) -> dict[str, float]:
    """The surface Q of each main group ("CH2", "CCOO") that a component has in a set."""
    subgroups = _subgroups(PARAMETER_SETS[name])
    found: dict[str, float] = {}
    for key, n in groups.items():
        if key in subgroups:
            main = str(subgroups[key].main_group)
            found[main] = found.get(main, 0.0) + n * float(subgroups[key].Q)
    return found


def missing_pairs(parameter_set: ParameterSet, components: Sequence[Groups]) -> tuple[str, ...]:
    """The pairs of main groups that these components need and the set does not have."""
    subgroups, interactions = _subgroups(parameter_set), _interactions(parameter_set)
    used = {key for groups in components for key in groups}
    unknown = sorted(key for key in used if key not in subgroups)
    if unknown:
        return tuple(f"group {key}" for key in unknown)
    mains = {subgroups[key].main_group_id: subgroups[key].main_group for key in sorted(used)}
    return tuple(
        f"{mains[first]} and {mains[second]}"
        for first in mains
        for second in mains
        if first < second
        and (second not in interactions.get(first, {}) or first not in interactions.get(second, {}))
    )


def group_arrays(parameter_set: ParameterSet, components: Sequence[Groups]) -> GroupArrays:
    """The set's numbers for these components (each a mapping of subgroup number to count).

    Raises MissingGroupPairError where a pair is not published, ValueError for a component without
    groups or for no component at all.
    """
    if not components or any(not groups for groups in components):
        raise ValueError("a component has no groups in this parameter set")
    missing = missing_pairs(parameter_set, components)
    if missing:
        raise MissingGroupPairError(parameter_set.title, missing)
    return tolerant_group_arrays(parameter_set, components)


def tolerant_group_arrays(parameter_set: ParameterSet, components: Sequence[Groups]) -> GroupArrays:
    """Group arrays for components of which not all go together: what is missing is marked.

    Whoever uses it must leave out each blend with an unknown component or a lacking pair
    (`members.complete` finds them); in the others a lacking pair multiplies nothing.
    """
    subgroups, interactions = _subgroups(parameter_set), _interactions(parameter_set)
    known = [bool(groups) and all(key in subgroups for key in groups) for groups in components]
    kept = [groups if k else {} for groups, k in zip(components, known, strict=True)]
    mains = sorted({subgroups[key].main_group_id for groups in kept for key in groups})
    position = {main: i for i, main in enumerate(mains)}
    group_area = np.zeros((len(kept), len(mains)))
    r, q = np.zeros(len(kept)), np.zeros(len(kept))
    for i, groups in enumerate(kept):
        for key, n in groups.items():
            group = subgroups[key]
            group_area[i, position[group.main_group_id]] += n * group.Q
            r[i] += n * group.R
            q[i] += n * group.Q
    abc = np.zeros((3, len(mains), len(mains)))
    lacking = np.zeros((len(mains), len(mains)), dtype=bool)
    for i, first in enumerate(mains):
        for j, second in enumerate(mains):
            if first == second:
                continue
            pair = interactions.get(first, {}).get(second)
            if pair is None:
                lacking[i, j] = lacking[j, i] = True
            else:
                abc[:, i, j] = pair if isinstance(pair, tuple) else (pair, 0.0, 0.0)
    return GroupArrays(
        parameter_set, group_area, r, q, abc[0], abc[1], abc[2], lacking, np.array(known, bool)
    )
