"""What was seen of layers counts in another blend by what the two Gibbs energies share."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendwright import Formula, assess
from blendwright.app.batch import assess_many
from blendwright.catalogue import default_catalogue
from blendwright.mixture.composition import Composition
from blendwright.mixture.weighing import weigh
from blendwright.observations.layer_correlation import doubt, layer_correlation
from blendwright.observations.similarity import LOOKS_REACH, REACH, fading
from tests.conftest import formula
from tests.observations.test_observed_blend import saw

ROOM_K = 293.15


def ester_in_glycol(ester: str, grams: float) -> Formula:
    return formula((ester, grams), ("propylene glycol", 10.0 - grams))


def composition(of: Formula) -> Composition:
    return weigh(of, default_catalogue()).composition


def rho(one: Formula, other: Formula, alike: float = 0.0) -> float:
    first, second = composition(one), composition(other)
    return layer_correlation(doubt(first, ROOM_K), doubt(second, ROOM_K), alike)


ESTERS = st.sampled_from(("isoamyl acetate", "hexyl acetate", "ethyl hexanoate", "limonene"))
GRAMS = st.floats(0.5, 4.0)


@given(ESTERS, GRAMS, ESTERS, GRAMS, st.floats(0.0, 1.0))
def test_it_is_a_correlation(one: str, less: float, other: str, more: float, alike: float) -> None:
    first, second = ester_in_glycol(one, less), ester_in_glycol(other, more)
    assert 0.0 <= rho(first, second, alike) <= 1.0
    assert rho(first, second, alike) == pytest.approx(rho(second, first, alike))
    assert rho(first, first, 1.0) == pytest.approx(1.0)
    assert rho(first, second, alike) >= rho(first, second, 0.0) - 1e-12


def test_another_dose_of_the_same_pair_shares_nearly_all_an_unlike_oil_little() -> None:
    here = ester_in_glycol("isoamyl acetate", 1.5)
    assert rho(here, ester_in_glycol("isoamyl acetate", 1.1)) > 0.7
    assert rho(here, ester_in_glycol("limonene", 0.5)) < 0.4


def test_a_blend_seen_clear_speaks_for_more_carrier_and_for_less() -> None:
    """15 % isoamyl acetate in propylene glycol was one liquid at 20 °C."""
    seen = [saw(ester_in_glycol("isoamyl acetate", 1.5), "clear", ROOM_K)]
    chances = []
    for grams in (1.3, 1.5, 1.7):
        before, after = (
            assess(ester_in_glycol("isoamyl acetate", grams), ROOM_K, observations=o)
            for o in ((), seen)
        )
        assert before.chance_of_layers is not None
        assert after.chance_of_layers is not None
        assert after.chance_of_layers < before.chance_of_layers
        chances.append((before.chance_of_layers, after.chance_of_layers))
    assert all(now < 0.5 * then for then, now in chances[:2])
    assert chances[0][1] < chances[1][1] < chances[2][1]  # more of it is less sure


def test_what_was_seen_fades_to_nothing_where_its_reach_ends() -> None:
    assert fading(REACH) == 1.0
    assert fading(LOOKS_REACH) == 0.0
    assert fading(LOOKS_REACH + 0.1) == 0.0
    far = formula(("isoamyl acetate", 1.5), ("triacetin", 8.5))
    seen = [saw(ester_in_glycol("isoamyl acetate", 1.5), "cloudy", ROOM_K)]
    assert assess(far, ROOM_K, observations=seen).to_dict() == assess(far, ROOM_K).to_dict()


def test_a_batch_counts_a_look_as_an_assessment_does() -> None:
    seen = [saw(ester_in_glycol("isoamyl acetate", 1.5), "clear", ROOM_K)]
    rows = [ester_in_glycol("isoamyl acetate", grams) for grams in (1.2, 5.5)]
    made = assess_many(rows, observations=seen).to_pylist()
    for row, one in zip(made, rows, strict=True):
        there = assess(one, observations=seen)
        assert row["chance_of_layers"] == pytest.approx(there.chance_of_layers)
        assert row["findings"] == ";".join(f.code for f in there.findings)
