"""Constants and standard conditions, in SI, and what is said where other units were given."""

from blendwright.estimate import to_celsius, to_kelvin

GAS_CONSTANT_J_mol_K = 8.314462618  # CODATA 2018
ATMOSPHERE_Pa = 101325.0
ROOM_K = 298.15  # 25 °C, where most published values stand
BENCH_C = 20.0  # the bench unless told otherwise; labels, data sheets and glassware stand there too
BENCH_K = to_kelvin(BENCH_C)
FRIDGE_K, FREEZER_K = 277.15, 255.15  # 4 and -18 °C, where crystals are looked for
LOWEST_ASSESSED_K, HIGHEST_ASSESSED_K = 233.15, 423.15
LOWEST_ASSESSED_Pa, HIGHEST_ASSESSED_Pa = 10e3, 120e3
LAST_DIGIT = 1e-6  # K or Pa: -40 °C in kelvin is a hair below 233.15
_PRESSURE_UNITS_Pa = {"kPa": 1e3, "mbar": 100.0, "bar": 1e5}


def temperature_problem(
    name: str,
    given_K: float,
    lowest_K: float = LOWEST_ASSESSED_K,
    highest_K: float = HIGHEST_ASSESSED_K,
) -> str | None:
    """What is wrong with a temperature in kelvin; None where it lies in the range.

    >>> print(temperature_problem("temperature_K", 25.0))
    temperature_K=25 must lie between -40 and 150 °C, in kelvin: for 25 °C give 298.15
    """
    if lowest_K - LAST_DIGIT <= given_K <= highest_K + LAST_DIGIT:
        return None
    low, high = (f"{to_celsius(end):.4g}" for end in (lowest_K, highest_K))
    problem = f"{name}={given_K:g} must lie between {low} and {high} °C, in kelvin"
    if lowest_K <= to_kelvin(given_K) <= highest_K:
        return f"{problem}: for {given_K:g} °C give {to_kelvin(given_K):.6g}"
    return f"{problem} ({lowest_K:.5g} to {highest_K:.5g})"


def pressure_problem(name: str, given_Pa: float) -> str | None:
    """What is wrong with an ambient pressure in pascal; None where it lies between 10 and 120 kPa.

    >>> print(pressure_problem("pressure_Pa", 101.3))
    pressure_Pa=101.3 must lie between 10 and 120 kPa, in pascal: for 101.3 kPa give 101300
    """
    if LOWEST_ASSESSED_Pa - LAST_DIGIT <= given_Pa <= HIGHEST_ASSESSED_Pa + LAST_DIGIT:
        return None
    problem = f"{name}={given_Pa:g} must lie between 10 and 120 kPa, in pascal"
    for unit, pascal in _PRESSURE_UNITS_Pa.items():
        if LOWEST_ASSESSED_Pa <= given_Pa * pascal <= HIGHEST_ASSESSED_Pa:
            return f"{problem}: for {given_Pa:g} {unit} give {given_Pa * pascal:.6g}"
    return f"{problem} ({LOWEST_ASSESSED_Pa:g} to {HIGHEST_ASSESSED_Pa:g})"


def check_conditions(
    temperature_K: float, pressure_Pa: float = ATMOSPHERE_Pa, name: str = "temperature_K"
) -> None:
    """Raises ValueError outside -40 to 150 °C or 10 to 120 kPa; `name` is that of the input."""
    problem = temperature_problem(name, temperature_K)
    problem = problem or pressure_problem("pressure_Pa", pressure_Pa)
    if problem is not None:
        raise ValueError(problem)
