"""One liquid or two: known pairs, the equilibrium itself, and no split missed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from blendwright import assess
from blendwright.catalogue import default_catalogue
from blendwright.mixture import liquid_split
from blendwright.mixture.activity import ActivityModel, activity_model
from blendwright.mixture.liquid_split import (
    block_layers,
    layers,
    no_secants,
    stabilities,
    stability,
)
from blendwright.mixture.parameter_sets import PARAMETER_SETS, Array
from blendwright.questions.accuracy.reference import reference
from tests.conftest import ESTER_RICH_CONCENTRATE, formula


def model_of(parameter_set: str, *names: str) -> ActivityModel:
    rule = PARAMETER_SETS[parameter_set]
    catalogue = default_catalogue()
    return activity_model(rule, [catalogue.find(name).groups[rule.groups_of] for name in names])


PAIRS = [
    ("butyl acetate", "water"),
    ("isoamyl alcohol", "water"),
    ("limonene", "propylene glycol"),
    ("tricaprylin", "propylene glycol"),
]


@pytest.mark.parametrize("pair", PAIRS, ids=" + ".join)
def test_layers_have_equal_activities_and_the_feed_s_mass(pair: tuple[str, str]) -> None:
    model = model_of("unifac2", *pair)
    feed = np.array([0.4, 0.6])
    found = stability(model, feed, 298.15)
    assert found.splits
    assert found.rival is not None
    parted = layers(model, feed, 298.15, found.rival)
    assert parted is not None
    activities = [np.log(x) + model.ln_gamma(x, 298.15) for x in (parted.first, parted.second)]
    np.testing.assert_allclose(activities[0], activities[1], atol=1e-7)
    together = (1 - parted.fraction) * parted.first + parted.fraction * parted.second
    np.testing.assert_allclose(together, feed, atol=1e-8)
    assert not stability(model, parted.first, 298.15).distance < -1e-6


def test_what_one_layer_has_next_to_nothing_of_is_in_the_other_by_the_feed_s_mass() -> None:
    """A triglyceride in water: less than one molecule in 1e14 of them."""
    model = model_of("unifac2", "tricaprin", "octyl acetate", "water")
    feed = np.array([0.02, 0.01, 0.97])
    found = stability(model, feed, 298.15)
    assert found.rival is not None
    parted = layers(model, feed, 298.15, found.rival)
    assert parted is not None
    together = (1 - parted.fraction) * parted.first + parted.fraction * parted.second
    np.testing.assert_allclose(together, feed, atol=1e-8)


@pytest.mark.parametrize("pair", PAIRS, ids=" + ".join)
def test_binary_stability_agrees_with_a_dense_scan(pair: tuple[str, str]) -> None:
    """Independent of the search: the tangent plane is compared on 2,000 trial compositions."""
    model = model_of("unifac2", *pair)
    trial = np.linspace(1e-6, 1 - 1e-6, 2000)
    w = np.column_stack([trial, 1 - trial])
    surface = (w * (np.log(w) + model.ln_gamma(w, 298.15))).sum(axis=1)
    for share in (0.002, 0.01, 0.05, 0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 0.9, 0.97, 0.995):
        x = np.array([share, 1 - share])
        d = np.log(x) + model.ln_gamma(x, 298.15)
        lowest = float((surface - w @ d).min())
        if abs(lowest) < 1e-4:
            continue  # too near the binodal for the scan to tell
        assert stability(model, x, 298.15).splits == (lowest < 0), share


@given(
    parts=st.lists(st.floats(0.01, 1.0), min_size=4, max_size=4),
    temperature_K=st.floats(260.0, 350.0),
)
def test_no_split_is_missed_against_a_random_search(
    parts: list[float], temperature_K: float
) -> None:
    model = model_of("unifac2", "ethyl butyrate", "limonene", "propylene glycol", "water")
    x = np.array(parts) / sum(parts)
    d = np.log(x) + model.ln_gamma(x, temperature_K)
    trials = np.random.default_rng(3).dirichlet(np.full(4, 0.3), size=3000)
    trials = np.maximum(trials, 1e-12)
    trials /= trials.sum(axis=1, keepdims=True)
    distances = (trials * (np.log(trials) + model.ln_gamma(trials, temperature_K) - d)).sum(axis=1)
    if distances.min() < -1e-4:
        found = stability(model, x, temperature_K)
        assert found.splits
        assert found.distance <= distances.min() + 1e-3


GLYCOL = reference("propylene_glycol_miscibility.csv")


@pytest.mark.parametrize("row", GLYCOL, ids=lambda r: f"{r['material']}: {r['statement']}")
def test_miscibility_with_propylene_glycol(row: dict[str, str]) -> None:
    """propylene_glycol_miscibility.csv (from memory: FCC monographs and data sheets)."""
    if row["statement"] in ("miscible", "soluble"):
        blend = formula((row["material"], 3.0), ("propylene glycol", 97.0))
        assert assess(blend).liquid == "clear"
    else:
        blend = formula((row["material"], 1.0), ("propylene glycol", 1.0))
        assert assess(blend).liquid != "clear"


def test_the_usual_ester_rich_concentrate_is_clear_at_bench_temperature() -> None:
    """Common practice, no source: clear within about 20 minutes' stirring."""
    made = assess(formula(*ESTER_RICH_CONCENTRATE), temperature_K=295.15)
    assert made.dissolution == "dissolves"
    assert made.liquid == "clear"


def test_the_concentrate_in_the_cold_is_told_to_warm_or_stand() -> None:
    """Common practice, no source: slower when the solvents are cold."""
    made = assess(formula(*ESTER_RICH_CONCENTRATE), temperature_K=278.15)
    advice = " ".join(f.action for f in made.findings if f.code.startswith(("DISS", "NEEDS")))
    assert "warm" in advice.casefold()


def test_oil_and_glycol_split_but_oil_and_triglyceride_do_not() -> None:
    assert assess(formula(("sweet orange oil", 20), ("propylene glycol", 80))).liquid == "splits"
    assert assess(formula(("sweet orange oil", 20), ("MCT oil", 80))).liquid == "clear"


TWO_RIVALS_AT_ONCE = [
    ("dortmund2", ("caryophyllene oxide", "triacetin"), [0.49435776650594243]),
    ("dortmund2", ("myrcene", "2-acetylthiazole", "propylene glycol"), [
        0.4263273272531564, 0.5394249505103875,
    ]),
    ("dortmund", ("isoamyl hexanoate", "diethyl succinate", "propylene glycol"), [
        0.01812177341731882, 0.41598860410100263,
    ]),
]  # fmt: skip


@dataclass(frozen=True)
class AtEach:
    """A model at several temperatures, each with compositions of its own."""

    model: ActivityModel
    kelvins: Array

    def ln_gamma(self, x: Array) -> Array:
        pairs = zip(x, self.kelvins, strict=True)
        return np.array([self.model.ln_gamma(rows, float(kelvin)) for rows, kelvin in pairs])

    def only(self, keep: NDArray[Any]) -> AtEach:
        return AtEach(self.model, self.kelvins[keep])


@pytest.mark.parametrize(("name", "names", "shares"), TWO_RIVALS_AT_ONCE)
def test_of_two_rivals_that_arrive_at_the_same_step_the_lower_counts(
    name: str, names: tuple[str, ...], shares: list[float]
) -> None:
    """Among several temperatures as alone."""
    model, x = model_of(name, *names), np.array([*shares, 1.0 - sum(shares)])
    kelvins = np.linspace(353.15, 253.15, 4)
    found = stabilities(AtEach(model, kelvins), np.tile(x, (4, 1)))
    alone = [stability(model, x, float(kelvin)) for kelvin in kelvins]
    np.testing.assert_allclose(found.distance, [one.distance for one in alone], atol=1e-12)


PARTING = [
    (("limonene", "ethanol", "water"), [0.1, 0.3, 0.6]),
    (("hexyl butyrate", "propylene glycol", "water"), [0.2, 0.6, 0.2]),
    (("myrcene", "2-acetylthiazole", "propylene glycol"), [0.4, 0.3, 0.3]),
]


@pytest.mark.parametrize(("names", "shares"), PARTING)
def test_starts_left_out_early_would_not_have_gone_lower(
    names: tuple[str, ...], shares: list[float], monkeypatch: pytest.MonkeyPatch
) -> None:
    """All starts followed to their end, as by Michelsen, find the same rival."""
    model, x = model_of("unifac2", *names), np.tile(shares, (12, 1))
    each = AtEach(model, np.linspace(250.0, 360.0, 12))
    found = stabilities(each, x)
    monkeypatch.setattr(liquid_split, "TWINS_AFTER", liquid_split.MOST_ITERATIONS)
    whole = stabilities(each, x)
    assert found.has_rival.any()
    np.testing.assert_array_equal(found.has_rival, whole.has_rival)
    np.testing.assert_allclose(found.distance, whole.distance, atol=1e-12)
    np.testing.assert_allclose(found.rival, whole.rival, atol=1e-9)


@pytest.mark.parametrize(("names", "shares"), PARTING)
def test_layers_do_not_hang_on_where_their_search_began(
    names: tuple[str, ...], shares: list[float]
) -> None:
    """From the layers of another temperature, with its secants, as from a rival found here."""
    model, x = model_of("unifac2", *names), np.array([shares])
    there, here = (AtEach(model, np.array([kelvin])) for kelvin in (290.0, 300.0))
    rival = stability(model, x[0], 290.0).rival
    assert rival is not None
    ln_k = model.ln_gamma(x, 290.0) - model.ln_gamma(rival[None], 290.0)
    first = block_layers(there, x, ln_k, no_secants(x))
    assert first.parted.all()
    known = block_layers(here, x, first.ln_k, first.secants)
    fresh = block_layers(here, x, ln_k, no_secants(x))
    assert known.parted.all()
    for one, other in ((known.first, fresh.first), (known.second, fresh.second)):
        np.testing.assert_allclose(one, other, atol=1e-10)
    np.testing.assert_allclose(known.fraction, fresh.fraction, atol=1e-10)
