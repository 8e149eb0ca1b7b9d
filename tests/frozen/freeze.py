"""Freeze every answer of many formulas, and compare two frozen files.

    python -m tests.frozen.freeze write FILE.json.gz [EVERY]
    python -m tests.frozen.freeze compare OLD.json.gz NEW.json.gz

For a change to the engine that must not change an answer: write before and after it, and compare.
The formulas are the examples and FORMULAS generated ones, drawn from one seed over all carriers,
crystals, natural oils and water, a sixth of them made to part into layers; each at one of a few
temperatures and pressures. Frozen are the JSON of `assess` of all, that of `warm` and of `dose` of
some, and the batch's columns of all. `compare` lists every difference: of numbers, those beyond
RELATIVE (temperatures as kelvin). EVERY takes only each so many-th formula, for a quick look; what
is in one of the files only isn't compared.
"""

from __future__ import annotations

import gzip
import json
import math
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from blendwright import Formula, assess, read_formula
from blendwright.catalogue import default_catalogue
from blendwright.pure.constants import pure_constants

SEED = 20261128
FORMULAS = 300
RELATIVE = 1e-9
TEMPERATURES_K = (298.15, 293.15, 277.15, 318.15)
PRESSURES_Pa = (101325.0, 84e3)
CARRIERS = (
    "propylene glycol", "ethanol", "water", "glycerol", "triacetin", "MCT oil", "triethyl citrate",
    "1,3-propanediol", "isopropanol", "benzyl alcohol",
)  # fmt: skip
PARTING = (
    ("limonene", "propylene glycol"), ("limonene", "water"), ("sweet orange oil", "ethanol"),
    ("ethyl hexanoate", "glycerol"), ("hexyl acetate", "water"), ("MCT oil", "propylene glycol"),
)  # fmt: skip
ASKED_MORE = 12  # every so many of them are warmed and dosed too
DRINKS = ("water", "40 % vol", "10 % sugar")
VOLATILE = ("version", "data_version")  # of the program, not of the answers

Rows = list[tuple[str, float]]


def examples() -> dict[str, Formula]:
    """The formulas of `examples/`, by file name."""
    folder = Path(__file__).parents[2] / "examples"
    return {path.name: read_formula(path) for path in sorted(folder.glob("*.csv"))}


def generated() -> dict[str, Rows]:
    """Formulas drawn from SEED; the same on every machine and in every process."""
    rng = np.random.default_rng(SEED)
    catalogue = default_catalogue()
    names = sorted(catalogue.names())
    oils = [n for n in names if catalogue.find(n).kind == "natural_oil"]
    solids = [
        n
        for n in names
        if catalogue.find(n).kind == "substance"
        and (melt := pure_constants(catalogue.find(n)).fusion) is not None
        and (melt.melting.value or 0.0) > 298.15
    ]

    def drawn(pool: list[str] | tuple[str, ...], most: int) -> list[str]:
        count = int(rng.integers(0, most + 1))
        return [pool[i] for i in rng.choice(len(pool), min(count, len(pool)), replace=False)]

    made = {}
    for number in range(FORMULAS):
        rows: dict[str, float] = {}
        for name in [*drawn(names, 8), *drawn(solids, 2), *drawn(oils, 1)]:
            rows[name] = round(float(10.0 ** rng.uniform(-2.0, 1.3)), 4)
        if number % 6 == 0:
            for name in PARTING[int(rng.integers(len(PARTING)))]:
                rows[name] = round(float(rng.uniform(10.0, 60.0)), 3)
        for name in drawn(CARRIERS, 2) or [CARRIERS[number % len(CARRIERS)]]:
            rows[name] = round(float(10.0 ** rng.uniform(0.5, 2.0)), 3)
        made[f"{number:03d}"] = list(rows.items())
    return made


def all_formulas() -> dict[str, Formula]:
    return examples() | {
        name: Formula.from_rows({"material": m, "grams": repr(g)} for m, g in rows)
        for name, rows in generated().items()
    }


def conditions(number: int) -> tuple[float, float]:
    return TEMPERATURES_K[number % len(TEMPERATURES_K)], PRESSURES_Pa[number // 7 % 2]


def answers(every: int = 1) -> dict[str, Any]:
    """Everything frozen, or of each so many-th formula."""
    formulas = all_formulas()
    found: dict[str, Any] = {"assess": {}, "warm": {}, "dose": {}, "batch": {}}
    for number, (name, formula) in enumerate(formulas.items()):
        if number % every:
            continue
        at = conditions(number)
        found["assess"][name] = asked(lambda f=formula, at=at: assess(f, *at).to_dict())
        if number < len(formulas) - FORMULAS or number % ASKED_MORE == 0:
            more(found, name, formula, DRINKS[number % len(DRINKS)])
    found["batch"] = batch(formulas, every)
    return found


def more(found: dict[str, Any], name: str, formula: Formula, drink: str) -> None:
    from blendwright.questions.drink.dosing import Dose, dose
    from blendwright.questions.warming import warm

    found["warm"][name] = asked(lambda: warm(formula).to_dict())
    found["dose"][name] = asked(lambda: dose(formula, drink, Dose(0.5)).to_dict())


def batch(formulas: dict[str, Formula], every: int) -> dict[str, Any]:
    """The columns of all of them, at each pair of conditions."""
    from blendwright.app.batch.engine import computed
    from blendwright.app.batch.schema import QUESTIONS
    from blendwright.app.batch.weighed import Weighed
    from blendwright.mixture.weighing import weigh

    catalogue = default_catalogue()
    by_conditions: dict[tuple[float, float], list[str]] = {}
    for number, name in enumerate(formulas):
        if number % every == 0:
            by_conditions.setdefault(conditions(number), []).append(name)
    found = {}
    for (kelvin, pascal), names in by_conditions.items():
        weighed = Weighed.of([(name, weigh(formulas[name], catalogue)) for name in names])
        made = computed(weighed, kelvin, pascal, QUESTIONS)
        assert not made.broken, made.broken
        for column, values in made.columns.items():
            for name, value in zip(names, values.tolist(), strict=True):
                found.setdefault(name, {})[column] = value
    return found


def asked(question: Any) -> Any:
    """An answer, or the error that came instead of it."""
    try:
        return question()
    except Exception as error:
        return {"error": f"{type(error).__name__}: {error}"}


# Comparing


def differences(old: Any, new: Any, path: tuple[str, ...] = ()) -> Iterator[str]:
    """Every place where two frozen answers are not the same."""
    where = "/".join(path)
    if isinstance(old, dict) and isinstance(new, dict):
        for key in list(dict.fromkeys([*old, *new])):
            if key in VOLATILE:
                continue
            if (key not in old or key not in new) and len(path) > 1:
                yield f"{where}/{key}: only in the {'new' if key in new else 'old'}"
            if key not in old or key not in new:
                continue
            zero = 273.15 if _celsius(key, old) else 0.0
            yield from _compared(old[key], new[key], (*path, key), zero)
    elif isinstance(old, list) and isinstance(new, list) and len(old) == len(new):
        for number, pair in enumerate(zip(old, new, strict=True)):
            yield from _compared(*pair, (*path, str(number)), 0.0)
    elif old != new:
        yield f"{where}: {old!r} -> {new!r}"


def _celsius(key: str, of: dict[str, Any]) -> bool:
    return "_C" in key or (key in ("value", "low", "high") and of.get("unit") == "°C")


def _compared(old: Any, new: Any, path: tuple[str, ...], zero: float) -> Iterator[str]:
    numbers = [isinstance(v, float | int) and not isinstance(v, bool) for v in (old, new)]
    if not all(numbers):
        yield from differences(old, new, path)
    elif not _same(float(old), float(new), zero):
        yield f"{'/'.join(path)}: {old!r} -> {new!r}"


def _same(old: float, new: float, zero: float) -> bool:
    if math.isnan(old) or math.isnan(new):
        return math.isnan(old) and math.isnan(new)
    return abs(old - new) <= RELATIVE * max(abs(old + zero), 1e-6)


def frozen(path: str) -> Any:
    with gzip.open(path, "rt", encoding="utf-8") as file:
        return json.load(file)


def main(arguments: list[str]) -> int:
    match arguments:
        case ["write", path, *every]:
            with gzip.open(path, "wt", encoding="utf-8") as out:
                json.dump(answers(*map(int, every)), out)
            return 0
        case ["compare", old, new]:
            found = list(differences(*map(frozen, (old, new))))
            print("\n".join(found))
            places = {tuple(line.split("/")[:2]) for line in found}
            print(f"{len(found)} differences in {len(places)} answers")
            return 1 if found else 0
    print(__doc__)
    return 2


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
