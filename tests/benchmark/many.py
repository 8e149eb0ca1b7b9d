"""Benchmark of many blends, run by hand on one core:

    OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 python tests/benchmark/many.py [blends]

Formulas a second by question, and for boiling point, flash point and density of the same blends
the plain loop over `thermo`'s UNIFAC objects and `chemicals`' vapour pressures that stands here.
Two kinds of blends, 12 rows each: "clear" (common esters, alcohols and aldehydes in propylene
glycol, ethanol or triacetin; in part with crystals), and "wild" (anything in the same carriers, of
which about a quarter part into layers). Nothing is asserted on time.
"""

from __future__ import annotations

import math
import platform
import sys
import time
from collections.abc import Callable, Sequence

import numpy as np
from chemicals.vapor_pressure import Antoine
from generate_formulas import COMMON
from scipy.optimize import brentq
from thermo import unifac

from blendwright.app.batch.answer_table import QUESTIONS, BlockAnswers, columns
from blendwright.catalogue import default_catalogue
from blendwright.formula.conditions import ROOM_K, ATMOSPHERE_Pa
from blendwright.mixture import machine
from blendwright.mixture.block import Block
from blendwright.mixture.composition import substances_of
from blendwright.mixture.parameter_sets import PARAMETER_SETS
from blendwright.mixture.weighing import WeighedRow
from blendwright.pure.constants import PureConstants
from blendwright.pure.density import liquid_density

CARRIERS = ["propylene glycol", "ethanol", "triacetin"]
LOOPED = 40
EVERY = frozenset(QUESTIONS)
ASKED: Sequence[tuple[str, frozenset[str]]] = (
    *((question, frozenset({question})) for question in QUESTIONS),
    ("density, boiling, flash", frozenset({"density", "boiling", "flash"})),
    ("everything", EVERY),
)


def template(name: str) -> WeighedRow:
    catalogue = default_catalogue()
    material = catalogue.find(name)
    parts = tuple(substances_of(material, catalogue.material))
    return WeighedRow(name, material, None, None, 1.0, parts, "", "", ())


def long_table(pool: Sequence[str], blends: int) -> Callable[[], Block]:
    """A block of random 12-row blends, built anew at each call from the same numbers."""
    rng = np.random.default_rng(7)
    templates = [template(name) for name in (*pool, *CARRIERS)]
    material = np.array(
        [
            [*rng.choice(len(pool), 11, replace=False), len(pool) + rng.integers(len(CARRIERS))]
            for _ in range(blends)
        ]
    )
    flavour = rng.dirichlet(np.ones(11), size=blends) * rng.uniform(3.0, 25.0, (blends, 1))
    grams = np.hstack([flavour, 100.0 - flavour.sum(axis=1, keepdims=True)])
    number = np.repeat(np.arange(blends), 12)
    return lambda: Block.from_long(number, material.ravel(), grams.ravel(), templates)


class PlainLoop:
    """Bubble point, flash point and density of one blend with `thermo`'s object, as one would
    write it: modified UNIFAC 2.0, Antoine curves, Liaw's equation, ideal volumes. No layers, no
    intervals, no second opinion."""

    def __init__(self, block: Block) -> None:
        self.block = block
        self.pures = block.substances.pures
        self.rule = PARAMETER_SETS["dortmund2"]
        self.antoine = [_antoine(s) for s in self.pures]
        self.flash = [_at_flash(s, a) for s, a in zip(self.pures, self.antoine, strict=True)]
        self.density = [liquid_density(s.material, ROOM_K).interval()[0] for s in self.pures]

    def __call__(self, blend: int) -> tuple[float, float, float]:
        here = np.flatnonzero(self.block.pair_blend == blend)
        subs, mass = self.block.pair_sub[here].tolist(), self.block.pair_kg[here]
        molar = self.block.substances.molar_mass_kg_mol[subs]
        x = (mass / molar / (mass / molar).sum()).tolist()
        model = unifac.UNIFAC.from_subgroups(
            T=ROOM_K, xs=x, version=self.rule.version,
            chemgroups=[dict(self.pures[i].groups[self.rule.groups_of]) for i in subs],
            interaction_data=unifac.DOUF2IP, subgroups=unifac.DOUFSG,
        )  # fmt: skip

        def terms(kelvin: float) -> list[float]:
            gammas = model.to_T_xs(kelvin, x).gammas()
            return [
                xi * g * Antoine(kelvin, *self.antoine[i], base=math.e)
                for xi, g, i in zip(x, gammas, subs, strict=True)
            ]

        boiling = brentq(lambda t: math.log(sum(terms(t)) / ATMOSPHERE_Pa), 280.0, 600.0, xtol=1e-6)
        flash = brentq(
            lambda t: math.log(
                sum(p / self.flash[i] for p, i in zip(terms(t), subs, strict=True))
            ),
            230.0, 500.0, xtol=1e-6,
        )  # fmt: skip
        volume = sum(m / self.density[i] for m, i in zip(mass, subs, strict=True))
        return boiling, flash, float(mass.sum()) / volume


def _antoine(substance: PureConstants) -> tuple[float, float, float]:
    """ln P = A - B / (T + C) through three points of the curve used here."""
    assert substance.vapour is not None
    t = np.array([290.0, 350.0, 420.0])
    y = substance.vapour.ln_pressure(t)
    # y (t + C) = A t + (A C - B): linear in A, C and A C - B
    a, c, rest = np.linalg.solve(np.stack([t, -y, np.ones(3)], axis=1), y * t)
    return float(a), float(a * c - rest), float(c)


def _at_flash(substance: PureConstants, antoine: tuple[float, float, float]) -> float:
    value = substance.flash.value
    return Antoine(value, *antoine, base=math.e) if value is not None else math.inf


def main() -> None:
    blends = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    print(f"Python {platform.python_version()}, NumPy {np.__version__}, {platform.machine()}")
    machine.load()
    catalogue = default_catalogue()
    wild = [
        m.name
        for m in (catalogue.find(name) for name in catalogue.names())
        if m.kind == "substance" and not m.is_undisclosed and m.name not in (*CARRIERS, "water")
    ]
    for kind, pool in (("clear", COMMON), ("wild", wild)):
        make = long_table(pool, blends)
        BlockAnswers(make(), ROOM_K, ATMOSPHERE_Pa, EVERY).columns()  # what is kept per substance
        rates = {}
        for name, only in ASKED:
            start = time.process_time()
            answers = BlockAnswers(make(), ROOM_K, ATMOSPHERE_Pa, only)
            answers.columns()
            rates[name] = blends / (time.process_time() - start)
            print(f"{kind}: {name}: {rates[name]:,.0f} a second")
        print(f"{kind}: may lie in layers: {answers.answers.may_split.mean():.1%}")
        loop = PlainLoop(make())
        loop(0)
        start = time.process_time()
        for blend in range(LOOPED):
            loop(blend)
        plain = LOOPED / (time.process_time() - start)
        ratio = rates["density, boiling, flash"] / plain
        print(f"{kind}: plain loop over thermo's objects: {plain:,.0f} a second, ratio {ratio:.1f}")
        start = time.process_time()
        block = make()
        weighings = [block.weighing(number) for number in range(LOOPED)]
        for weighing in weighings:
            columns([weighing], ROOM_K, ATMOSPHERE_Pa, EVERY)
        by_one = LOOPED / (time.process_time() - start)
        print(f"{kind}: everything, blend by blend: {by_one:,.1f} a second")


if __name__ == "__main__":
    main()
