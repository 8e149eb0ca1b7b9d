"""The same question has one answer everywhere: at every bench, in every command, on every paper."""

from __future__ import annotations

import math

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from blendwright.batch.columns import columns
from blendwright.blend import Blend
from blendwright.catalogue import Catalogue, default_catalogue
from blendwright.conditions import BENCH_K, ATMOSPHERE_Pa
from blendwright.weighing import weigh
from tests.conftest import formula

OF_THE_FORMULA = frozenset({"flash", "boiling"})
BENCHES_K = st.floats(258.15, 353.15)


def rows(*pairs: tuple[str, float]) -> tuple[tuple[str, float], ...]:
    return pairs


# One liquid, one that parts in the cold, one that parts, crystals in plenty, in the cold, an oil in
# spirit, a solid melting near the bench
BLENDS = (
    rows(("ethyl butyrate", 10.0), ("propylene glycol", 90.0)),
    rows(("isoamyl acetate", 6.0), ("hexyl acetate", 5.0), ("propylene glycol", 60.0)),
    rows(("limonene", 10.0), ("propylene glycol", 90.0)),
    rows(("vanillin", 40.0), ("ethanol", 20.0), ("water", 60.0)),
    rows(("menthol", 30.0), ("ethyl butyrate", 5.0), ("propylene glycol", 65.0)),
    rows(("cardamom oil", 4.0), ("ethanol", 60.0), ("water", 40.0)),
    rows(("anethole", 8.0), ("thymol", 6.0), ("ethanol", 20.0), ("propylene glycol", 66.0)),
)


def of_the_formula(blend: Blend) -> tuple[object, ...]:
    return (
        blend.flash.estimate,
        blend.boiling,
        [(c.category, c.standing, c.reasons) for c in blend.classings],
    )


@settings(max_examples=20, suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from(BLENDS), BENCHES_K, st.sampled_from([70e3, ATMOSPHERE_Pa]))
def test_flash_and_boiling_point_and_class_belong_to_the_formula_and_the_air(
    pairs: tuple[tuple[str, float], ...], bench_K: float, pressure_Pa: float
) -> None:
    weighing = weigh(formula(*pairs), default_catalogue())
    here, there = Blend(weighing, bench_K, pressure_Pa), Blend(weighing, BENCH_K, pressure_Pa)
    assert of_the_formula(here) == of_the_formula(there)


@settings(max_examples=10, suppress_health_check=[HealthCheck.too_slow])
@given(BENCHES_K)
def test_they_do_so_in_a_batch(bench_K: float) -> None:
    weighings = [weigh(formula(*pairs), default_catalogue()) for pairs in BLENDS]
    here = columns(weighings, bench_K, ATMOSPHERE_Pa, OF_THE_FORMULA)
    there = columns(weighings, BENCH_K, ATMOSPHERE_Pa, OF_THE_FORMULA)
    for name, values in there.items():
        for one, other in zip(here[name], values, strict=True):
            if isinstance(other, float) and math.isnan(other):
                assert math.isnan(one)
            elif isinstance(other, float):
                assert one == pytest.approx(other, abs=1e-6), name
            else:
                assert one == other, name


def test_some_of_these_blends_part_at_one_bench_and_not_at_another(catalogue: Catalogue) -> None:
    """Else the rules above would say nothing."""
    words = [
        {
            Blend(weigh(formula(*pairs), catalogue), kelvin, ATMOSPHERE_Pa).may_split
            for kelvin in (263.15, 293.15, 343.15)
        }
        for pairs in BLENDS
    ]
    assert sum(len(found) == 2 for found in words) >= 2
