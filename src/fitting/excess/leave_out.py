"""What the fit of pairs is worth on what it did not see: each substance or system left out.

In closed form: when the rows of a block are left out, their errors are the block's own part of
K^-1 y (`Fit.left_out`). Each figure is a root mean square with the 90 % half-width claimed and the
share of measurements inside it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from blendwright.estimate import NORMAL_90
from blendwright.formula.conditions import ROOM_K
from blendwright.mixture.parameter_sets import Array
from fitting.excess.fit import Fit
from fitting.excess.rows import FitRow
from fitting.excess.systems import of_names

UNITS = (
    ("crystals", "log10 x"),
    ("water solubility", "log10 mol/L"),
    ("enthalpy", "kJ/mol"),
    ("vapour", "ln P"),
    ("layers", "ln"),
)
Block = tuple[list[int], list[int]]  # rows to judge, and all rows left out with them


@dataclass(frozen=True)
class Figure:
    """One line of the table of accuracy; `base` is the uncorrected mean of the base sets."""

    question: str
    count: int
    groups: int
    rms: float
    base: float
    half_width: float
    inside: float

    @property
    def unit(self) -> str:
        """What the errors are in."""
        for words, unit in UNITS:
            if words in self.question:
                return unit
        return "ln gamma"

    def __str__(self) -> str:
        return (
            f"{self.question:52s} n={self.count:4d} ({self.groups:3d})  rms {self.rms:.3f}  base "
            f"{self.base:.3f}  half-width {self.half_width:.3f}  inside {100 * self.inside:.0f} %"
        )


def judged(fit: Fit, question: str, blocks: Iterable[Block]) -> Figure:
    errors, sds, bases, groups = [], [], [], 0
    for rows, block in blocks:
        if not rows:
            continue
        groups += 1
        error, sd = fit.left_out(rows, block)
        here = [fit.design.rows[r] for r in rows]
        scale = np.array([abs(r.reported) for r in here])
        if here[0].kind == "crystal":
            off = np.array([crystal_error(r, e) for r, e in zip(here, error, strict=True)])
            edges = zip(here, error, error - np.sign(error) * NORMAL_90 * sd, strict=True)
            half = np.array([abs(crystal_error(r, e) - crystal_error(r, o)) for r, e, o in edges])
            errors.append(off)
            sds.append(half / NORMAL_90)
            bases.append(np.array([crystal_error(r, -r.residual) for r in here]))
            continue
        errors.append(error * scale)
        sds.append(sd * scale)
        bases.append(fit.design.residual[rows] * scale)
    e, s, b = (np.concatenate(v) if v else np.zeros(0) for v in (errors, sds, bases))
    half = NORMAL_90 * s
    return Figure(
        question, len(e), groups, rms(e), rms(b), float(np.median(half)) if len(e) else math.nan,
        float(np.mean(np.abs(e) <= half)) if len(e) else math.nan,
    )  # fmt: skip


def crystal_error(row: FitRow, error: float) -> float:
    """An error in the row's residual (predicted less measured) as error in log10 x.

    The saturated solution is solved with the terms shifted by it, fading as the terms do with the
    solvent's share.
    """
    assert row.fusion is not None
    two = of_names(row.names)
    assert two is not None
    ideal = float(row.details["ideal"])
    grid = np.linspace(math.log(1e-9), math.log(0.9999), 600)
    x = np.exp(grid)
    size = two.who.size

    def solvent_share(x: Array) -> Array:
        return np.asarray((1.0 - x) * size[1] / (x * size[0] + (1.0 - x) * size[1]))

    fading = (solvent_share(x) / solvent_share(np.array(10.0**row.measured))) ** 2
    base = two.ln_gamma(np.column_stack([x, 1.0 - x]), row.temperature_K)[:, 0]
    over = grid + base + (row.residual + error) * fading
    above = np.flatnonzero(over >= ideal)
    k = int(above[0]) if len(above) else len(grid) - 1
    return float(grid[k] / math.log(10.0) - row.measured)


def rms(values: Array) -> float:
    return float(np.sqrt(np.mean(np.square(values)))) if len(values) else math.nan


def blocks_by_pair(rows: Sequence[FitRow], judge: Callable[[FitRow], bool]) -> list[Block]:
    """All rows of an unordered pair left out together."""
    by_pair: dict[frozenset[str], list[int]] = {}
    for k, row in enumerate(rows):
        by_pair.setdefault(frozenset(row.names), []).append(k)
    return [([k for k in b if judge(rows[k])], b) for b in by_pair.values()]


def blocks_by_solute(rows: Sequence[FitRow], judge: Callable[[FitRow], bool]) -> list[Block]:
    """All rows that hold the solute left out; of water in others, the pair's rows."""
    holding: dict[str, list[int]] = {}
    for k, row in enumerate(rows):
        for name in row.names:
            holding.setdefault(name, []).append(k)
    made = [
        ([k for k in b if rows[k].solute == name and judge(rows[k])], b)
        for name, b in holding.items()
        if name != "water"
    ]
    return made + blocks_by_pair(rows, lambda r: r.solute == "water" and judge(r))


def nearest_room(rows: Sequence[FitRow], ks: Iterable[int]) -> list[int]:
    """One row a pair: the temperature nearest 25 °C."""
    best: dict[tuple[str, ...], int] = {}
    for k in ks:
        key = rows[k].names
        if key not in best or abs(rows[k].temperature_K - ROOM_K) < abs(
            rows[best[key]].temperature_K - ROOM_K
        ):
            best[key] = k
    return sorted(best.values())


def _of_kind(kind: str) -> Callable[[FitRow], bool]:
    return lambda row: row.kind == kind


def log_density(fit: Fit) -> dict[str, float]:
    """Mean log density of the rows of each kind, each pair left out: the higher the better."""
    found: dict[str, list[float]] = {}
    rows = fit.design.rows
    for judge, block in blocks_by_pair(rows, lambda r: r.kind != "alcohol"):
        if judge:
            error, sd = fit.left_out(judge, block)
            density = -0.5 * (error / sd) ** 2 - np.log(sd)
            for k, value in zip(judge, density, strict=True):
                found.setdefault(rows[k].kind, []).append(float(value))
    return {kind: float(np.mean(values)) for kind, values in found.items()}


def figures(fit: Fit) -> list[Figure]:
    rows = fit.design.rows
    dilute = "ln gamma at infinite dilution"

    def in_carrier(*carriers: str) -> Callable[[FitRow], bool]:
        return lambda r: r.kind == "dilution" and (not carriers or r.carrier in carriers)

    made = []
    ways = (("pair", blocks_by_pair), ("substance", blocks_by_solute))
    for way, blocks in ways:
        for label, who in (
            ("all", ()), ("propylene glycol", ("propylene glycol",)), ("triacetin", ("triacetin",)),
            ("glycerol", ("glycerol",)), ("ethanol", ("ethanol",)),
            ("esters", ("ethyl acetate", "propyl acetate", "pentyl acetate", "triacetin",
                        "diethyl phthalate", "ethyl benzoate")),
        ):  # fmt: skip
            made.append(
                judged(fit, f"{dilute}, {label} ({way} left out)", blocks(rows, in_carrier(*who)))
            )
    crystals = [k for k, r in enumerate(rows) if r.kind == "crystal"]
    judge_at = set(nearest_room(rows, crystals))
    unknown = []
    for name in dict.fromkeys(rows[k].solute for k in crystals):
        block = [k for k, r in enumerate(rows) if name in r.names]
        unknown.append(([k for k in block if k in judge_at and rows[k].solute == name], block))
    made.append(judged(fit, "crystals, nothing known, log10 x", unknown))
    other_carrier = []
    by_solid: dict[str, set[str]] = {}
    for k in crystals:
        by_solid.setdefault(rows[k].solute, set()).add(rows[k].carrier)
    for solid, carriers in by_solid.items():
        for carrier in carriers if len(carriers) > 1 else ():
            block = [k for k in crystals if rows[k].names == (solid, carrier)]
            other_carrier.append(([k for k in block if k in judge_at], block))
    made.append(judged(fit, "crystals, another carrier known, log10 x", other_carrier))
    other_temperature = []
    for solid, carriers in by_solid.items():
        for carrier in carriers:
            here = [k for k in crystals if rows[k].names == (solid, carrier)]
            for k in here:
                away = [
                    m for m in here
                    if abs(rows[m].temperature_K - rows[k].temperature_K) >= 9.5
                    and rows[m].details["source"] == rows[k].details["source"]
                ]  # fmt: skip
                if away:
                    nearest = min(
                        away, key=lambda m: abs(rows[m].temperature_K - rows[k].temperature_K)
                    )
                    other_temperature.append(([k], [m for m in here if m != nearest]))
    made.append(judged(fit, "crystals, another temperature known, log10 x", other_temperature))

    for kind, question in (
        ("water", "water solubility, log10 mol/L"),
        ("hydrocarbon", "hydrocarbons in water, water in them, ln gamma"),
    ):
        made.append(judged(fit, question, blocks_by_solute(rows, _of_kind(kind))))
    made.append(
        judged(fit, "layers of two, ln", blocks_by_pair(rows, lambda r: r.kind == "layers"))
    )
    made.append(judged(fit, "vapour, ln P", blocks_by_pair(rows, lambda r: r.kind == "vapour")))
    made.append(
        judged(fit, "excess enthalpy, kJ/mol", blocks_by_pair(rows, lambda r: r.kind == "heat"))
    )
    return made
