"""So many bottles of so many millilitres, and how full each may be."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendwright.catalogue import default_catalogue
from blendwright.formula.conditions import BENCH_K
from blendwright.mixture.composition import Composition, compose
from blendwright.mixture.storage import adr_fill_pct
from blendwright.questions.volumes.filling import Bottles, FillingError, filling
from blendwright.questions.volumes.volumes import BenchOrder, bench_sheet
from tests.conftest import ESTER_RICH_CONCENTRATE, formula


def blend(*rows: tuple[str, float]) -> Composition:
    find = default_catalogue().find
    return compose([(find(name), grams / 1e3, i) for i, (name, grams) in enumerate(rows)])


ETHANOL = blend(("ethanol", 100.0))
CONCENTRATE = blend(*ESTER_RICH_CONCENTRATE)


@pytest.mark.parametrize(
    ("text", "count", "fill_mL"),
    [("24x30", 24, 30.0), ("24 x 30 mL", 24, 30.0), ("1×0.5", 1, 0.5), ("12*7,5", 12, 7.5)],
)
def test_bottles_as_people_write_them(text: str, count: int, fill_mL: float) -> None:
    made = Bottles.parse(text)
    assert (made.count, made.fill_mL) == (count, fill_mL)


@pytest.mark.parametrize("text", ["24", "x30", "24x", "a few", "0x30", "24x0", "-2x30"])
def test_what_is_no_bottles_is_refused(text: str) -> None:
    with pytest.raises(FillingError):
        Bottles.parse(text)
    with pytest.raises(FillingError, match="to the brim"):
        Bottles(1, 30.0, brim_mL=29.0)
    with pytest.raises(FillingError, match="loss"):
        Bottles(1, 30.0, loss=0.9)


def test_24_bottles_of_30_mL_with_2_per_cent_loss_need_734_4_mL() -> None:
    bottles = Bottles(24, 30.0, loss=0.02)
    assert bottles.total_mL == 720.0
    assert bottles.needed_mL == pytest.approx(734.4)
    sheet = bench_sheet(formula(*ESTER_RICH_CONCENTRATE), BenchOrder(bottles=bottles))
    assert sheet.total_at_fill.interval()[0] * 1e6 == pytest.approx(734.4)


@given(count=st.integers(1, 500), fill_mL=st.floats(1, 1000), fill_C=st.floats(5, 40))
def test_the_scaled_batch_fills_the_bottles_at_the_temperature_of_filling(
    count: int, fill_mL: float, fill_C: float
) -> None:
    order = BenchOrder(bottles=Bottles(count, fill_mL), fill_K=fill_C + 273.15)
    sheet = bench_sheet(formula(("ethyl butyrate", 1), ("propylene glycol", 4)), order)
    assert sheet.total_at_fill.interval()[0] * 1e6 == pytest.approx(count * fill_mL)
    assert sheet.filling is not None
    assert count * sheet.filling.in_each.interval()[0] * 1e3 == pytest.approx(
        sheet.weighing.total_g
    )


def test_the_worked_example_of_adr_4_1_1_4() -> None:
    """d15 0.906, d50 0.864, filled at 20 °C: 94.08 %; at 50 °C 98 %; the colder the less."""
    ratio = 0.906 / 0.864
    assert adr_fill_pct(ratio, 293.15) == pytest.approx(94.08, abs=0.005)
    assert adr_fill_pct(ratio, 323.15) == pytest.approx(98.0)
    assert adr_fill_pct(ratio, 283.15) < adr_fill_pct(ratio, 293.15)


def test_an_overfull_bottle_is_warned_of() -> None:
    """Ethanol (from memory, CRC Handbook: 0.7936 g/mL at 15 °C, 0.7631 at 50 °C): 94.6 % at 20 °C.
    30 mL in 31 to the brim are 96.8 %, in 33 they are 90.9 %."""
    limit = adr_fill_pct(0.7936 / 0.7631, BENCH_K)
    full = filling(ETHANOL, Bottles(1, 30.0, brim_mL=31.0), BENCH_K)
    assert full.fill_pct == pytest.approx(96.77, abs=0.01)
    assert full.fill_pct > limit
    assert [f.code for f in full.findings] == ["BOTTLE-OVERFULL"]
    assert full.findings[0].severity == "warning"
    roomy = filling(ETHANOL, Bottles(1, 30.0, brim_mL=33.0), BENCH_K)
    assert [f.code for f in roomy.findings] == ["BOTTLE-ROOM"]


def test_a_bottle_of_the_smallest_brim_is_just_not_overfull() -> None:
    asked = filling(CONCENTRATE, Bottles(1, 30.0), BENCH_K)
    assert [f.code for f in asked.findings] == ["BOTTLE-BRIM"]
    assert asked.smallest_brim_mL is not None
    for stretch, code in ((1.0001, "BOTTLE-ROOM"), (0.9999, "BOTTLE-OVERFULL")):
        brim = asked.smallest_brim_mL * stretch
        found = filling(CONCENTRATE, Bottles(1, 30.0, brim_mL=brim), BENCH_K)
        assert [f.code for f in found.findings] == [code]


def test_filled_cold_it_needs_more_room() -> None:
    cold, warm = (filling(ETHANOL, Bottles(1, 30.0), k).smallest_brim_mL for k in (278.15, 303.15))
    assert cold is not None
    assert warm is not None
    assert cold > warm


def test_without_a_density_the_volume_is_refused_never_guessed() -> None:
    from dataclasses import replace

    bare = replace(
        default_catalogue().find("ethanol"), name="a base", formula="", data=(), curves=()
    )
    with pytest.raises(FillingError, match="scale by mass"):
        filling(compose([(bare, 1.0, 0)]), Bottles(1, 30.0), BENCH_K)
