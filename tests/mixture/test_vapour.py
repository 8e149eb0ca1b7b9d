"""Boiling blends, and what is in the headspace."""

from __future__ import annotations

import numpy as np
import pytest

from blendwright import assess
from blendwright.catalogue import default_catalogue
from blendwright.mixture.vapour import initial_boiling_point
from blendwright.questions.accuracy.reference import reference
from tests.conftest import formula

AZEOTROPES = reference("azeotropes.csv")


def boiling_error_K(row: dict[str, str]) -> float:
    share = float(row["mass_pct_a"])
    made = assess(formula((row["a"], share), (row["b"], 100 - share)))
    boiling_C = made.estimates["initial_boiling_point"].interval()[0] - 273.15
    return boiling_C - float(row["boiling_point_C_101kPa"])


@pytest.mark.parametrize("row", AZEOTROPES, ids=lambda r: f"{r['a']} + {r['b']}")
def test_azeotrope_boils_within_2_degrees(row: dict[str, str]) -> None:
    """azeotropes.csv (from memory: CRC Handbook, Horsley's table)."""
    assert abs(boiling_error_K(row)) <= 2.0


def test_eight_of_nine_azeotropes_boil_within_1_5_degrees() -> None:
    """azeotropes.csv (from memory: CRC Handbook, Horsley's table)."""
    assert sum(abs(boiling_error_K(row)) <= 1.5 for row in AZEOTROPES) >= 8


def test_a_fifth_of_propylene_glycol_breaks_the_azeotrope() -> None:
    """Fluid Phase Equilib. 130 (1997) 243: ethyl acetate stays the more volatile at every ratio."""
    from blendwright.mixture.composition import compose
    from blendwright.mixture.vapour import partial_pressures_Pa

    catalogue = default_catalogue()
    for ester in np.linspace(0.05, 0.9, 12):
        blend = compose(
            [
                (catalogue.find("ethyl acetate"), 0.8 * ester, 0),
                (catalogue.find("ethanol"), 0.8 * (1 - ester), 0),
                (catalogue.find("propylene glycol"), 0.2, 0),
            ]
        )
        boiling = initial_boiling_point(blend, 101325.0).value
        assert boiling is not None
        ratio = partial_pressures_Pa(blend, boiling) / blend.mole_fractions
        assert ratio[0] > ratio[1], ester


def test_a_pure_substance_boils_at_its_boiling_point() -> None:
    for name, boiling_C in (("water", 100.0), ("ethanol", 78.3), ("ethyl acetate", 77.1)):
        found = assess(formula((name, 1))).estimates["initial_boiling_point"].interval()[0]
        assert found - 273.15 == pytest.approx(boiling_C, abs=0.5)


def test_boiling_point_falls_with_pressure() -> None:
    blend = formula(("ethyl butyrate", 10), ("propylene glycol", 90))
    found = [
        assess(blend, pressure_Pa=p).estimates["initial_boiling_point"].interval()[0]
        for p in (60e3, 80e3, 101.325e3)
    ]
    assert found == sorted(found)


def test_shares_of_vapour_and_flammability_add_up_to_all() -> None:
    made = assess(formula(("ethyl acetate", 3), ("clove bud oil", 2), ("propylene glycol", 95)))
    assert sum(c.vapour_pct for c in made.contributions) == pytest.approx(100)
    assert sum(c.flammability_pct for c in made.contributions) == pytest.approx(100)


def test_ethyl_acetate_needs_about_two_per_cent_in_air() -> None:
    """IEC 60079-20-1: lower flammable limit of ethyl acetate 2.0 vol %."""
    made = assess(formula(("ethyl acetate", 1)))
    limit = made.estimates["lower_flammable_limit"].in_display_units()
    assert limit.value == pytest.approx(2.0, abs=0.05)


PART_WHERE_THEY_BOIL = {
    "isopropanol, benzene, water": (
        ("isopropanol", 43.656), ("benzene", 27.17), ("water", 21.47), 298.0,
    ),
    "isopropanol, cyclohexane, water": (
        ("isopropanol", 46.767), ("cyclohexane", 13.5), ("water", 31.48), 298.2,
    ),
    "isopropanol, 1-heptene, water": (
        ("isopropanol", 64.285), ("1-heptene", 20.3), ("water", 23.8), 298.2,
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", PART_WHERE_THEY_BOIL)
def test_what_parts_where_it_boils_has_an_interval_round_its_boiling_point(name: str) -> None:
    """Near the end of the gap the draws disagree on whether there are layers."""
    *rows, temperature_K = PART_WHERE_THEY_BOIL[name]
    found = assess(formula(*rows), temperature_K).estimates["initial_boiling_point"]
    value, low, high = found.interval()
    assert low < value < high


def test_the_vapour_over_an_unstable_liquid_is_that_of_its_layers() -> None:
    """A split that is certain is found, and lowers the vapour pressure of what parts."""
    from blendwright.mixture.vapour import partial_pressures_Pa, vapour_of
    from blendwright.mixture.weighing import weigh

    for *rows, _ in PART_WHERE_THEY_BOIL.values():
        blend = weigh(formula(*rows), default_catalogue()).composition
        boiling = initial_boiling_point(blend, 101325.0).value
        assert boiling is not None
        assert float(partial_pressures_Pa(blend, boiling).sum()) == pytest.approx(
            101325.0, rel=1e-6
        )
        over = vapour_of(blend)
        here = over.state_at(np.array([boiling]), np.zeros(1, dtype=int))
        alone = over.liquid.at(boiling).ln_gamma(over.x[:, None, :])[:, 0, :]
        single = float(
            (over.x * np.exp(alone + over.curves.ln_pressures(np.array([boiling])))).sum()
        )
        if here.has_split[0]:
            assert single > 101325.0
        else:
            assert single == pytest.approx(101325.0, rel=1e-6)
