"""Examples for `--help`, the command pages and the manual; every one is run by a test.

Keyed by the command as it is typed, without `blendwright`. FILE names are those of `examples/`.
Each fits one line of a help of 80 columns, as a broken line can't be copied.
"""

from __future__ import annotations

from typing import Any

FORMULA = "orchard-pear-cardamom.csv"
EXAMPLES: dict[str, tuple[str, ...]] = {
    "assess": (
        f"assess {FORMULA}",
        f"assess {FORMULA} --show numbers,classes",
        f"assess {FORMULA} --temperature-C 5 --json",
        'assess --row "ethyl butyrate=1.6" --row "PG=8.4"',
    ),
    "volumes": (
        f"volumes {FORMULA}",
        f"volumes {FORMULA} --bottles 24x30 --brim-mL 33",
    ),
    "report": (
        f"report {FORMULA} -o pear.html",
        f"report {FORMULA} -o pear.xlsx --paper data-sheet",
        f"report {FORMULA} -o labels.html --paper label",
    ),
    "observe": (f"observe {FORMULA} --clear-at-C 22 --flash-C 41",),
    "observations list": ("observations list",),
    "observations export": ("observations export -o seen.csv",),
    "observations forget": ("observations forget --all --yes",),
    "batch": ("batch library.csv -o answers.parquet --only flash,density",),
    "sweep": (f'sweep {FORMULA} --vary "eugenol=0..1 g" -o out.csv',),
    "warm": (f"warm {FORMULA}", f"warm {FORMULA} --to-C 40 --minutes 30"),
    "flash": (f"flash {FORMULA}",),
    "dose": (
        f'dose {FORMULA} --into "10 % sugar" --dose-drops 2',
        f'dose {FORMULA} --into "40 % vol" --dose-mL 0.5',
    ),
    "carriers": (
        f"carriers {FORMULA}",
        f"carriers {FORMULA} --in triacetin",
        f'carriers {FORMULA} --in "PG 70 + ethanol 30"',
    ),
    "advise": (f"advise {FORMULA} --clear-at-C 5", f"advise {FORMULA} --flash-above-C 60"),
    "accuracy": ("accuracy", "accuracy burn --json"),
    "schema": ("schema", "schema dose"),
    "serve": ("serve", f"serve {FORMULA} --no-browser"),
    "doctor": ("doctor", "doctor --json"),
    "settings show": ("settings show",),
    "settings set": ("settings set drop_mL 0.04", "settings set altitude_m 640"),
    "settings path": ("settings path",),
    "material show": ('material "gamma-decalactone"', "material 64-17-5 --json"),
    "material find": (
        "material find --family ester --flash-below-C 40",
        "material find acet --state liquid -o acetates.csv",
    ),
    "material check": ("material check mine.csv",),
    "material add": ("material add", "material add --materials mine.csv"),
    "material audit": ("material audit --summary",),
}


def epilog(command: str) -> str | None:
    """The examples as the last lines of a command's help; None where there are none."""
    lines = EXAMPLES.get(command, ())
    if not lines:
        return None
    shown = [f"  blendwright {line}".replace("[", "\\[") for line in lines]  # "[" is markup
    return "\n".join(["Examples:", *shown])


def add_examples(app: Any, before: str = "") -> None:
    """Give every command of a typer application its examples, sub-commands included."""
    for command in app.registered_commands:
        name = command.name or command.callback.__name__
        command.epilog = epilog(f"{before}{name}")
    for group in app.registered_groups:
        add_examples(group.typer_instance, f"{before}{group.name} ")
