"""One formula with some of its rows varied: a grid, or a Latin hypercube, as a source of chunks.

    ethyl butyrate=0..3 g/7           seven weights from 0 to 3 g
    vanillin=0.5,1,2 g                these three; 0,5;1;2 g with decimal commas
    carrier=propylene glycol,triacetin, propylene glycol 70 + ethanol 30

A row made up to weight (q.s.) takes up what a varied row gives or takes; with `to_weight` the main
carrier does. "carrier" puts another carrier, or a mix, in the place of the main one (the heaviest
that `editing.carriers_of` finds), weight for weight. Latin hypercube: scipy.stats.qmc.
"""

from __future__ import annotations

import hashlib
import itertools
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pyarrow as pa

from blendwright.app.batch.chunks import Chunk
from blendwright.app.batch.errors import BatchError
from blendwright.app.batch.row_cache import Refused, RowCache, refused
from blendwright.app.batch.weighed import Weighed
from blendwright.catalogue import Catalogue
from blendwright.errors import FormulaError
from blendwright.formula import Formula
from blendwright.formula.numbers import Amount, LARGEST_g, parse_number, why_no_number
from blendwright.mixture.weighing import WeighedRow, Weighing, resolve, weigh
from blendwright.questions.advice.carriers import parse_carriers
from blendwright.questions.editing import carriers_of, new_row, reweighed, with_grams

CARRIER = "carrier"
USUAL_COUNT = 5
MOST_POINTS = 100_000_000
_GRAMS_PER = {"": 1.0, "g": 1.0, "mg": 1e-3, "kg": 1e3}
_NUMBER = r"\d+(?:[.,]\d+)?(?:e-?\d+)?"
_RANGE = re.compile(
    rf"^({_NUMBER})\s*\.\.\s*({_NUMBER})\s*(g|mg|kg)?\s*(?:/\s*(\d+))?$", re.IGNORECASE
)
_LIST = re.compile(rf"^({_NUMBER}(?:\s*[,;]\s*{_NUMBER})*)\s*(g|mg|kg)?$", re.IGNORECASE)


@dataclass(frozen=True)
class Axis:
    """What is varied: a row of the formula in grams, or the carrier; `ends` where it is a range."""

    name: str
    values: tuple[float | str, ...]
    row: int | None
    ends: tuple[float, float] | None = None

    @property
    def is_carrier(self) -> bool:
        return self.row is None

    @property
    def field(self) -> pa.Field:
        if self.is_carrier:
            return pa.field("vary_carrier", pa.string())
        return pa.field(f"vary_{self.name}_g", pa.float64())

    def at(self, turn: float) -> float | str:
        """The value at a turn from 0 to 1."""
        if self.ends is not None:
            low, high = self.ends
            return low + turn * (high - low)
        return self.values[min(int(turn * len(self.values)), len(self.values) - 1)]


@dataclass(frozen=True)
class Hypercube:
    """So many points of a Latin hypercube, the same for the same seed."""

    points: int
    seed: int


@dataclass(frozen=True)
class Plan:
    """The formula as written, what is varied, and who takes up the difference in weight."""

    formula: Formula
    axes: tuple[Axis, ...]
    carrier: str | None
    total_g: float | None

    def weighing(self, values: Sequence[float | str], row_cache: RowCache) -> Weighing:
        """One point. Raises FormulaError for one that can't be weighed."""
        rows = list(self.formula.rows)
        for axis, value in zip(self.axes, values, strict=True):
            if axis.row is not None:
                rows[axis.row] = replace(rows[axis.row], amount=Amount(float(value), "g"))
        made = row_cache.weigh(replace(self.formula, rows=tuple(rows)))
        if self.total_g is not None and self.carrier is not None:
            made = _to_weight(made, self.carrier, self.total_g)
        for axis, value in zip(self.axes, values, strict=True):
            if axis.is_carrier and self.carrier is not None:
                made = _in_carrier(made, self.carrier, str(value), row_cache.catalogue)
        return made


def _to_weight(weighing: Weighing, carrier: str, total_g: float) -> Weighing:
    held = next((row.grams for row in weighing.rows if row.label == carrier), 0.0)
    left_g = held + total_g - weighing.total_g
    if left_g < 0.0:
        raise BatchError(
            f"the other rows weigh {weighing.total_g - held:.4g} g, more than {total_g:.4g} g"
        )
    return with_grams(weighing, {carrier: left_g})


def _in_carrier(weighing: Weighing, carrier: str, other: str, catalogue: Catalogue) -> Weighing:
    main = next((row for row in weighing.rows if row.label == carrier), None)
    shares = parse_carriers(other)
    if main is None or (len(shares) == 1 and _is_same(main, shares[0][0], catalogue)):
        return weighing
    total = sum(share for _, share in shares)
    added = [new_row(name, main.grams * share / total, catalogue) for name, share in shares]
    return reweighed(weighing, [*(row for row in weighing.rows if row is not main), *added])


def _is_same(main: WeighedRow, name: str, catalogue: Catalogue) -> bool:
    return main.strength is None and resolve(name, catalogue).name == main.material.name


def planned(
    formula: Formula, varied: Sequence[str], catalogue: Catalogue, to_weight: bool = False
) -> Plan:
    """The plan that the texts of --vary mean.

    Raises FormulaError for the formula, BlendwrightError for a text that can't be read or that
    names nothing in the formula.
    """
    base = weigh(formula, catalogue)
    axes = tuple(_axis(text, formula, catalogue) for text in varied)
    names = [axis.name for axis in axes]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise BatchError(f"varied twice: {', '.join(twice)}")
    carriers = carriers_of(base)
    if not carriers and (to_weight or CARRIER in names):
        raise BatchError(
            f"no carrier was found in {formula.name}; write the role carrier beside its row"
        )
    return Plan(
        formula,
        axes,
        carriers[0].label if carriers else None,
        base.total_g if to_weight else None,
    )


def _axis(text: str, formula: Formula, catalogue: Catalogue) -> Axis:
    name, equals, spec = (part.strip() for part in text.rpartition("="))
    if not equals or not name or not spec:
        raise BatchError(f'--vary {text!r}: write it like "ethyl butyrate=0..3 g/7"')
    if name.casefold() == CARRIER:
        carriers = tuple(part.strip() for part in spec.split(",") if part.strip())
        for carrier in carriers:
            for part, _ in parse_carriers(carrier):
                resolve(part, catalogue)
        return Axis(CARRIER, carriers, None)
    found, row = _row_of(name, formula, catalogue)
    if ranged := _RANGE.match(spec):
        scale = _GRAMS_PER[(ranged.group(3) or "").casefold()]
        low, high = (_number(text, part) * scale for part in ranged.group(1, 2))
        count = int(ranged.group(4) or USUAL_COUNT)
        if not low < high <= LARGEST_g or not 2 <= count <= MOST_POINTS:
            raise BatchError(f"--vary {text!r}: a range goes upwards, in two steps or more")
        return Axis(found, tuple(np.linspace(low, high, count).tolist()), row, (low, high))
    if listed := _LIST.match(spec):
        scale = _GRAMS_PER[(listed.group(2) or "").casefold()]
        values = tuple(_number(text, part) * scale for part in _parts(text, listed.group(1)))
        return Axis(found, values, row)
    raise BatchError(f"--vary {text!r}: neither a range (0..3 g/7) nor a list (0.5,1,2 g)")


def _number(text: str, part: str) -> float:
    value = parse_number(part)
    if value is None:
        raise BatchError(f"--vary {text!r}: {why_no_number(part)}")
    return value


def _parts(text: str, listed: str) -> list[str]:
    """The numbers of a list. Between semicolons a comma is a decimal sign; whole numbers between
    commas that don't rise (0,5,1,5) may be decimals, and are asked about."""
    if ";" in listed:
        return [part.strip() for part in listed.split(";")]
    parts = [part.strip() for part in listed.split(",")]
    values = [float(part) for part in parts]
    rises = all(low < high for low, high in itertools.pairwise(values))
    if "." not in listed and not rises:
        raise BatchError(
            f"--vary {text!r}: are these commas decimal signs? Write 0.5,1.5 or 0,5;1,5 for "
            "decimals, and the numbers of a list in rising order"
        )
    return parts


def _row_of(name: str, formula: Formula, catalogue: Catalogue) -> tuple[str, int]:
    """The varied row: its material's own name, and its place."""
    wanted = resolve(name, catalogue).name
    found = [
        place
        for place, row in enumerate(formula.rows)
        if resolve(row.material, catalogue).name == wanted
    ]
    if not found:
        raise BatchError(f"{name!r} isn't in {formula.name}; only its rows can be varied")
    if len(found) > 1:
        raise BatchError(f"{wanted} stands in {len(found)} rows of {formula.name}; make it one")
    if formula.rows[found[0]].amount.unit == "to weight":
        raise BatchError(f"{wanted} is made up to weight; vary another row, or write its grams")
    return wanted, found[0]


@dataclass(frozen=True)
class SweepLot:
    """Some points of a plan."""

    number: int
    first: int
    plan: Plan
    points: tuple[tuple[float | str, ...], ...]
    share: float | None = None

    @property
    def count(self) -> int:
        return len(self.points)

    def varied(self) -> pa.Table:
        fields = [axis.field for axis in self.plan.axes]
        columns = [
            pa.array([point[n] for point in self.points], field.type)
            for n, field in enumerate(fields)
        ]
        return pa.Table.from_arrays(columns, schema=pa.schema(fields))

    def weighed(self, row_cache: RowCache, batch_g: float | None) -> Weighed:
        made: list[tuple[str, Weighing | Refused]] = []
        for number, point in enumerate(self.points, start=self.first):
            name = f"{self.plan.formula.name} #{number}"
            try:
                made.append((name, self.plan.weighing(point, row_cache)))
            except FormulaError as error:
                made.append((name, refused(error)))
            except BatchError as error:
                made.append((name, Refused("grams", str(error))))
        return Weighed.of(made)


class Sweep:
    """All points of a plan: the grid of its axes, or a Latin hypercube."""

    ids_may_return = False

    def __init__(self, plan: Plan, sampling: Hypercube | None = None) -> None:
        self.plan = plan
        self.sampling = sampling
        self.name = plan.formula.name
        sizes = [len(axis.values) for axis in plan.axes]
        self.count = sampling.points if sampling else int(np.prod(sizes, dtype=float))
        if self.count > MOST_POINTS:
            raise BatchError(f"{self.count:,} points are more than {MOST_POINTS:,}")

    @property
    def fields(self) -> tuple[pa.Field, ...]:
        return tuple(axis.field for axis in self.plan.axes)

    def fingerprint(self) -> dict[str, object]:
        told = repr((self.plan, self.sampling)).encode()
        return {"sweep": self.name, "sha256": hashlib.sha256(told).hexdigest()}

    def chunks(self, size: int) -> Iterator[Chunk]:
        done = 0
        points = self._points()
        while held := tuple(itertools.islice(points, size)):
            number = done // size + 1
            yield SweepLot(number, done + 1, self.plan, held, (done + len(held)) / self.count)
            done += len(held)

    def _points(self) -> Iterator[tuple[float | str, ...]]:
        axes = self.plan.axes
        if self.sampling is None:
            yield from itertools.product(*(axis.values for axis in axes))
            return
        from scipy.stats import qmc

        cube = qmc.LatinHypercube(len(axes), seed=self.sampling.seed)
        for turns in cube.random(self.sampling.points).tolist():
            yield tuple(axis.at(turn) for axis, turn in zip(axes, turns, strict=True))
