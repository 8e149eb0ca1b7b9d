"""Fit `flash_regression.csv` and `flash_neighbours.csv` from published flash points.

    python -m questions.accuracy.flash_regression_fit [--write]

Training data: every curated substance with a published flash and boiling point, and the substances
of IEC 60079-20-1, NFPA 497 and Wikidata (as tabulated in `chemicals`, never its Serat column) with
a published boiling point and groups. Left out: every substance of the check table given by
`--without` (InChIKeys, one a line), and values whose ratio to the boiling point is impossible.
A Gaussian process with a line and a bell of likeness (Rasmussen and Williams 2006, chapter 2), its
noise iterated with Huber's weights; ten-fold cross-validation by substance, seed 0. Its numbers
below were chosen by such folds on the catalogue's 430 substances: 5.4 to 5.6 K mean by the deal of
the folds; a line alone by Tukey's biweight 6.0, by these weights 5.8; other breadths (0.5 to 1) and
heights (6 to 12 K) within 0.1; fragments and 2,403 substances in place of groups and these 643, or
likeness by atom environments, no better.
"""

from __future__ import annotations

import argparse
import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from blendwright.catalogue import default_catalogue
from blendwright.catalogue.kinds import ChemicalKind, kind_by_groups, kind_of
from blendwright.catalogue.material import atoms
from blendwright.pure.boiling_point import boiling_point, published_first
from blendwright.pure.flash_regression import TERMS, bell, terms

Array = NDArray[np.float64]
NOISE_K = 4.0
HUBER = 1.5  # an error beyond so many NOISE_K counts less,
DROPPED_BEYOND = 8.0  # and one beyond so many hardly at all
HARDLY = 0.02
ITERATIONS = 6
LINE_K = 30.0  # standard deviation of a coefficient before the measurements
CONSTANT_K, CONSTANT_SPREAD_K = 340.0, 300.0
POSSIBLE_RATIO = (0.6, 0.9)
FOLDS = 10


@dataclass(frozen=True, eq=False)
class Training:
    """Substances: kind, terms of the equation (substances x terms), flash points K."""

    names: tuple[str, ...]
    kinds: tuple[ChemicalKind, ...]
    terms: Array
    flashes_K: Array


def training_rows(without: set[str]) -> Training:
    """`without` holds first blocks of InChIKeys."""
    names: list[str] = []
    kinds: list[ChemicalKind] = []
    rows: list[list[float]] = []
    flashes: list[float] = []
    catalogue = default_catalogue()
    known = set()
    for name in catalogue.names():
        material = catalogue.material(name)
        if material.kind != "substance" or material.is_water:
            continue
        known.add(material.cas)
        flash = [d.value for d in material.accepted("flash_point") if d.method != "estimated"]
        boiling = boiling_point(material)
        published = [
            d
            for d in published_first(material.accepted("boiling_point"))
            if d.method != "estimated"
        ]
        groups = material.groups.get("original")
        if not flash or not published or groups is None or boiling.value is None:
            continue
        if material.inchikey.split("-")[0] in without:
            continue
        names.append(name)
        kinds.append(kind_of(material))
        rows.append(terms(material.formula, groups, boiling.value))
        flashes.append(float(np.median(flash)))
    for name, kind, row, flash_K in _library_rows(without, known):
        names.append(name)
        kinds.append(kind)
        rows.append(row)
        flashes.append(flash_K)
    return Training(tuple(names), tuple(kinds), np.array(rows), np.array(flashes))


def _library_rows(
    without: set[str], known: set[str]
) -> list[tuple[str, ChemicalKind, list[float], float]]:
    import chemicals
    import pandas as pd
    from chemicals import identifiers
    from thermo.unifac import UNIFAC_group_assignment_DDBST

    folder = Path(chemicals.__file__).parent
    values: dict[str, list[float]] = {}
    for file in ("Safety/IS IEC 60079-20-1 2010.tsv", "Safety/NFPA 497 2008.tsv"):
        table = pd.read_csv(folder / file, sep="\t", index_col=0)
        for cas, value in table["T_flash"].dropna().items():
            values.setdefault(str(cas), []).append(float(value))
    table = pd.read_csv(folder / "Misc/wikidata_properties.tsv", sep="\t", index_col=0)
    for number, value in table["T_flash"].dropna().items():
        digits = str(number)
        values.setdefault(f"{digits[:-3]}-{digits[-3:-1]}-{digits[-1]}", []).append(float(value))
    found = []
    for cas, flashes in values.items():
        if cas in known:
            continue
        identity = identifiers.pubchem_db.search_CAS(int(cas.replace("-", "")))
        if not identity or not identity.InChI_key:
            continue
        elements = atoms(str(identity.formula))
        if set(elements) - set("CHONS") or elements.get("C", 0) < 2:
            continue
        groups = UNIFAC_group_assignment_DDBST(cas, "UNIFAC")
        if not groups or not set(chemicals.Tb_methods(cas)) - {"JOBACK"}:
            continue
        boiling_K = float(chemicals.Tb(cas))
        flash_K = float(np.median(flashes))
        low, high = POSSIBLE_RATIO
        if identity.InChI_key.split("-")[0] in without or not low < flash_K / boiling_K < high:
            continue
        formula = str(identity.formula)
        kind = kind_by_groups(groups, formula)
        row = terms(formula, groups, boiling_K)
        found.append((str(identity.common_name), kind, row, flash_K))
    return found


@dataclass(frozen=True, eq=False)
class FlashFit:
    """The line (means, deviations, coefficients of standardised terms, the constant) and the
    weights of the substances that it was fitted to."""

    mean: Array
    deviation: Array
    constant: float
    coefficients: Array
    rows: Array
    weights: Array


def fit(rows: Array, flashes: Array) -> FlashFit:
    """To terms (substances x terms) and flash points, K."""
    mean, deviation = rows.mean(axis=0), rows.std(axis=0) + 1e-9
    z = (rows - mean) / deviation
    covariance = LINE_K**2 * z @ z.T + CONSTANT_SPREAD_K**2 + bell(z, z)
    trust = np.ones(len(z))
    weights = np.zeros(len(z))
    for _ in range(ITERATIONS):
        noise = NOISE_K**2 / trust
        weights = np.linalg.solve(covariance + np.diag(noise), flashes - CONSTANT_K)
        size = np.maximum(np.abs(noise * weights) / NOISE_K, 1e-9)
        trust = np.minimum(1.0, HUBER / size)
        trust[size > DROPPED_BEYOND] = HARDLY
    constant = CONSTANT_K + CONSTANT_SPREAD_K**2 * float(weights.sum())
    return FlashFit(mean, deviation, constant, LINE_K**2 * z.T @ weights, rows, weights)


def predict(model: FlashFit, rows: Array) -> Array:
    z, known = ((r - model.mean) / model.deviation for r in (rows, model.rows))
    return np.asarray(model.constant + z @ model.coefficients + bell(z, known) @ model.weights)


def cross_validated_errors(rows: Array, flashes: Array) -> Array:
    """Predicted less published, each substance predicted by a fit without it."""
    order = np.random.default_rng(0).permutation(len(flashes))
    errors = np.zeros(len(flashes))
    for fold in range(FOLDS):
        out = order[fold::FOLDS]
        kept = np.setdiff1d(order, out)
        errors[out] = predict(fit(rows[kept], flashes[kept]), rows[out]) - flashes[out]
    return errors


def line_text(model: FlashFit) -> str:
    """flash_regression.csv."""
    lines = ["term,mean,deviation,coefficient", f"constant,0,1,{model.constant:.6f}"]
    lines += [
        f"{name},{m:.6f},{d:.6f},{c:.6f}"
        for name, m, d, c in zip(
            TERMS, model.mean, model.deviation, model.coefficients, strict=True
        )
    ]
    return "\n".join(lines) + "\n"


def neighbours_text(model: FlashFit, names: Sequence[str]) -> str:
    """flash_neighbours.csv: the terms of each substance, and its weight."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(("substance", *TERMS, "weight"))
    for name, row, weight in zip(names, model.rows, model.weights, strict=True):
        writer.writerow((name, *(f"{value:.6g}" for value in row), f"{weight:.6g}"))
    return out.getvalue()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--without", help="CSV with an inchikey column: the check table")
    parser.add_argument("--write", action="store_true", help="write both tables")
    options = parser.parse_args()
    without: set[str] = set()
    if options.without:
        with Path(options.without).open(encoding="utf-8", newline="") as handle:
            without = {row["inchikey"].split("-")[0] for row in csv.DictReader(handle)}
    known = training_rows(without)
    rows, flashes = known.terms, known.flashes_K
    errors = np.abs(cross_validated_errors(rows, flashes))
    print(
        f"{len(flashes)} substances; cross-validated mean {errors.mean():.1f} K, median "
        f"{np.median(errors):.1f} K, 90 % within {np.quantile(errors, 0.9):.1f} K"
    )
    if options.write:
        folder, model = Path(str(files("blendwright.pure"))), fit(rows, flashes)
        (folder / "flash_regression.csv").write_text(line_text(model), encoding="utf-8")
        (folder / "flash_neighbours.csv").write_text(
            neighbours_text(model, known.names), encoding="utf-8"
        )


if __name__ == "__main__":
    main()
