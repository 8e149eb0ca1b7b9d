"""Temperatures are in kelvin and pressures in pascal; whoever gives °C or kPa is told so."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from typer.testing import CliRunner

from blendwright import WarmBath, assess, assess_many, bench_sheet, dose, warm
from blendwright.app.cli.main import app
from blendwright.formula.conditions import pressure_problem, temperature_problem
from blendwright.mixture.evaporation import Exposure, OpenBeaker
from blendwright.questions.advice.advise import advise
from blendwright.questions.advice.carrier_map import carrier_map
from blendwright.questions.drink.dosing import Dose, DoseError
from blendwright.questions.flash_drivers import flash_drivers
from blendwright.questions.volumes.volumes import BenchError, BenchOrder
from tests.conftest import formula

PEAR = formula(("ethyl butyrate", 2.0), ("propylene glycol", 98.0))
KELVIN: dict[str, Callable[[float], object]] = {
    "assess": lambda t: assess(PEAR, temperature_K=t),
    "assess_many": lambda t: assess_many([PEAR], temperature_K=t, pressure_Pa=101325.0),
    "warm": lambda t: warm(PEAR, bench_K=t),
    "WarmBath": lambda t: WarmBath(to_K=t),
    "dose": lambda t: dose(PEAR, "water", Dose.of(drops=1.0), temperature_K=t),
    "BenchOrder": lambda t: bench_sheet(PEAR, BenchOrder(temperature_K=t)),
    "BenchOrder.fill_K": lambda t: bench_sheet(PEAR, BenchOrder(fill_K=t)),
    "flash_drivers": lambda t: flash_drivers(PEAR, bench_K=t),
    "advise.bench_K": lambda t: advise(PEAR, bench_K=t),
    "advise.clear_at_K": lambda t: advise(PEAR, clear_at_K=t),
    "advise.flash_above_K": lambda t: advise(PEAR, flash_above_K=t),
    "carrier_map": lambda t: carrier_map(PEAR, "triacetin", "ethanol", t, steps=2),
    "Exposure": lambda t: Exposure(OpenBeaker(), t),
}
PASCAL: dict[str, Callable[[float], object]] = {
    "assess": lambda p: assess(PEAR, pressure_Pa=p),
    "assess_many": lambda p: assess_many([PEAR], temperature_K=298.15, pressure_Pa=p),
    "warm": lambda p: warm(PEAR, pressure_Pa=p),
    "flash_drivers": lambda p: flash_drivers(PEAR, pressure_Pa=p),
    "advise": lambda p: advise(PEAR, pressure_Pa=p),
    "Exposure": lambda p: Exposure(OpenBeaker(), 298.15, p),
}
REFUSED = (ValueError, DoseError, BenchError)


@pytest.mark.parametrize("name", list(KELVIN))
def test_degrees_celsius_are_refused_and_kelvin_asked_for(name: str) -> None:
    with pytest.raises(REFUSED, match=r"=25 must lie .* in kelvin: for 25 °C give 298\.15"):
        KELVIN[name](25.0)


@pytest.mark.parametrize("name", list(PASCAL))
def test_kilopascals_are_refused_and_pascals_asked_for(name: str) -> None:
    with pytest.raises(REFUSED, match=r"=101\.3 must lie .* in pascal: for 101\.3 kPa give 101300"):
        PASCAL[name](101.3)


@pytest.mark.parametrize("name", list(KELVIN))
def test_no_number_is_no_temperature(name: str) -> None:
    with pytest.raises(REFUSED, match="in kelvin"):
        KELVIN[name](float("nan"))


def test_a_guess_is_made_only_where_the_number_would_fit() -> None:
    assert "for" not in str(temperature_problem("bench_K", 500.0))
    assert "for 1013 mbar give 101300" in str(pressure_problem("pressure_Pa", 1013.0))
    assert "for 1 bar give 100000" in str(pressure_problem("pressure_Pa", 1.0))
    assert "for" not in str(pressure_problem("pressure_Pa", 5000.0))
    assert temperature_problem("bench_K", 298.15) is pressure_problem("pressure_Pa", 9e4) is None


@pytest.mark.parametrize("celsius", ["-40", "150"])
@pytest.mark.parametrize("kilopascals", ["10", "120"])
def test_the_ends_of_the_ranges_are_in_them(celsius: str, kilopascals: str) -> None:
    """As the command and the page turn them into kelvin and pascal."""
    given = ["--temperature-C", celsius, "--pressure-kPa", kilopascals]
    rows = ["--row", "ethyl butyrate=2", "--row", "propylene glycol=98"]
    for command in ("assess", "flash", "advise"):
        found = CliRunner().invoke(app, [command, *rows, *given])
        assert found.exit_code == 0, found.output
