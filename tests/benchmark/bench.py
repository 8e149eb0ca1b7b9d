"""Benchmark, run by hand: cold start, assessments a second, kernel against thermo's object.

    python tests/benchmark/bench.py

Prints a table; docs/performance.md records it. Nothing is asserted on time.
"""

from __future__ import annotations

import platform
import statistics
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
from thermo import unifac

from blendwright import Formula, assess, read_formula
from blendwright.catalogue import default_catalogue
from blendwright.formula.conditions import BENCH_K, ATMOSPHERE_Pa
from blendwright.mixture import machine
from blendwright.mixture.activity import activity_model
from blendwright.mixture.parameter_sets import PARAMETER_SETS
from blendwright.mixture.weighing import weigh
from blendwright.verdict.blend import Blend

EXAMPLE = Path(__file__).parents[2] / "examples" / "orchard-pear-cardamom.csv"
TWELVE = [
    "ethyl acetate", "isoamyl acetate", "hexyl acetate", "ethyl butyrate", "benzaldehyde",
    "linalool", "eugenol", "vanillin", "triethyl citrate", "limonene", "ethanol",
    "propylene glycol",
]  # fmt: skip

FIFTEEN = [
    ("ethyl acetate", 1.2), ("isoamyl acetate", 2.1), ("hexyl acetate", 1.4),
    ("ethyl butyrate", 1.6), ("ethyl 2-methylbutyrate", 0.8), ("benzaldehyde", 0.05),
    ("gamma-decalactone", 0.15), ("linalool", 0.1), ("eugenol", 0.05), ("vanillin", 0.9),
    ("ethyl maltol", 0.25), ("triethyl citrate", 0.6), ("hexanal", 0.1), ("limonene", 0.1),
]  # fmt: skip


def seconds(action: object, least_s: float = 1.0) -> float:
    """Mean time of one call, over at least `least_s` seconds."""
    assert callable(action)
    action()
    count, start = 0, time.perf_counter()
    while time.perf_counter() - start < least_s:
        action()
        count += 1
    return (time.perf_counter() - start) / count


def cold_start_s() -> tuple[float, float, float]:
    command = [sys.executable, "-m", "blendwright", "assess", str(EXAMPLE)]
    times = []
    for _ in range(7):
        start = time.perf_counter()
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
        times.append(time.perf_counter() - start)
    return min(times[1:]), statistics.median(times[1:]), max(times[1:])


def main() -> None:
    print(f"Python {platform.python_version()}, NumPy {np.__version__}, {platform.machine()}")
    low, middle, high = cold_start_s()
    print(f"cold `blendwright assess` of the example, s: {low:.2f} / {middle:.2f} / {high:.2f}")
    formula = read_formula(EXAMPLE)
    warm = seconds(lambda: assess(formula), 3.0)
    print(f"warm assess of the example in NumPy: {warm * 1e3:.0f} ms")
    for kind, extra in (("clear", "propylene glycol"), ("that may part", "glycerol")):
        rows = [*FIFTEEN, (extra, 40.0)]
        blend = Formula.from_rows({"material": name, "grams": grams} for name, grams in rows)

        def fresh(blend: Formula = blend) -> Blend:
            return Blend(weigh(blend, default_catalogue()), BENCH_K, ATMOSPHERE_Pa)

        weighing = seconds(fresh)
        liquid = seconds(lambda: fresh().liquid_word)
        both = seconds(lambda: (b := fresh()).liquid_word and (b.dissolution_word, b.solids))
        flash = seconds(lambda: (b := fresh()).liquid_word and b.flash)
        print(f"15 rows, {kind}: dissolve and clear {(both - weighing) * 1e3:.0f} ms")
        print(f"15 rows, {kind}: flash point after that {(flash - liquid) * 1e3:.0f} ms")
    names = (list(default_catalogue().names()) * 4)[:1000]
    default_catalogue().find(names[0])
    found = seconds(lambda: [default_catalogue().find(name) for name in names])
    print(f"resolving 1,000 names: {found * 1e3:.0f} ms")
    rule = PARAMETER_SETS["dortmund2"]
    catalogue = default_catalogue()
    groups = [dict(catalogue.find(name).groups[rule.groups_of]) for name in TWELVE]
    model = activity_model(rule, groups)
    x = np.random.default_rng(0).dirichlet(np.ones(12), size=1000)
    block = seconds(lambda: model.ln_gamma(x, 298.15)) / len(x)
    own = np.linspace(280.0, 340.0, len(x))
    own_temperature = seconds(lambda: model.ln_gamma(x, own)) / len(x)
    made = unifac.UNIFAC.from_subgroups(
        T=298.15, xs=list(x[0]), chemgroups=groups, version=rule.version,
        interaction_data=unifac.DOUF2IP, subgroups=unifac.DOUFSG,
    )  # fmt: skip
    rows = [list(row) for row in x[:50]]
    theirs = seconds(lambda: [made.to_T_xs(298.15, row).gammas() for row in rows]) / len(rows)
    print(f"kernel, 1,000 blends of 12 at one temperature: {1 / block:,.0f} a second")
    print(f"kernel, a temperature for each blend: {1 / own_temperature:,.0f} a second")
    print(f"thermo's object, same blends: {1 / theirs:,.0f} a second")
    print(f"ratio kernel / object: {theirs / block:.0f}")
    machine.load()  # last, as there is no way back to NumPy
    warm = seconds(lambda: assess(formula), 3.0)
    print(f"warm assess of the example in machine code: {warm * 1e3:.0f} ms")


if __name__ == "__main__":
    main()
