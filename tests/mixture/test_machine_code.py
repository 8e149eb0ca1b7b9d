"""Machine code finds the same layers as the plain search, and no fewer."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from blendwright.app.batch.answer_table import QUESTIONS, columns
from blendwright.catalogue import default_catalogue
from blendwright.formula.conditions import ROOM_K, ATMOSPHERE_Pa
from blendwright.mixture import machine
from blendwright.mixture.block import Block
from blendwright.mixture.liquid import Liquid, LiquidAt
from blendwright.mixture.liquid_split import PLAIN, UNSTABLE, Stabilities, no_secants
from blendwright.mixture.machine import activity, crystals
from blendwright.mixture.machine import layers as compiled
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.part import Part
from tests.mixture.test_block import CARRIERS, HOSTILE, NAMES, SIBLINGS, agree, weighed

SAME_RT = 1e-12
SAME_FRACTION = 1e-9


def models(block: Block, temperature_K: float, own: bool = False) -> list[tuple[Part, LiquidAt]]:
    """The liquid model at a temperature, or at temperatures round it."""
    found = []
    for part in block.parts:
        liquid = Liquid(block.substances, part.index)
        spread = temperature_K + np.linspace(-3.0, 3.0, len(part))
        found.append((part, liquid.at(spread if own else temperature_K)))
    return found


def assert_same_rivals(plain: Stabilities, fast: Stabilities) -> None:
    assert (plain.has_rival == fast.has_rival).all()
    assert np.abs(plain.distance - fast.distance).max() < SAME_RT
    assert np.abs(plain.rival - fast.rival).max() < SAME_FRACTION


@pytest.mark.parametrize("temperature_K", [253.15, ROOM_K, 353.15])
def test_rivals_are_those_of_the_plain_search(temperature_K: float) -> None:
    block = Block.from_weighings([weighed(list(dict(rows).items())) for rows in SIBLINGS])
    for part, model in models(block, temperature_K):
        assert_same_rivals(PLAIN.stabilities(model, part.x), compiled.stabilities(model, part.x))


def test_each_blend_may_have_a_temperature_of_its_own() -> None:
    block = Block.from_weighings([weighed(list(dict(rows).items())) for rows in SIBLINGS])
    for part, model in models(block, 310.0, own=True):
        assert_same_rivals(PLAIN.stabilities(model, part.x), compiled.stabilities(model, part.x))


@st.composite
def random_block(draw: st.DrawFn) -> Block:
    """Six blends of two to nine substances in any amounts, drawn from one number."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    known = default_catalogue()
    liquids = [n for n in NAMES if known.find(n).kind == "substance"]
    rows = []
    for _ in range(6):
        picked = rng.choice(len(liquids), int(rng.integers(2, 10)), replace=False)
        rows.append([(liquids[i], float(10.0 ** rng.uniform(-2.0, 2.0))) for i in picked])
    return Block.from_weighings([weighed(one) for one in rows])


@settings(max_examples=25, suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(random_block(), st.floats(255.0, 350.0))
def test_no_split_is_missed(block: Block, temperature_K: float) -> None:
    for part, model in models(block, temperature_K):
        plain, fast = (s.stabilities(model, part.x) for s in (PLAIN, compiled.COMPILED))  # type: ignore[arg-type]
        assert (fast.distance <= plain.distance + SAME_RT).all()
        assert (fast.has_rival | ~plain.has_rival).all()


def parting() -> Block:
    rows: Sequence[Sequence[tuple[str, float]]] = [
        HOSTILE["oil and glycol part"],
        HOSTILE["crystals and layers"],
        (("limonene", 20.0), ("ethanol", 30.0), ("water", 50.0)),
        (("hexyl butyrate", 30.0), ("propylene glycol", 60.0), ("water", 10.0)),
    ]
    return Block.from_weighings([weighed(one) for one in rows])


def assert_same_layers(model: LiquidAt, x: Array) -> None:
    found = PLAIN.stabilities(model, x)
    where = np.flatnonzero(found.has_rival & (found.distance < UNSTABLE))
    assert where.size
    some, own = model.only(where), x[where]
    both = some.ln_gamma(np.stack([own, found.rival[where]], axis=1))
    ln_k = both[:, 0] - both[:, 1]
    plain = PLAIN.layers(some, own, ln_k, no_secants(own))
    fast = compiled.layers(some, own, ln_k, no_secants(own, 0))
    assert plain.parted.any()
    assert (plain.parted == fast.parted).all()
    assert np.abs(plain.first - fast.first).max() < SAME_FRACTION
    assert np.abs(plain.second - fast.second).max() < SAME_FRACTION
    assert np.abs(plain.fraction - fast.fraction).max() < SAME_FRACTION


def test_layers_are_those_of_the_plain_search() -> None:
    for part, model in models(parting(), ROOM_K):
        if (PLAIN.stabilities(model, part.x).distance < UNSTABLE).any():
            assert_same_layers(model, part.x)


def test_without_machine_code_the_answers_are_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    blends = [weighed(list(dict(rows).items())) for rows in [*SIBLINGS[:5], *HOSTILE.values()]]
    machine.load()
    assert machine.is_ready()
    fast = columns(blends, ROOM_K, ATMOSPHERE_Pa, frozenset(QUESTIONS))
    monkeypatch.setattr(machine, "is_ready", lambda: False)
    plain = columns(blends, ROOM_K, ATMOSPHERE_Pa, frozenset(QUESTIONS))
    for name, values in fast.items():
        for here, there in zip(values.tolist(), plain[name].tolist(), strict=True):
            assert agree(name, here, there), (name, here, there)


def test_nobody_waits_for_the_compiler(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Where nothing is compiled yet, `prepare` starts a process for it and comes back at once."""
    begun: list[list[str]] = []
    monkeypatch.setattr(machine, "_state", {"loaded": False, "begun": False})
    monkeypatch.setattr(machine, "_mark", lambda: tmp_path / "not compiled yet")
    monkeypatch.setattr(machine.subprocess, "Popen", lambda command, **_: begun.append(command))
    assert not machine.prepare()
    assert not machine.prepare()
    assert [command[-1] for command in begun] == ["blendwright.mixture.machine.compiling"]
    assert not machine.is_ready()


def test_nothing_is_compiled_but_what_was_compiled_beforehand() -> None:
    """An array that is read-only or lies otherwise in memory would be another type to the compiler,
    and cost half a minute in the middle of an answer."""
    machine.load()
    for blend in [weighed(list(dict(rows).items())) for rows in [*SIBLINGS[:3], *HOSTILE.values()]]:
        columns([blend], ROOM_K, ATMOSPHERE_Pa, frozenset(QUESTIONS))
    parts = [weighed(list(dict(rows).items())) for rows in HOSTILE.values()]
    columns(parts, ROOM_K, ATMOSPHERE_Pa, frozenset(QUESTIONS))
    for compiled_for in (
        compiled._search,
        compiled._part,
        activity._ln_gammas,
        activity._draw_shifts,
        crystals._settle,
    ):
        assert len(compiled_for.signatures) == 1, compiled_for.signatures


def test_the_last_digit_of_a_blend_does_not_hang_on_its_company() -> None:
    """Lots of any size and in any order give the bytes of the whole."""
    machine.load()
    rng = np.random.default_rng(20)
    blends = []
    for _ in range(70):
        names = rng.choice(NAMES, int(rng.integers(1, 13)), replace=False).tolist()
        rows = [(name, float(10.0 ** rng.uniform(-2.0, 1.0))) for name in names]
        blends.append(weighed([*rows, (str(rng.choice(CARRIERS)), float(rng.uniform(5.0, 60.0)))]))
    asked = ROOM_K, ATMOSPHERE_Pa, frozenset(QUESTIONS)
    whole = columns(blends, *asked)
    shuffled = rng.permutation(len(blends))
    lots = [shuffled[first : first + 7] for first in range(0, len(blends), 7)]
    lots += [np.array([number]) for number in shuffled[:15]]
    for lot in lots:
        for name, values in columns([blends[n] for n in lot], *asked).items():
            for here, there in zip(values.tolist(), whole[name][lot].tolist(), strict=True):
                assert repr(here) == repr(there), (name, lot)
