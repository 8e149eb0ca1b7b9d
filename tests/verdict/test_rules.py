"""A finding's condition stands in one rule: a block's codes and one blend's findings are its two
readings, and worse numbers are never told more mildly."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

import blendwright
from blendwright.estimate import Estimate
from blendwright.mixture.interval import Interval
from blendwright.verdict import Finding, gravest_first
from blendwright.verdict.findings import SECTIONS
from blendwright.verdict.rule import NAMES, Rule, coded, joined, spoken
from blendwright.verdict.storage import COOL, FILLING, CoolFacts, FillFacts, OneCool

AIR_Pa = 101325.0
pressures_Pa = st.floats(1e2, 1e6)
flashes_C = st.floats(-60.0, 200.0)


def interval(value: float, half: float = 0.0) -> Interval:
    return Interval.from_estimate(Estimate.ok(value, value - half, value + half, "Pa", "test"))


def filling(vapour_Pa: float, bottle: Interval) -> dict[str, int]:
    facts = FillFacts(interval(95.0), interval(97.0), interval(vapour_Pa), bottle, 0.9, AIR_Pa)
    told = [(code, int(severity[0])) for code, severity in coded(FILLING, facts) if severity[0]]
    assert len(dict(told)) == len(told)  # four rules bear the code PRESSURE-WARM: one speaks
    return dict(told)


@given(pressures_Pa, pressures_Pa, pressures_Pa)
def test_more_vapour_pressure_is_never_told_more_mildly(
    vapour_Pa: float, more_Pa: float, air_Pa: float
) -> None:
    less = filling(vapour_Pa, interval(vapour_Pa + air_Pa))
    more = filling(vapour_Pa + more_Pa, interval(vapour_Pa + more_Pa + air_Pa))
    assert more.get("PRESSURE-WARM", 0) >= less.get("PRESSURE-WARM", 0)


@given(pressures_Pa)
def test_a_bottle_that_is_full_of_liquid_is_always_warned_of(vapour_Pa: float) -> None:
    full = Interval.from_estimate(Estimate.absent("Pa", "out_of_range", "liquid-full"))
    assert "PRESSURE-WARM" in filling(vapour_Pa, full)


@given(st.lists(flashes_C, min_size=1, max_size=8))
def test_a_block_reads_a_rule_as_each_blend_alone_does(flashes: list[float]) -> None:
    kelvin = np.array(flashes) + 273.15
    status = np.full(len(flashes), "ok", dtype=object)
    facts = CoolFacts(Interval.of(kelvin, kelvin - 5.0, kelvin + 5.0, status))
    texts, _ = joined(coded(COOL, facts))
    for value, text in zip(kelvin.tolist(), texts, strict=True):
        one = OneCool(Estimate.ok(value, value - 5.0, value + 5.0, "K", "test"), ())
        assert text == ";".join(found.code for found in spoken(COOL, one.facts, one))


@given(st.lists(st.lists(st.integers(0, 3), min_size=4, max_size=4), min_size=1, max_size=6))
def test_the_codes_of_a_block_are_the_findings_gravest_first(table: list[list[int]]) -> None:
    severities = np.array(table)
    texts, has_warning = joined([(f"CODE-{k}", severities[:, k]) for k in range(4)])
    for row, text, warns in zip(table, texts, has_warning, strict=True):
        made = [Finding(f"CODE-{k}", NAMES[s], "", "") for k, s in enumerate(row) if s]
        assert text == ";".join(found.code for found in gravest_first(made))
        assert warns == any(found.severity == "warning" for found in made)


def test_every_code_belongs_to_one_section() -> None:
    def codes(rules: Sequence[Rule[object, object]]) -> set[str]:
        return {rule.code for rule in rules}

    named = [codes(section.rules) for section in SECTIONS]
    assert sum(map(len, named)) == len(set().union(*named))


def test_a_code_stands_in_one_module_only() -> None:
    """So that its condition can't come to stand twice, once for a block and once for one blend."""
    package = Path(blendwright.__file__).parent
    modules = [
        path
        for folder in ("verdict", "mixture", "observations", "app/batch")
        for path in (package / folder).rglob("*.py")
    ]
    texts = {path: path.read_text(encoding="utf-8") for path in modules}
    for code in {rule.code for section in SECTIONS for rule in section.rules}:
        named = [path for path, text in texts.items() if f'"{code}"' in text]
        assert len(named) == 1, (code, named)
