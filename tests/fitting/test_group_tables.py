"""The group tables that ship are those of thermo, to the last digit."""

from __future__ import annotations

from importlib.resources import files

import pytest
from thermo import unifac

from blendwright.catalogue import default_catalogue
from blendwright.catalogue.group_tables import PAIR_TABLES, SUBGROUP_TABLES, pairs, subgroups
from fitting.group_tables import tables


@pytest.mark.parametrize("name", [*SUBGROUP_TABLES, *PAIR_TABLES])
def test_a_shipped_table_is_what_thermo_has(name: str) -> None:
    folder = files("blendwright.catalogue") / "data" / "group_tables"
    assert (folder / f"{name}.csv").read_text(encoding="utf-8") == tables()[name]


@pytest.mark.parametrize("name", SUBGROUP_TABLES)
def test_subgroups_are_read_as_they_stand_in_thermo(name: str) -> None:
    theirs = {
        number: (one.main_group_id, one.main_group, one.R, one.Q)
        for number, one in getattr(unifac, name).items()
    }
    assert subgroups(name) == theirs


@pytest.mark.parametrize("name", PAIR_TABLES)
def test_pairs_are_read_as_they_stand_in_thermo(name: str) -> None:
    theirs = {
        first: {
            second: pair if isinstance(pair, tuple) else (pair, 0.0, 0.0)
            for second, pair in others.items()
        }
        for first, others in getattr(unifac, name).items()
    }
    assert pairs(name) == theirs


def test_every_table_names_a_source_that_we_have() -> None:
    named = {*SUBGROUP_TABLES.values(), *PAIR_TABLES.values()}
    assert named <= set(default_catalogue().sources)
