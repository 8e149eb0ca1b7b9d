"""The published group tables that every assessment reads, from the package's own text files.

    data/group_tables/<table>.csv   subgroups (R, Q, main group), or pairs of main groups (a, b, c)

A table has the name that `thermo.unifac` gives it, and holds what stands there: `python -m
fitting.group_tables` writes it, and a test compares. It is read from text because `thermo` takes
longer to import than a whole assessment takes to calculate.
"""

from __future__ import annotations

import csv
from functools import cache
from importlib.resources import files
from typing import NamedTuple

SUBGROUP_TABLES = {"UFSG": "unifac-original", "DOUFSG": "unifac-dortmund"}  # and their sources
PAIR_TABLES = {"UF2IP": "unifac-2.0", "DOUF2IP": "unifac-dortmund-2.0"}
SUBGROUP_COLUMNS = ("subgroup", "name", "main_group", "main_group_name", "R", "Q", "source")
PAIR_COLUMNS = ("first", "second", "a", "b", "c", "source")


class Subgroup(NamedTuple):
    """A subgroup of a published set: its main group, its volume R and its surface Q."""

    main_group_id: int
    main_group: str
    R: float
    Q: float


@cache
def subgroups(table: str) -> dict[int, Subgroup]:
    """The subgroups of a table of SUBGROUP_TABLES, by number."""
    return {
        int(number): Subgroup(int(main), main_name, float(r), float(q))
        for number, _, main, main_name, r, q, _ in _rows(table)
    }


@cache
def pairs(table: str) -> dict[int, dict[int, tuple[float, float, float]]]:
    """What each main group has with each other one in a table of PAIR_TABLES: a, b and c."""
    found: dict[int, dict[int, tuple[float, float, float]]] = {}
    for first, second, a, b, c, _ in _rows(table):
        found.setdefault(int(first), {})[int(second)] = (float(a), float(b), float(c))
    return found


def _rows(table: str) -> list[list[str]]:
    file = files("blendwright.catalogue") / "data" / "group_tables" / f"{table}.csv"
    return list(csv.reader(file.read_text(encoding="utf-8").splitlines()))[1:]
