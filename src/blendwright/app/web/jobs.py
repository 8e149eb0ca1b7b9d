"""What the sections ask of a background worker: one function a question.

They run in a worker process; what they lean on is imported there, so that the page itself starts
quickly. Each raises BlendwrightError or ValueError with words for the person.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from blendwright.app.web.answers import (
    Request,
    blend_of,
    catalogue_for,
    formula_of,
    observations_for,
)
from blendwright.errors import FormulaError, Problem
from blendwright.estimate import Estimate

if TYPE_CHECKING:
    from blendwright.formula import Formula
    from blendwright.mixture.weighing import Weighing
    from blendwright.questions.advice.advise import Advice
    from blendwright.questions.advice.carrier_map import CarrierMap
    from blendwright.questions.advice.carriers import InCarrier
    from blendwright.questions.drink.dosing import Dosed
    from blendwright.questions.flash_drivers import FlashDrivers
    from blendwright.questions.volumes.volumes import BenchOrder, BenchSheet
    from blendwright.questions.warming import WarmBath, Warming
    from blendwright.report.papers import LabelWish
    from blendwright.report.papers.contents import Paper


@lru_cache(maxsize=4)
def warming(request: Request, bath: WarmBath) -> Warming:
    from blendwright.questions.warming import warm

    return warm(
        formula_of(request),
        bath,
        request.bench_K,
        request.pressure_Pa,
        catalogue=catalogue_for(request),
        drop_mL=request.drop_mL,
        observations=observations_for(request),
    )


def in_millilitres(request: Request) -> Formula:
    """The formula with its drops as millilitres, by the person's own drop."""
    from blendwright.formula.numbers import Amount

    formula = formula_of(request)
    rows = tuple(
        replace(row, amount=Amount(row.amount.number * request.drop_mL, "mL"))
        if row.amount.unit == "drops"
        else row
        for row in formula.rows
    )
    return replace(formula, rows=rows)


def weighing_of(request: Request) -> Weighing:
    """The formula as it is weighed."""
    return blend_of(request).weighing


def work_sheet(request: Request, order: BenchOrder) -> BenchSheet:
    """The pipetting sheet, the order of weighing, the bottles."""
    from blendwright.questions.volumes.volumes import bench_sheet

    return bench_sheet(
        formula_of(request),
        order,
        catalogue=catalogue_for(request),
        observations=observations_for(request),
    )


@lru_cache(maxsize=4)
def drivers(request: Request) -> FlashDrivers:
    from blendwright.questions.flash_drivers import flash_drivers

    return flash_drivers(
        in_millilitres(request),
        request.bench_K,
        request.pressure_Pa,
        catalogue=catalogue_for(request),
        observations=observations_for(request),
    )


@dataclass(frozen=True)
class Pour:
    """A dose as asked for: into what, how much of it, and where it stands."""

    into: str
    mL: float
    per_mL: float
    drink_K: float


def dosed(request: Request, pour: Pour) -> Dosed:
    from blendwright.questions.drink.dosing import Dose, dose

    amount = Dose.of(None, pour.mL, pour.per_mL, request.drop_mL)
    formula, catalogue = formula_of(request), catalogue_for(request)
    return dose(
        formula,
        pour.into,
        amount,
        pour.drink_K,
        catalogue=catalogue,
        observations=observations_for(request),
    )


def carriers(request: Request, names: tuple[str, ...]) -> tuple[InCarrier, ...]:
    from blendwright.questions.advice.carriers import compare_carriers

    return compare_carriers(
        in_millilitres(request),
        names,
        request.bench_K,
        request.pressure_Pa,
        catalogue=catalogue_for(request),
        observations=observations_for(request),
    )


@lru_cache(maxsize=4)
def two_carriers(request: Request, pair: str, kelvin: float) -> CarrierMap:
    from blendwright.questions.advice.carrier_map import carrier_map
    from blendwright.questions.advice.carriers import parse_carriers

    names = [name for name, _ in parse_carriers(pair)]
    if len(names) != 2:
        raise ValueError("a map needs two carriers, like: triacetin + ethanol")
    formula, catalogue = in_millilitres(request), catalogue_for(request)
    return carrier_map(
        formula,
        names[0],
        names[1],
        kelvin,
        catalogue=catalogue,
        observations=observations_for(request),
    )


def advice(request: Request, clear_at_K: float | None, flash_above_K: float | None) -> Advice:
    from blendwright.questions.advice.advise import advise

    return advise(
        in_millilitres(request),
        clear_at_K=clear_at_K,
        flash_above_K=flash_above_K,
        catalogue=catalogue_for(request),
        bench_K=request.bench_K,
        pressure_Pa=request.pressure_Pa,
        observations=observations_for(request),
    )


@dataclass(frozen=True)
class PapersWish:
    """Which papers, in which format (a suffix), and what stands on them."""

    papers: tuple[Paper, ...]
    suffix: str
    made_on: date
    lot: str
    measured: tuple[str, ...]
    label: LabelWish


def papers(request: Request, wish: PapersWish) -> bytes:
    """The file that `blendwright report` writes."""
    from blendwright.assess import assess
    from blendwright.report.papers import make_papers, papers_bytes
    from blendwright.report.papers.dossier import gather
    from blendwright.report.papers.measured import parse_measured

    catalogue = catalogue_for(request)
    dossier = gather(
        assess(
            formula_of(request),
            request.bench_K,
            request.pressure_Pa,
            catalogue=catalogue,
            drop_mL=request.drop_mL,
            observations=observations_for(request),
        ),
        wish.made_on,
        measured=[parse_measured(text) for text in wish.measured],
        lot=wish.lot,
        catalogue=catalogue,
        drop_mL=request.drop_mL,
        observations=observations_for(request),
    )
    drawn = wish.suffix == ".html"
    made = make_papers(dossier, wish.papers, wish.label, with_pictures=drawn)
    return papers_bytes(made, dossier, wish.suffix)


@dataclass(frozen=True)
class MaterialCard:
    """Everything known of one material: the JSON data, and the chosen values as estimates."""

    data: dict[str, object]
    chosen: dict[str, Estimate]


def material_card(request: Request, name: str) -> MaterialCard:
    from blendwright.mixture.weighing import resolve
    from blendwright.report.material import chosen_values, material_dict

    catalogue = catalogue_for(request)
    found = resolve(name, catalogue)
    known = found.kind == "substance" and not found.is_undisclosed
    return MaterialCard(material_dict(found, catalogue), chosen_values(found) if known else {})


@dataclass(frozen=True)
class CheckedMaterials:
    """A file of the person's own materials: the names in it, or what is wrong with it."""

    names: tuple[str, ...]
    problems: tuple[Problem, ...]


def check_own_materials(path: str) -> CheckedMaterials:
    """Whether a file of the person's own materials can be used.

    A composition may name a formula file: only one that lies in the same folder is opened.
    """
    from blendwright.catalogue import default_catalogue
    from blendwright.formula.table_files import table_cells
    from blendwright.questions.materials.own import read_own_materials

    file = Path(path)
    folder = file.parent.resolve()
    for line, cells in table_cells(file):
        for cell in cells[2:3] if "formula_file" in cells else ():
            if not (folder / cell).resolve().is_relative_to(folder):
                told = f"{cell!r} lies outside the folder of your materials"
                return CheckedMaterials((), (Problem(told, line, "value"),))
    try:
        return CheckedMaterials(read_own_materials(file, default_catalogue()).own_names(), ())
    except FormulaError as error:
        return CheckedMaterials((), error.problems)
