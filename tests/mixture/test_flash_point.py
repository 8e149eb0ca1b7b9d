"""Flash points of blends: published ones, and the laws of Liaw's equation."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendwright import assess
from blendwright.catalogue import default_catalogue
from blendwright.mixture.composition import Composition, compose
from blendwright.mixture.flash_point import flash_temperature_K, liaw_terms
from blendwright.questions.accuracy.mixture_flash_points import ideal_flash_K, milder_than_measured
from blendwright.questions.accuracy.reference import reference
from tests.conftest import ESTER_RICH_CONCENTRATE, formula

SPIRITS = reference("flash_point_ethanol_water.csv")


def flash_C(*rows: tuple[str, float] | tuple[str, float, str]) -> float:
    return assess(formula(*rows)).estimates["flash_point_closed_cup"].interval()[0] - 273.15


def spirit_error(row: dict[str, str]) -> float:
    return flash_C(("ethanol", 10, f"{row['ethanol_pct']} % vol")) - float(
        row["flash_closed_cup_C"]
    )


def test_ethanol_and_water_within_2_5_degrees_on_average() -> None:
    """flash_point_ethanol_water.csv: handbook table, widely reprinted, read as % by volume."""
    assert np.mean([abs(spirit_error(row)) for row in SPIRITS]) <= 2.5


@pytest.mark.parametrize(
    "row", [r for r in SPIRITS if float(r["ethanol_pct"]) >= 10], ids=lambda r: r["ethanol_pct"]
)
def test_ethanol_and_water_never_off_by_more_than_5(row: dict[str, str]) -> None:
    """flash_point_ethanol_water.csv, from 10 % by volume up."""
    assert abs(spirit_error(row)) <= 5.0


def test_a_pure_substance_flashes_at_its_own_flash_point() -> None:
    for name in ("ethanol", "ethyl butyrate", "limonene", "propylene glycol"):
        material = default_catalogue().find(name)
        blend = compose([(material, 0.01, 0)])
        own = blend.substances[0].flash.interval()[0]
        assert flash_temperature_K(blend) == pytest.approx(own, abs=1e-5)


def test_three_per_cent_of_a_light_ester_in_glycol_is_flammable_and_said() -> None:
    """Single parameter sets put 3 % ethyl acetate in propylene glycol between 30 and 46 °C; glycols
    hold less than they say, which takes some degrees off."""
    made = assess(formula(("ethyl acetate", 3), ("propylene glycol", 97)))
    value, low, _ = made.estimates["flash_point_closed_cup"].interval()
    assert 23.0 < value - 273.15 < 46.0
    assert low - 273.15 < 60.0
    finding = next(f for f in made.findings if f.code == "FLAMMABLE")
    assert finding.severity == "warning"
    assert "ethyl acetate" in finding.materials
    assert made.flammability.category == "3"
    assert made.flammability.standing == "too_near"


@given(
    parts=st.lists(st.floats(0.01, 1.0), min_size=4, max_size=4),
)
def test_the_residual_of_liaws_equation_is_below_1e_8(parts: list[float]) -> None:
    names = ("ethyl acetate", "ethyl butyrate", "propylene glycol", "water")
    catalogue = default_catalogue()
    blend = compose([(catalogue.find(n), g, 0) for n, g in zip(names, parts, strict=True)])
    found = flash_temperature_K(blend)
    assert found is not None
    assert abs(float(liaw_terms(blend, found).sum()) - 1.0) < 1e-8


@given(share=st.floats(0.02, 0.9), more=st.floats(0.01, 0.09))
def test_more_of_a_light_ester_never_raises_the_flash_point(share: float, more: float) -> None:
    def lead(fraction: float) -> float:
        catalogue = default_catalogue()
        blend = compose(
            [
                (catalogue.find("ethyl acetate"), fraction, 0),
                (catalogue.find("triacetin"), 1 - fraction, 0),
            ]
        )
        found = flash_temperature_K(blend)
        assert found is not None
        return found

    assert lead(share + more) <= lead(share) + 1e-6


def test_water_is_left_out_of_the_sum_but_damps() -> None:
    assert flash_C(("ethanol", 10, "20 % vol")) > flash_C(("ethanol", 10, "60 % vol")) + 8


def test_lower_pressure_lowers_the_flash_point_by_iso_2719() -> None:
    """ISO 2719: 0.25 °C per kPa."""
    blend = formula(("ethyl butyrate", 5), ("propylene glycol", 95))
    sea = assess(blend).estimates["flash_point_closed_cup"].interval()[0]
    high = assess(blend, pressure_Pa=81325.0).estimates["flash_point_closed_cup"].interval()[0]
    assert sea - high == pytest.approx(5.0, abs=1e-6)


def test_a_centigram_in_fifty_grams_hardly_moves_the_answers() -> None:
    """Common practice, no source: 0.01 g on the balance must not matter."""
    rows = [(name, grams / 2) for name, grams in ESTER_RICH_CONCENTRATE]
    plain = assess(formula(*rows)).estimates
    for i, (name, grams) in enumerate(rows):
        nudged = assess(formula(*rows[:i], (name, grams + 0.01), *rows[i + 1 :])).estimates
        density = [e["density"].interval()[0] for e in (plain, nudged)]
        flash = [e["flash_point_closed_cup"].interval()[0] for e in (plain, nudged)]
        assert abs(density[1] / density[0] - 1) < 1e-4, name
        assert abs(flash[1] - flash[0]) < 0.5, name


def test_nothing_that_burns_is_not_applicable() -> None:
    made = assess(formula(("water", 10)))
    assert made.estimates["flash_point_closed_cup"].status == "not_applicable"
    assert made.flammability.category == "none"


def test_a_volatile_without_groups_makes_the_flash_point_unknown_never_safe() -> None:
    """p-Cymene without its groups: left out, and the answer says so."""
    from dataclasses import replace

    catalogue = default_catalogue()
    limonene = replace(catalogue.find("limonene"), groups={})

    class Stub(type(catalogue)):  # type: ignore[misc]
        def __init__(self) -> None:
            pass

        def find(self, name: str) -> object:
            return limonene if name == "limonene" else catalogue.find(name)

        def material(self, name: str) -> object:
            return self.find(name)

        def version(self) -> str:
            return "stub"

    made = assess(formula(("limonene", 1), ("propylene glycol", 99)), catalogue=Stub())
    assert made.estimates["flash_point_closed_cup"].status == "unknown"
    assert made.flammability.category == "unknown"
    assert made.flammability.standing == "unknown"
    assert [out.material for out in made.left_out] == ["limonene"]
    assert made.has_warning


@given(share=st.floats(0.02, 0.9), more=st.floats(0.01, 0.5))
def test_in_an_ideal_blend_a_heavier_part_never_lowers_the_flash_point(
    share: float, more: float
) -> None:
    """Raoult and Le Chatelier: the sum over the lighter parts can only shrink."""
    find = default_catalogue().find

    def blend(heavy: float) -> Composition:
        parts = [(find("ethyl acetate"), share, 0), (find("ethyl butyrate"), 1 - share, 1)]
        return compose([*parts, (find("triethyl citrate"), heavy, 2)] if heavy else parts)

    before, after = ideal_flash_K(blend(0.0)), ideal_flash_K(blend(more))
    assert before is not None
    assert after is not None
    assert after >= before - 1e-6


def test_a_reported_minimum_flash_blend_is_confirmed_by_a_scan() -> None:
    """Ethanol and octane: lower than either, as published for such pairs (Liaw et al. 2002)."""
    made = assess(formula(("ethanol", 30), ("octane", 70)))
    assert any(f.code == "MINIMUM-FLASH" for f in made.findings)
    scan = [
        assess(formula(("ethanol", e), ("octane", 100 - e)))
        .estimates["flash_point_closed_cup"]
        .interval()[0]
        for e in (0.5, 10, 20, 40, 60, 80, 95, 99.5)
    ]
    lowest = made.estimates["flash_point_closed_cup"].interval()[0]
    assert lowest < scan[0] - 1.0
    assert lowest < scan[-1] - 1.0
    assert min(scan) == pytest.approx(lowest, abs=2.0)
    plain = assess(formula(("ethyl acetate", 30), ("ethyl butyrate", 70)))
    assert not any(f.code == "MINIMUM-FLASH" for f in plain.findings)


@given(kPa=st.lists(st.floats(30.0, 110.0), min_size=2, max_size=2, unique=True))
def test_the_flash_point_rises_with_the_air_pressure(kPa: list[float]) -> None:
    blend = formula(*ESTER_RICH_CONCENTRATE)
    low, high = (
        assess(blend, pressure_Pa=p * 1e3).estimates["flash_point_closed_cup"].interval()[0]
        for p in sorted(kPa)
    )
    assert low < high


@given(factor=st.floats(1e-3, 1e4), turn=st.integers(0, 9))
def test_the_answer_knows_neither_batch_size_nor_row_order(factor: float, turn: int) -> None:
    rows = ESTER_RICH_CONCENTRATE[turn:] + ESTER_RICH_CONCENTRATE[:turn]
    plain = assess(formula(*ESTER_RICH_CONCENTRATE)).estimates
    scaled = assess(formula(*((name, grams * factor) for name, grams in rows))).estimates
    for name in ("flash_point_closed_cup", "initial_boiling_point", "vapour_pressure"):
        assert scaled[name].value == pytest.approx(plain[name].value, rel=1e-7)
        assert scaled[name].low == pytest.approx(plain[name].low, rel=1e-6)


def test_none_is_measured_in_a_worse_category_than_it_is_treated_as() -> None:
    """All published closed-cup mixtures here, clear of the limit or not."""
    found = milder_than_measured()
    assert found.n > 20
    assert found.missed == ()


def test_layers_over_ice_don_t_hide_a_flash_point() -> None:
    """Where a state on the way did not converge no flash point was found, and that one was said to
    be out of range: light sulfides in water flash at the bench."""
    made = assess(
        formula(
            ("2-methoxy-3-methylpyrazine", 3.333), ("trans,trans-2,4-nonadienal", 3.798),
            ("hexyl formate", 2.503), ("ethyl methyl sulfide", 1.757), ("trans-2-nonenal", 2.201),
            ("2-methylbutyl isovalerate", 0.619), ("2-hydroxyacetophenone", 2.117),
            ("cyclopentadecanolide", 0.641), ("alpha-hexylcinnamaldehyde", 0.29),
            ("methyl valerate", 0.801), ("hexyl benzoate", 0.283), ("water", 81.656),
        )
    )  # fmt: skip
    flash = made.estimates["flash_point_closed_cup"]
    assert flash.status != "out_of_range"
    assert made.flammability.treat_as != "none"
