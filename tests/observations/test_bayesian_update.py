"""The rule for numbers and for looks: laws that hold whatever was measured."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendwright.estimate import Estimate
from blendwright.observations.bayesian_update import Residual, adjusted
from blendwright.observations.similarity import LENGTH, REACH, Features, correlation, correlations
from blendwright.observations.visual_observations import (
    VisualObservation,
    chance_after,
    likelihood_ratio,
)

offs = st.floats(-60.0, 60.0)
sides = st.floats(0.5, 40.0)
halves = st.floats(0.1, 30.0)
chances = st.floats(0.001, 0.999)
rhos = st.floats(0.0, 1.0)
kelvins = st.floats(260.0, 340.0)
shares = st.lists(st.floats(0.0, 1.0), min_size=4, max_size=4).filter(lambda w: sum(w) > 0.1)


def estimate(value: float, below: float, above: float) -> Estimate:
    return Estimate.ok(value, value - below, value + above, "K", "a model")


def features(weights: list[float]) -> Features:
    total = sum(weights)
    return Features({name: w / total for name, w in zip("abcd", weights, strict=True)}, {})


@st.composite
def situations(draw: st.DrawFn) -> tuple[Estimate, Features, list[tuple[Features, float, float]]]:
    prior = estimate(320.0, draw(sides), draw(sides))
    seen = st.tuples(shares.map(features), offs, halves)
    return prior, draw(shares.map(features)), draw(st.lists(seen, min_size=1, max_size=6))


def after(
    prior: Estimate,
    here: Features,
    seen: list[tuple[Features, float, float]],
    low_counts_fully: bool = False,
) -> tuple[float, float, float]:
    model = estimate(300.0, 12.0, 20.0)
    residuals = [
        Residual(300.0 + off, half, model, correlation(there.distance(here)))
        for there, off, half in seen
    ]
    return adjusted(prior, residuals, correlations([p for p, _, _ in seen]), low_counts_fully)


@given(situations(), st.booleans())
def test_observations_never_widen_the_interval(
    made: tuple[Estimate, Features, list[tuple[Features, float, float]]], fire: bool
) -> None:
    prior, here, seen = made
    value, low, high = after(prior, here, seen, fire)
    assert low <= value <= high
    _, before_low, before_high = prior.interval()
    assert high - low <= before_high - before_low + 1e-9


@given(situations())
def test_each_further_observation_narrows_it_or_leaves_it(
    made: tuple[Estimate, Features, list[tuple[Features, float, float]]],
) -> None:
    prior, here, seen = made
    widths = []
    for n in range(1, len(seen) + 1):
        _, low, high = after(prior, here, seen[:n])
        widths.append(high - low)
    assert all(b <= a + 1e-9 for a, b in pairwise(widths))


@given(situations(), st.booleans(), st.randoms(use_true_random=False))
def test_the_order_of_observations_does_not_matter(
    made: tuple[Estimate, Features, list[tuple[Features, float, float]]], fire: bool, random: object
) -> None:
    prior, here, seen = made
    mixed = list(seen)
    random.shuffle(mixed)  # type: ignore[attr-defined]
    assert after(prior, here, mixed, fire) == pytest.approx(after(prior, here, seen, fire))


@given(sides, sides, offs, halves)
def test_of_the_same_blend_the_answer_lies_between_model_and_measurement(
    below: float, above: float, off: float, half: float
) -> None:
    prior = estimate(320.0, below, above)
    one = Residual(320.0 + off, half, prior, 1.0)
    value, _, _ = adjusted(prior, [one], np.ones((1, 1)))
    assert min(320.0, 320.0 + off) - 1e-9 <= value <= max(320.0, 320.0 + off) + 1e-9


def test_a_precise_measurement_of_the_same_blend_is_nearly_taken() -> None:
    prior = estimate(320.0, 15.0, 15.0)
    value, low, high = adjusted(prior, [Residual(330.0, 1.0, prior, 1.0)], np.ones((1, 1)))
    assert value == pytest.approx(330.0, abs=0.1)
    assert high - low == pytest.approx(2.0, abs=0.1)


@given(sides, st.floats(1.0, 60.0), st.floats(0.1, 10.0), st.booleans())
def test_far_from_the_model_the_measurement_of_the_same_blend_holds(
    side: float, beyond: float, half: float, fire: bool
) -> None:
    """Off by more than twice the model's interval and its own: the answer is within its ±."""
    prior = estimate(320.0, side, side)
    off = 2.0 * (side + half) + beyond
    for sign in (-1.0,) if fire else (-1.0, 1.0):
        one = Residual(320.0 + sign * off, half, prior, 1.0)
        value, _, _ = adjusted(prior, [one], np.ones((1, 1)), fire)
        assert abs(value - one.measured) <= half


@given(situations(), st.booleans())
def test_blends_out_of_reach_change_nothing(
    made: tuple[Estimate, Features, list[tuple[Features, float, float]]], fire: bool
) -> None:
    prior, _, seen = made
    far = Features({"something else": 1.0}, {})
    assert after(prior, far, seen, fire) == prior.interval()


@given(sides, st.floats(0.0, REACH), st.floats(0.5, 60.0), halves)
def test_a_lower_flash_point_counts_in_full_a_higher_one_by_correlation(
    side: float, distance: float, off: float, half: float
) -> None:
    prior = estimate(320.0, side, side)
    rho = correlation(distance)

    def shift(measured: float) -> float:
        one = Residual(measured, half, prior, rho)
        return adjusted(prior, [one], np.ones((1, 1)), True)[0] - 320.0

    full = off / (1.0 + (half / side) ** 2)
    seen = off / (1.0 + (half / max(side, off)) ** 2)
    assert shift(320.0 - off) == pytest.approx(-seen)
    assert 0.0 <= shift(320.0 + off) <= rho * full + 1e-9


def test_the_lowest_flash_point_rules_whatever_else_was_measured() -> None:
    prior = estimate(320.0, 15.0, 15.0)
    higher = [Residual(335.0, 4.0, prior, 1.0)] * 3
    lower = Residual(312.0, 4.0, prior, 0.1)
    value, _, _ = adjusted(prior, [*higher, lower], np.ones((4, 4)), True)
    assert value == pytest.approx(320.0 - 8.0 / (1.0 + (4.0 / 15.0) ** 2))


def test_a_bound_without_width_teaches_nothing() -> None:
    bound = Estimate.ok(233.15, 233.15, 233.15, "K", "a bound")
    prior = estimate(320.0, 10.0, 10.0)
    one = Residual(300.0, 2.0, bound, 1.0)
    assert adjusted(prior, [one], np.ones((1, 1))) == prior.interval()


@given(st.lists(shares.map(features), min_size=2, max_size=8))
def test_correlations_among_blends_are_positive_definite(features: list[Features]) -> None:
    assert float(np.linalg.eigvalsh(correlations(features)).min()) > -1e-7


def test_the_square_of_a_total_variation_would_not_be() -> None:
    """Why the exponential is of the distance itself: the corners of a cube, as mass fractions."""
    corners = [
        Features({"a": x, "b": y, "c": z, "d": 1 - x - y - z}, {})
        for x in (0.0, 0.05)
        for y in (0.0, 0.05)
        for z in (0.0, 0.05)
    ]
    squares = np.array([[(a.distance(b) / LENGTH) ** 2 for b in corners] for a in corners])
    ours = correlations(corners)
    assert float(np.linalg.eigvalsh(ours).min()) > 0.0
    lowest = min(float(np.linalg.eigvalsh(np.exp(-squares * s)).min()) for s in (0.01, 0.1, 1.0))
    assert lowest < -1e-6


# Looks


@given(chances, chances, rhos, kelvins, kelvins)
def test_clear_speaks_of_warmer_and_cloudy_of_colder_only(
    here: float, there: float, rho: float, seen_K: float, asked_K: float
) -> None:
    clear = VisualObservation(True, seen_K, there, rho)
    cloudy = VisualObservation(False, seen_K, there, rho)
    after_clear = chance_after(here, [clear], asked_K)
    after_cloudy = chance_after(here, [cloudy], asked_K)
    if asked_K < seen_K:
        assert after_clear == here
    if asked_K > seen_K:
        assert after_cloudy == here
    assert after_clear <= here + 1e-9
    assert after_cloudy >= here - 1e-9


@given(chances, chances, st.floats(0.0, 0.98))
def test_the_likelihood_ratio_grows_with_correlation_and_is_one_without(
    here: float, there: float, rho: float
) -> None:
    assert likelihood_ratio(VisualObservation(True, 295.0, there, 0.0), here) == pytest.approx(
        1.0, abs=1e-6
    )
    near = likelihood_ratio(VisualObservation(True, 295.0, there, rho + 0.02), here)
    far = likelihood_ratio(VisualObservation(True, 295.0, there, rho), here)
    assert near <= far + 1e-4
    assert 1.0 / 19.01 <= near <= 1.0 + 1e-6


@given(st.lists(st.tuples(st.booleans(), chances, rhos), min_size=1, max_size=5), chances)
def test_looks_in_any_order_say_the_same(
    seen: list[tuple[bool, float, float]], here: float
) -> None:
    looks = [VisualObservation(is_clear, 295.0, there, rho) for is_clear, there, rho in seen]
    forwards, backwards = (chance_after(here, x, 295.0) for x in (looks, looks[::-1]))
    assert forwards == pytest.approx(backwards)
    assert chance_after(here, looks * 3, 295.0) == pytest.approx(forwards)


def test_the_same_bottle_seen_clear_is_nearly_surely_clear() -> None:
    doubtful = chance_after(0.5, [VisualObservation(True, 295.0, 0.5, 1.0)], 298.0)
    assert doubtful < 0.06
    assert chance_after(0.5, [VisualObservation(False, 295.0, 0.5, 1.0)], 290.0) > 0.94


def test_a_blend_that_the_model_calls_clear_says_little_by_being_clear() -> None:
    """The base without its oil was clear, as expected: that is no proof for the base with oil."""
    assert chance_after(0.6, [VisualObservation(True, 295.0, 0.03, 0.8)], 295.0) > 0.5
    assert chance_after(0.6, [VisualObservation(True, 295.0, 0.7, 0.8)], 295.0) < 0.35


def test_correlation_falls_with_distance_to_nothing() -> None:
    assert correlation(0.0) == 1.0
    assert correlation(LENGTH) == pytest.approx(math.exp(-1.0))
    assert correlation(REACH + 1e-6) == 0.0
