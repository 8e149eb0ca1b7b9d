"""Fit the structure estimates again: `python -m fitting.structure_regressions`, a few minutes.

Ridge regression with Huber's weights (an error beyond twice the robust standard deviation counts
less, one beyond six times not at all: boiling points at reduced pressure), iterated. Nothing is
random: the ten folds are dealt by a hash of the InChIKey's first block, the same for every
property, so that a molecule is never tested with a boiling point fitted to it. Writes
coefficients.csv, relatives.csv, uncertainty.csv and cross_validation.csv into `pure/structure`,
what each substance of the catalogue is estimated as by a model that has not seen it into
`questions/accuracy/structure_left_out.csv`, and prints the figures, those of the molecules in
held_out.csv apart.
"""

from __future__ import annotations

import csv
import hashlib
import math
from collections.abc import Callable, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from importlib.resources import files
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from blendwright.catalogue import default_catalogue
from blendwright.errors import BlendwrightError
from blendwright.estimate import NORMAL_90
from blendwright.formula.conditions import ROOM_K
from blendwright.pure.structure import equations as eq
from blendwright.pure.structure import estimates as est
from blendwright.pure.structure.molecule import Molecule, read_molecule
from blendwright.pure.structure.relatives import (
    KRIGED,
    NOISE,
    build,
    kriging_weights,
    likeness_table,
)
from fitting.structure_training import Target, held_out_blocks, training_data

Array = NDArray[np.float64]

FOLDS = 10
ITERATIONS = 12
HUBER = 2.0
DROPPED_BEYOND = 6.0
UNCORROBORATED_TRUST = {"boiling_point": 0.5, "flash_point": 0.05}
CLIPPED_BEYOND = 4.0  # a residual handed to the relatives, in robust standard deviations
JUDGED_CORROBORATED = ("boiling_point", "flash_point", "flash_point_known_boiling")
FEWEST_JUDGED = 20  # with fewer of a kind, both kinds are judged together
HERE = Path(str(files("blendwright.pure.structure")))
LEFT_OUT = Path(str(files("blendwright.questions.accuracy"))) / "structure_left_out.csv"

TERMS: dict[str, Callable[[Molecule], eq.Terms]] = {
    "boiling_point": eq.boiling_terms,
    "vaporisation": eq.vaporisation_terms,
    "molar_volume": eq.volume_terms,
    "melting_point": eq.melting_terms,
    "fusion_entropy": eq.fusion_entropy_terms,
    "limit_ratio": eq.limit_terms,
}
PENALTY = {
    "boiling_point": 0.5,
    "vaporisation": 4.0,
    "molar_volume": 0.3,
    "melting_point": 3.0,
    "fusion_entropy": 1.0,
    "limit_ratio": 3.0,
    "flash_point": 40.0,
}


@dataclass(frozen=True, eq=False)
class Ridge:
    """A fit: coefficient by term, residual and final weight of each observation, robust sigma."""

    coefficients: dict[str, float]
    residuals: Array
    weights: Array
    sigma: float


def fold_of(block: str) -> int:
    """0 to 9 by a hash of the InChIKey's first block."""
    return int(hashlib.sha256(block.encode()).hexdigest(), 16) % FOLDS


def ridge(rows: Sequence[eq.Terms], targets: Array, trust: Array, penalty: float) -> Ridge:
    """Robust ridge regression; the constant term goes unpenalised."""
    names = list(dict.fromkeys(name for row in rows for name in row))
    at = {name: column for column, name in enumerate(names)}
    matrix = np.zeros((len(rows), len(names)))
    for number, row in enumerate(rows):
        for name, value in row.items():
            matrix[number, at[name]] = value
    penalties = np.full(len(names), penalty)
    penalties[at["1"]] = 1e-6
    weights = trust.copy()
    for _ in range(ITERATIONS):
        scale = np.sqrt((weights[:, None] * matrix**2).sum(0) / weights.sum())
        scale[scale == 0.0] = 1.0
        scaled = matrix / scale
        normal = (scaled * weights[:, None]).T @ scaled + np.diag(penalties)
        solution = np.linalg.solve(normal, (scaled * weights[:, None]).T @ targets) / scale
        residuals = targets - matrix @ solution
        sigma = 1.4826 * float(np.median(np.abs(residuals)))
        size = np.maximum(np.abs(residuals), 1e-12)
        weights = trust * np.minimum(1.0, HUBER * sigma / size)
        weights[size > DROPPED_BEYOND * sigma] = 0.0
    return Ridge(dict(zip(names, solution.tolist(), strict=True)), residuals, weights, sigma)


def _trust(name: str, observations: Sequence[Target]) -> Array:
    alone = UNCORROBORATED_TRUST.get(name, 1.0)
    return np.array([1.0 if o.corroborated else alone for o in observations])


@dataclass(frozen=True)
class Fitted:
    """A model, and what fit.py writes of it besides the coefficients."""

    model: est.Model
    relatives: list[tuple[str, float | None, list[float]]]
    dropped: dict[str, tuple[int, int]]


def fit_all(data: dict[str, list[Target]]) -> Fitted:
    """Every property, in the order in which they lean on each other."""
    coefficients: dict[str, dict[str, float]] = {}
    dropped: dict[str, tuple[int, int]] = {}
    fits: dict[str, Ridge] = {}
    for name, terms in TERMS.items():
        observations = data[name]
        made = ridge(
            [terms(o.molecule) for o in observations],
            np.array([o.value for o in observations]),
            _trust(name, observations),
            PENALTY[name],
        )
        coefficients[name] = made.coefficients
        dropped[name] = (int((made.weights == 0.0).sum()), len(observations))
        fits[name] = made
    fits["flash_point"] = _fit_flash(coefficients, dropped, data)
    known = {o.block: o.value for o in data["boiling_point"]}
    molecules = {o.block: o.molecule for name in KRIGED for o in data[name]}
    blocks = list(molecules)
    table = build([molecules[block].environments for block in blocks], {})
    likeness = likeness_table(table)
    weights = {
        name: _kriged(name, fits[name], [blocks.index(o.block) for o in data[name]], likeness)
        for name in KRIGED
    }
    model = est.Model(coefficients, replace(table, weights=weights))
    relatives = [
        (molecules[block].smiles, known.get(block), [float(weights[name][i]) for name in KRIGED])
        for i, block in enumerate(blocks)
    ]
    return Fitted(model, relatives, dropped)


def _kriged(name: str, made: Ridge, places: list[int], likeness: Array) -> Array:
    """The weights of all relatives for one property; zero for those without a value."""
    clip = CLIPPED_BEYOND * made.sigma
    found = np.zeros(len(likeness))
    among = likeness[np.ix_(places, places)]
    residuals = np.clip(made.residuals, -clip, clip)
    found[places] = kriging_weights(among, residuals, made.weights, NOISE[name])
    return found


def _fit_flash(
    coefficients: dict[str, dict[str, float]],
    dropped: dict[str, tuple[int, int]],
    data: dict[str, list[Target]],
) -> Ridge:
    """The line and family terms, from known boiling points where there are any."""
    model = est.Model(coefficients, None)
    known = {o.block: o.value for o in data["boiling_point"]}
    rows, shifts = [], []
    for o in data["flash_point"]:
        boiling_K = known.get(o.block) or est.boiling_point_K(o.molecule, model)
        factor = est.vaporisation_factor(o.molecule, model)
        physical_K = eq.physical_flash_K(o.molecule, boiling_K, factor)
        rows.append(eq.flash_terms(o.molecule, physical_K))
        shifts.append(o.value - physical_K)
    trust = _trust("flash_point", data["flash_point"])
    made = ridge(rows, np.array(shifts), trust, PENALTY["flash_point"])
    coefficients["flash_point"] = made.coefficients
    dropped["flash_point"] = (int((made.weights == 0.0).sum()), len(rows))
    return made


@dataclass(frozen=True)
class Test:
    """One molecule predicted by a model that has not seen it."""

    property: str
    observed: float
    predicted: float
    error: float
    corroborated: bool
    likeness: float
    kind: str


def predictions(model: est.Model, data: dict[str, list[Target]]) -> list[Test]:
    """Every observation beside its estimate, in the units of uncertainty.csv."""
    cache: dict[str, est.StructureEstimates] = {}
    known = {o.block: o.value for o in data["boiling_point"]}
    tests: list[Test] = []

    def guess(molecule: Molecule) -> est.StructureEstimates:
        if molecule.inchikey not in cache:
            cache[molecule.inchikey] = est.estimate(molecule, model)
        return cache[molecule.inchikey]

    def add(name: str, o: Target, observed: float, predicted: float, error: float) -> None:
        likeness = guess(o.molecule).likeness
        kind = est.kind_of(o.molecule)
        tests.append(Test(name, observed, predicted, error, o.corroborated, likeness, kind))

    for o in data["boiling_point"]:
        add("boiling_point", o, o.value, guess(o.molecule).boiling_K,
            guess(o.molecule).boiling_K - o.value)  # fmt: skip
    for o in data["vaporisation"]:
        predicted = guess(o.molecule).vaporisation_factor
        add("vaporisation", o, o.value, predicted, predicted - o.value)
        if o.block in known and o.corroborated:
            observed = eq.vapour_curve(known[o.block], o.value).pressure_Pa(ROOM_K)
            predicted = guess(o.molecule).vapour_pressure_25C_Pa
            add("vapour_pressure", o, observed, predicted, math.log10(predicted / observed))
    for o in data["molar_volume"]:
        observed = 1e3 * eq.molar_mass_g_mol(o.molecule) / o.value
        predicted = guess(o.molecule).density_20C_kg_m3
        add("density", o, observed, predicted, 100.0 * (predicted / observed - 1.0))
    for o in data["melting_point"]:
        predicted = guess(o.molecule).melting_K
        add("melting_point", o, o.value, predicted, predicted - o.value)
    melting = {o.block: o.value for o in data["melting_point"]}
    for o in data["fusion_entropy"]:
        observed = o.value * melting[o.block]
        predicted = guess(o.molecule).heat_of_fusion_J_mol
        add("heat_of_fusion", o, observed, predicted, math.log(predicted / observed))
    for o in data["limit_ratio"]:
        observed = eq.stoichiometric_share(o.molecule) * math.exp(o.value)
        predicted = guess(o.molecule).lower_limit_mol_mol
        add("lower_flammable_limit", o, observed, predicted, math.log(predicted / observed))
    for o in data["flash_point"]:
        predicted = guess(o.molecule).flash_K
        add("flash_point", o, o.value, predicted, predicted - o.value)
        if o.block in known:
            factor = est.vaporisation_factor(o.molecule, model)
            added = est.corrections(o.molecule, model)[0].get("flash_point", 0.0)
            predicted = est.flash_point_K(o.molecule, known[o.block], factor, model, added)
            add("flash_point_known_boiling", o, o.value, predicted, predicted - o.value)
    return tests


def _subset(data: dict[str, list[Target]], blocks: AbstractSet[str]) -> dict[str, list[Target]]:
    return {name: [o for o in rows if o.block in blocks] for name, rows in data.items()}


UNITS = {
    "boiling_point": "K",
    "vaporisation": "-",
    "vapour_pressure": "log10",
    "density": "%",
    "melting_point": "K",
    "heat_of_fusion": "ln",
    "lower_flammable_limit": "ln",
    "flash_point": "K",
    "flash_point_known_boiling": "K",
}


def _figures(errors: Sequence[float]) -> tuple[float, float, float]:
    size = np.abs(np.array(errors))
    return float(size.mean()), float(np.median(size)), float(np.quantile(size, 0.9))


def _uncertainty(tests: list[Test]) -> list[list[str]]:
    """Rows of uncertainty.csv: boiling and flash points only where they are corroborated."""
    rows = []
    for name, unit in UNITS.items():
        judged = [t for t in tests if t.property == name]
        if name in JUDGED_CORROBORATED:
            judged = [t for t in judged if t.corroborated]
        for label in est.LIKENESS_CLASSES:
            alike = [t for t in judged if est.likeness_class(t.likeness) == label]
            for kind in est.KINDS:
                errors = [t.error for t in alike if t.kind == kind]
                if len(errors) < FEWEST_JUDGED:
                    errors = [t.error for t in alike]
                mean, _, ninety = _figures(errors)
                rows.append([name, label, kind, f"{ninety / NORMAL_90:.4g}", unit,
                             f"{mean:.4g}", str(len(errors))])  # fmt: skip
    return rows


def _left_out_rows(models: Sequence[est.Model], final: est.Model) -> list[list[str]]:
    """Rows of structure_left_out.csv: every substance of the catalogue by the model that has seen
    no isomer of it, with 90 % half-widths; those in held_out.csv by the shipped model."""
    held_out = held_out_blocks()
    rows = {}
    catalogue = default_catalogue()
    for name in catalogue.names():
        material = catalogue.material(name)
        if material.kind != "substance" or not material.smiles or material.is_undisclosed:
            continue
        try:
            molecule = read_molecule(material.smiles)
        except BlendwrightError:
            continue
        block = molecule.inchikey[:14]
        model = final if block in held_out else models[fold_of(block)]
        found = est.estimate(molecule, model)
        widening = est.OUTSIDE_FIT_FACTOR if est.is_outside_fit(molecule, model) else 1.0
        boiling_sd = widening * est.trust("boiling_point", molecule, found).standard_deviation
        ln_pressure_sd = widening * est.ln_vapour_pressure_deviation(molecule, found)
        rows[block] = [
            block,
            f"{found.boiling_K:.2f}",
            f"{NORMAL_90 * boiling_sd:.2f}",
            f"{math.log(found.vapour_pressure_25C_Pa):.3f}",
            f"{NORMAL_90 * ln_pressure_sd:.3f}",
        ]
    return [rows[block] for block in sorted(rows)]


def _write(place: Path, header: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    with place.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(header)
        writer.writerows(rows)


def _table(title: str, tests: list[Test]) -> list[list[str]]:
    rows = []
    for name, unit in UNITS.items():
        for label, errors in (
            ("all", [t.error for t in tests if t.property == name]),
            ("two sources", [t.error for t in tests if t.property == name and t.corroborated]),
        ):
            if errors and (label == "all" or name in JUDGED_CORROBORATED):
                mean, middle, ninety = _figures(errors)
                rows.append([title, name, label, unit, str(len(errors)), f"{mean:.3g}",
                             f"{middle:.3g}", f"{ninety:.3g}",
                             f"{float(np.mean(errors)):.3g}"])  # fmt: skip
    return rows


def main() -> None:
    """Fit, cross-validate, write and print."""
    data = training_data()
    held_out = held_out_blocks()
    blocks = {o.block for rows in data.values() for o in rows} - held_out
    training = _subset(data, blocks)
    tests: list[Test] = []
    models: list[est.Model] = []
    for fold in range(FOLDS):
        inside = {block for block in blocks if fold_of(block) == fold}
        models.append(fit_all(_subset(training, blocks - inside)).model)
        tests += predictions(models[-1], _subset(training, inside))
    final = fit_all(training)
    held = predictions(final.model, _subset(data, held_out))
    _write(
        HERE / "coefficients.csv",
        ("property", "term", "coefficient"),
        [
            [name, term, f"{value:.6g}"]
            for name, terms in final.model.coefficients.items()
            for term, value in terms.items()
        ],
    )
    _write(
        HERE / "relatives.csv",
        ("smiles", "boiling_K", *KRIGED),
        [
            [smiles, f"{value:.2f}" if value else "", *(f"{w:.4f}" if w else "" for w in weights)]
            for smiles, value, weights in final.relatives
        ],
    )
    _write(
        HERE / "uncertainty.csv",
        ("property", "relatives", "kind", "standard_deviation", "unit", "mean_absolute_error",
         "molecules"),
        _uncertainty(tests),
    )  # fmt: skip
    figures = _table("ten folds", tests) + _table("held out", held)
    header = ("test", "property", "rows", "unit", "n", "mean_absolute", "median_absolute",
              "ninetieth_percentile", "bias")  # fmt: skip
    _write(HERE / "cross_validation.csv", header, figures)
    est.trust_table.cache_clear()
    _write(
        LEFT_OUT,
        ("inchikey_first_block", "boiling_K", "boiling_half_width_K", "ln_vapour_pressure_25C",
         "ln_half_width"),
        _left_out_rows(models, final.model),
    )  # fmt: skip
    for row in (list(header), *figures):
        print("  ".join(f"{cell:>15.25}" for cell in row))
    for name, (out, of) in final.dropped.items():
        print(f"{name}: {out} of {of} dropped as beyond {DROPPED_BEYOND:g} robust sigma")


if __name__ == "__main__":
    main()
