"""The learned excess Gibbs energy: laws that its form and its learned terms keep, and published
measurements that it gives back."""

from __future__ import annotations

import csv
import math
from dataclasses import replace
from importlib.resources import files

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blendwright.catalogue import Material, default_catalogue
from blendwright.estimate import NORMAL_90
from blendwright.mixture.activity import activity_model
from blendwright.mixture.excess import (
    BASE_SETS,
    DRAWS,
    ExcessTerms,
    descriptor,
    excess_terms,
    fusion_factors,
    ln_gamma_excess,
)
from blendwright.mixture.excess.learned import learned_weights
from blendwright.mixture.excess.measurement import (
    Measurement,
    Shift,
    crystal_measurement,
    moved,
    shifts_of,
    terms_with,
)
from blendwright.mixture.parameter_sets import PARAMETER_SETS
from blendwright.mixture.weighing import resolve
from blendwright.pure.constants import PureConstants, pure_constants
from blendwright.questions.accuracy.reference import reference

NAMES = (
    "water",
    "ethanol",
    "propylene glycol",
    "limonene",
    "ethyl acetate",
    "vanillin",
    "linalool",
    "triacetin",
)


def material(name: str) -> Material:
    return resolve(name, default_catalogue())


def terms_of(*names: str) -> ExcessTerms:
    return excess_terms([material(name) for name in names])


@pytest.fixture(scope="module")
def terms() -> ExcessTerms:
    return terms_of(*NAMES)


fractions = st.lists(
    st.floats(0.0, 1.0), min_size=len(NAMES), max_size=len(NAMES)
).filter(lambda values: sum(values) > 0.1)  # fmt: skip
kelvins = st.floats(233.0, 423.0)


def shares(values: list[float]) -> np.ndarray:
    x = np.maximum(np.array(values), 1e-6)
    return np.asarray(x / x.sum())


@settings(max_examples=40, deadline=None)
@given(values=fractions, kelvin=kelvins)
def test_ln_gamma_is_the_derivative_of_the_gibbs_energy(
    terms: ExcessTerms, values: list[float], kelvin: float
) -> None:
    at = terms.at(kelvin)
    n = shares(values)
    step = 1e-6 * np.maximum(n, 1e-3)

    def energy(amounts: np.ndarray) -> np.ndarray:
        return np.asarray(amounts.sum() * at.excess(amounts / amounts.sum()))

    moved = [np.diag(step)[k] for k in range(len(n))]
    slope = np.array([(energy(n + d) - energy(n - d)) / (2.0 * d.sum()) for d in moved]).T
    assert slope == pytest.approx(at.ln_gamma(n), rel=1e-4, abs=1e-5)


@settings(max_examples=40, deadline=None)
@given(values=fractions, towards=fractions, kelvin=kelvins)
def test_gibbs_duhem(
    terms: ExcessTerms, values: list[float], towards: list[float], kelvin: float
) -> None:
    """sum x_i d ln gamma_i = 0 along any line, by a fourth-order central difference."""
    at = terms.at(kelvin)
    x = shares(values)
    step = 1e-4 * x * (shares(towards) - x)
    step -= x * step.sum()
    change = (
        8.0 * (at.ln_gamma(x + step) - at.ln_gamma(x - step))
        - at.ln_gamma(x + 2.0 * step)
        + at.ln_gamma(x - 2.0 * step)
    ) / 12.0
    assert change @ x == pytest.approx(0.0, abs=1e-10)


def test_the_excess_energy_is_the_mean_of_ln_gamma(terms: ExcessTerms) -> None:
    x = np.random.default_rng(1).dirichlet(np.ones(len(NAMES)), 20)
    at = terms.at(300.0)
    assert (at.ln_gamma(x) * x).sum(axis=-1) == pytest.approx(at.excess(x), abs=1e-12)


def test_a_pure_substance_has_no_excess(terms: ExcessTerms) -> None:
    ln_gamma = terms.at(300.0).ln_gamma(np.eye(len(NAMES)))
    assert np.diagonal(ln_gamma, axis1=1, axis2=2) == pytest.approx(0.0, abs=1e-12)


def test_the_order_of_the_substances_changes_nothing(terms: ExcessTerms) -> None:
    order = [5, 2, 7, 0, 1, 6, 4, 3]
    other = terms_of(*(NAMES[k] for k in order))
    x = np.random.default_rng(2).dirichlet(np.ones(len(NAMES)), 10)
    expected = terms.at(310.0).ln_gamma(x)[..., order]
    assert other.at(310.0).ln_gamma(x[:, order]) == pytest.approx(expected, abs=1e-12)


def test_which_other_substances_are_there_changes_nothing(terms: ExcessTerms) -> None:
    few = terms_of("ethanol", "limonene", "water")
    x = np.random.default_rng(3).dirichlet(np.ones(3), 10)
    whole = np.zeros((10, len(NAMES)))
    whole[:, [1, 3, 0]] = x
    expected = terms.at(290.0).ln_gamma(whole)[..., [1, 3, 0]]
    assert few.at(290.0).ln_gamma(x) == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize("odd", NAMES)
def test_a_trace_of_anything_changes_nothing(terms: ExcessTerms, odd: str) -> None:
    x = np.random.default_rng(4).dirichlet(np.ones(len(NAMES)), 10)
    x[:, NAMES.index(odd)] = 0.0
    x /= x.sum(axis=1, keepdims=True)
    trace = x + 1e-9 * np.eye(len(NAMES))[NAMES.index(odd)]
    at = terms.at(300.0)
    others = [k for k, name in enumerate(NAMES) if name != odd]
    moved = at.ln_gamma(trace / trace.sum(axis=1, keepdims=True)) - at.ln_gamma(x)
    assert moved[..., others] == pytest.approx(0.0, abs=1e-6)


def test_a_substance_written_as_two_halves_counts_as_one() -> None:
    """In every sum, with water, a cosolvent and a second oil beside."""
    names = ("limonene", "ethanol", "water", "linalool")
    once, twice = terms_of(*names), terms_of("limonene", *names)
    x = np.random.default_rng(5).dirichlet(np.ones(4), 20)
    halves = np.column_stack([x[:, :1] / 2.0, x[:, :1] / 2.0, x[:, 1:]])
    expected, found = once.at(300.0).ln_gamma(x), twice.at(300.0).ln_gamma(halves)
    assert found[..., 1:] == pytest.approx(expected, abs=1e-12)
    assert found[..., 0] == pytest.approx(expected[..., 0], abs=1e-12)


def test_padding_changes_nothing(terms: ExcessTerms) -> None:
    index = np.array([[1, 3, 0], [4, 2, 4]])
    x = np.array([[0.5, 0.2, 0.3], [0.6, 0.4, 0.0]])
    kelvins = np.array([290.0, 330.0])
    gathered = terms.gather(index).at(kelvins).ln_gamma(x)
    for blend, kelvin in enumerate(kelvins):
        whole = np.zeros(len(NAMES))
        np.add.at(whole, index[blend], x[blend])
        expected = terms.at(float(kelvin)).ln_gamma(whole)[:, index[blend]]
        assert gathered[:, blend] == pytest.approx(expected, abs=1e-12)


def test_one_set_by_itself_and_rows_of_a_blend_are_the_same_numbers(terms: ExcessTerms) -> None:
    gathered = terms.gather(np.array([[1, 3, 0], [4, 2, 5]])).at(300.0)
    x = np.random.default_rng(6).dirichlet(np.ones(3), (2, 4))
    many = gathered.ln_gamma(x)
    assert many.shape == (1 + DRAWS, 2, 4, 3)
    assert gathered.one(3).ln_gamma(x) == pytest.approx(many[3], abs=1e-14)
    assert gathered.ln_gamma(x[:, 2]) == pytest.approx(many[:, :, 2], abs=1e-14)


@pytest.mark.parametrize(
    ("one", "other", "most"),
    [
        ("ethyl acetate", "isoamyl acetate", 0.15),
        ("ethyl butyrate", "isoamyl acetate", 0.15),
        ("limonene", "alpha-pinene", 0.25),
        ("vanillin", "ethyl vanillin", 0.25),
        ("linalool", "geraniol", 0.25),
    ],
)
def test_alike_molecules_stay_near_ideal(one: str, other: str, most: float) -> None:
    """The learned ln gamma at infinite dilution, mean and 90 % of the draws."""
    at = terms_of(one, other).at(298.15)
    ln_gamma = np.abs(at.ln_gamma(np.array([1e-9, 1.0 - 1e-9]))[:, 0])
    assert ln_gamma[0] < most
    assert np.mean(ln_gamma[1:] < 2.0 * most) >= 0.9


def test_molecules_of_the_same_groups_have_no_terms_of_a_pair() -> None:
    """Isomers that no base set tells apart."""
    terms = terms_of("nerol", "geraniol")
    assert descriptor(material("nerol")).shares == descriptor(material("geraniol")).shares
    assert np.abs(terms.c0).max() < 1e-6
    assert np.abs(terms.d0).max() < 1e-6


def _ln_gamma_infinite(solute: Material, solvent: Material, kelvin: float) -> tuple[float, float]:
    """Base and learned, mean and standard deviation."""
    x = np.array([1e-9, 1.0 - 1e-9])
    base = np.mean(
        [
            activity_model(
                PARAMETER_SETS[s],
                [m.groups[PARAMETER_SETS[s].groups_of] for m in (solute, solvent)],
            ).ln_gamma(x, kelvin)[0]
            for s in BASE_SETS
        ]
    )
    learned = ln_gamma_excess(excess_terms([solute, solvent]), x, kelvin)[:, 0]
    return float(base + learned[0]), float(learned[1:].std())


@pytest.mark.parametrize(
    "row",
    reference("activity_in_propylene_glycol.csv"),
    ids=lambda r: f"{r['solute']}: {r['source']}",
)
def test_hydrocarbons_in_propylene_glycol_as_published(row: dict[str, str]) -> None:
    """Infinite dilution, to 0.35 in ln gamma: the published values stand for 10 to 25 %."""
    kelvin = float(row["temperature_K"])
    found, sd = _ln_gamma_infinite(material(row["solute"]), material("propylene glycol"), kelvin)
    published = math.log(float(row["activity_coefficient_infinite_dilution"]))
    assert found == pytest.approx(published, abs=0.35)
    assert sd < 0.4


def test_draws_stand_about_the_mean(terms: ExcessTerms) -> None:
    x = np.random.default_rng(7).dirichlet(np.ones(len(NAMES)), 200)
    ln_gamma = terms.at(298.15).ln_gamma(x)
    spread = ln_gamma[1:].std(axis=0)
    off = np.abs(ln_gamma[1:].mean(axis=0) - ln_gamma[0])
    assert np.mean(off < spread) > 0.9


# Crystals


def test_a_crystal_without_a_measurement_has_a_wider_factor_than_one_with() -> None:
    seen, unseen = material("vanillin"), material("piperonal")
    factors = fusion_factors([seen, unseen], [pure_constants(m).fusion for m in (seen, unseen)])
    assert factors.shape == (1 + DRAWS, 2)
    assert (factors > 0.0).all()
    assert factors[1:, 0].std() < factors[1:, 1].std() * 1.5


# A person's own measurement


def pures(*names: str) -> tuple[PureConstants, ...]:
    return tuple(pure_constants(material(name)) for name in names)


def vanillin_in(carrier: str, x: float, kelvin: float, half_K: float = 2.0) -> Measurement:
    return crystal_measurement(
        pures("vanillin", carrier), np.array([x, 1.0 - x]), 0, kelvin, half_K
    )


def predicted(one: Measurement, *shifts: Shift) -> tuple[float, float]:
    """Value and standard deviation of what a measurement is of."""
    terms, factors = terms_with(one.pures, shifts)
    spread = one.spread(terms, factors)
    return float(one.predicted(terms, factors)[0]), float(np.sqrt((spread**2).mean()))


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10_000), noise=st.floats(0.01, 2.0), off=st.floats(-3.0, 3.0))
def test_the_update_is_that_of_a_linear_row(seed: int, noise: float, off: float) -> None:
    """Inside the model's interval the variance falls to v r2 / (v + r2), as in a Gaussian
    process; beyond it the value goes further, and the variance no further than r2."""
    spread = np.random.default_rng(seed).standard_normal(DRAWS)
    before = float((spread**2).mean())
    step, left = moved(spread, off, noise)
    after = float((left**2).mean())
    assert 0.0 <= step / off <= 1.0 if off else step == 0.0
    assert after <= min(before, noise**2) + 1e-12
    row = before * noise**2 / (before + noise**2)
    assert after >= row - 1e-12
    if abs(off) <= NORMAL_90 * math.sqrt(before):
        assert after == pytest.approx(row)
        assert step == pytest.approx(before / (before + noise**2) * off)


@settings(max_examples=25, deadline=None)
@given(
    measured=st.sampled_from(("propylene glycol", "ethanol", "triacetin", "water")),
    asked=st.sampled_from(("propylene glycol", "ethanol", "triacetin", "water", "limonene")),
    x=st.floats(0.001, 0.3), there=st.floats(0.001, 0.5), kelvin=st.floats(270.0, 330.0),
)  # fmt: skip
def test_a_measurement_never_widens_the_crystal_in_any_carrier(
    measured: str, asked: str, x: float, there: float, kelvin: float
) -> None:
    shifts = shifts_of([vanillin_in(measured, x, kelvin)])
    other = vanillin_in(asked, there, 298.15)
    (_, before), (_, after) = predicted(other), predicted(other, *shifts)
    assert after <= before * (1.0 + 1e-9)


@settings(max_examples=25, deadline=None)
@given(
    moles=st.lists(st.floats(0.05, 1.0), min_size=4, max_size=4), kelvin=st.floats(270.0, 330.0),
    half_K=st.floats(0.1, 10.0), off=st.floats(-3.0, 3.0),
)  # fmt: skip
def test_a_measured_blend_is_never_less_certain_nor_more_than_by_model_and_measurement(
    moles: list[float], kelvin: float, half_K: float, off: float
) -> None:
    x = np.array(moles) / sum(moles)
    four = pures("vanillin", "ethyl butyrate", "ethanol", "propylene glycol")
    made = crystal_measurement(four, x, 0, kelvin, half_K)
    value, before = predicted(made)
    made = replace(made, value=value + off * before)
    after_value, after = predicted(made, *shifts_of([made]))
    assert after <= before * (1.0 + 1e-9)
    both = 1.0 / math.sqrt(1.0 / before**2 + 1.0 / made.noise**2)
    assert after >= both * (1.0 - 1e-9)
    assert min(value, made.value) - 1e-9 <= after_value <= max(value, made.value) + 1e-9


def test_the_measured_blend_takes_the_measurement_and_a_second_one_narrows_it() -> None:
    one = vanillin_in("propylene glycol", 0.053, 291.15)
    value, before = predicted(one)
    first = shifts_of([one])
    moved_to, once = predicted(one, *first)
    _, twice = predicted(one, *shifts_of([one, one]))
    assert abs(moved_to - one.value) < 0.05 * abs(value - one.value)
    assert twice < once < before
    assert once <= one.noise


def test_a_contradiction_is_followed_and_leaves_no_less_than_its_own_error() -> None:
    plain = vanillin_in("propylene glycol", 0.053, 291.15)
    _, sd = predicted(plain)
    far = replace(plain, value=predicted(plain)[0] + 12.0 * sd)
    moved_to, after = predicted(far, *shifts_of([far]))
    assert abs(moved_to - far.value) < far.noise
    assert after == pytest.approx(far.noise, rel=0.02)


def test_a_measurement_leaves_pairs_of_other_substances_alone() -> None:
    shifts = shifts_of([vanillin_in("propylene glycol", 0.053, 291.15)])
    three = pures("vanillin", "propylene glycol", "limonene")
    (plain, plain_factors), (terms, factors) = terms_with(three), terms_with(three, shifts)
    for name in ("c0", "c1", "d0", "a0"):
        assert (getattr(terms, name)[:, 1, 2] == getattr(plain, name)[:, 1, 2]).all()
        assert (getattr(terms, name)[:, 2, 1] == getattr(plain, name)[:, 2, 1]).all()
    assert (terms.c0[:, 0, 1] != plain.c0[:, 0, 1]).any()
    np.testing.assert_allclose(terms.c0, np.swapaxes(terms.c0, 1, 2))
    np.testing.assert_allclose(terms.d0, -np.swapaxes(terms.d0, 1, 2))
    assert (factors[:, 1:] == plain_factors[:, 1:]).all()


# The shipped tables


def _effects_table() -> list[dict[str, str]]:
    text = (files("blendwright.mixture.excess") / "effects.csv").read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))


def test_the_table_for_people_holds_every_learned_weight() -> None:
    table = _effects_table()
    weights = learned_weights()
    assert len(table) == len(weights.identity)
    assert (np.diff(weights.identity.astype(float)) >= 0.0).all()
    in_units = np.sort([float(r["mean"]) / max(float(r["prior_sd"]), 1e-3) for r in table])
    assert in_units == pytest.approx(np.sort(weights.values[0]), abs=0.5)


def test_no_measurement_made_a_weight_less_certain_than_before() -> None:
    for row in _effects_table():
        assert float(row["sd"]) <= float(row["prior_sd"]) + 1e-3, row


def test_draws_have_the_standard_deviations_of_the_table() -> None:
    """Over all weights, as 16 draws of one say little."""
    claimed = np.array([float(r["sd"]) / max(float(r["prior_sd"]), 1e-3) for r in _effects_table()])
    values = learned_weights().values
    spread = np.sqrt(((values[1:] - values[0]) ** 2).mean())
    assert spread == pytest.approx(np.sqrt((claimed**2).mean()), rel=0.05)
