"""Writes docs/commands.md, the manual page docs/man/blendwright.1 and docs/json-schema.md from the
program itself.

    python docs/commands.py

A test compares all three with what the program says now.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from typer.main import get_command

from blendwright.app.cli.examples import EXAMPLES
from blendwright.app.cli.main import EXIT_CODES as CODES
from blendwright.app.cli.main import app
from blendwright.report.schema import names, schema_text
from blendwright.version import __version__

ROOT = Path(__file__).parent.parent
EXIT_CODES = "; ".join(f"{code} {words}" for code, words in CODES) + "."
ENVIRONMENT = (
    ("NO_COLOR", "if set, no colours"),
    ("BLENDWRIGHT_SETTINGS", "another settings file"),
)


def commands() -> Iterator[tuple[str, Any]]:
    """(name as typed, command) of every command, groups opened, in alphabetical order."""

    def walk(group: Any, before: str) -> Iterator[tuple[str, Any]]:
        for name, command in sorted(group.commands.items()):
            if hasattr(command, "commands"):
                yield from walk(command, f"{before}{name} ")
            else:
                yield f"{before}{name}", command

    return walk(get_command(app), "")


def parts(name: str, command: Any) -> tuple[str, list[tuple[str, str]]]:
    """The usage line, and (what, help) of each argument and option."""
    context = command.make_context(name, [], resilient_parsing=True)
    usage = " ".join([f"blendwright {name}", *command.collect_usage_pieces(context)])
    records = [param.get_help_record(context) for param in command.get_params(context)]
    return usage, [(what.strip(), " ".join(told.split())) for what, told in filter(None, records)]


def commands_page() -> str:
    """docs/commands.md."""
    lines = [
        "# Commands",
        "",
        "Made by `python docs/commands.py` from the program. `blendwright COMMAND --help` says the",
        f"same. Exit codes: {EXIT_CODES}",
        "",
        "Shell completion: `blendwright --install-completion` once, then a new shell;",
        "`blendwright --show-completion` prints the script instead.",
        "",
        "| variable | what |",
        "|---|---|",
        *(f"| `{name}` | {told} |" for name, told in ENVIRONMENT),
        "",
    ]
    for name, command in commands():
        usage, records = parts(name, command)
        lines += [f"## blendwright {name}", "", command.help, "", "```text", usage, "```", ""]
        lines += ["| option | what |", "|---|---|"]
        lines += [f"| `{_cell(what)}` | {_cell(told)} |" for what, told in records]
        shown = [f"blendwright {line}" for line in EXAMPLES.get(name, ())]
        lines += ["", "```sh", *shown, "```", ""]
    return "\n".join(lines)


def _cell(text: str) -> str:
    return text.replace("|", "\\|")


def manual() -> str:
    """docs/man/blendwright.1, in man(7) macros."""
    lines = [
        f'.TH BLENDWRIGHT 1 "" "blendwright {__version__}"',
        ".SH NAME",
        "blendwright \\- from a flavour formula in grams to an honest assessment",
        ".SH SYNOPSIS",
        "blendwright COMMAND [OPTIONS] [ARGUMENTS]",
        ".SH COMMANDS",
    ]
    for name, command in commands():
        usage, records = parts(name, command)
        lines += [f".SS {name}", _roff(command.help), ".PP", _roff(usage)]
        for what, told in records:
            lines += [".TP", f"\\fB{_roff(what)}\\fR", _roff(told)]
        lines += [".PP", ".nf", *(_roff(f"blendwright {e}") for e in EXAMPLES.get(name, ())), ".fi"]
    lines += [".SH EXIT STATUS", _roff(EXIT_CODES), ".SH ENVIRONMENT"]
    for name, told in ENVIRONMENT:
        lines += [".TP", name, _roff(told)]
    return "\n".join(lines) + "\n"


def _roff(text: str) -> str:
    escaped = text.replace("\\", "\\e").replace("-", "\\-")
    return f"\\&{escaped}" if escaped.startswith((".", "'")) else escaped


def schema_page() -> str:
    """docs/json-schema.md: every field of every object with its type."""
    lines = [
        "# JSON Schemas",
        "",
        "Made by `python docs/commands.py`. `blendwright schema` lists the schemas, `blendwright",
        "schema NAME` prints one; [the JSON contract](json.md) says what the fields mean.",
        "",
    ]
    for name in names():
        schema = json.loads(schema_text(name))
        fields = [*_fields(schema, "")]
        for inner, node in schema.get("$defs", {}).items():
            fields += _fields(node, inner)
        lines += [
            f"## {name}",
            "",
            schema["description"],
            "",
            "| field | type |",
            "|---|---|",
            *(f"| `{path}` | {kind} |" for path, kind in fields),
            "",
        ]
    return "\n".join(lines)


def _fields(node: dict[str, Any], path: str) -> Iterator[tuple[str, str]]:
    if "$ref" in node:
        name = node["$ref"].rpartition("/")[2]
        yield path, f"{name}, below"
        return
    if path:
        yield path, _kind(node)
    for name, inner in node.get("properties", {}).items():
        yield from _fields(inner, f"{path}.{name}" if path else name)
    if isinstance(node.get("items"), dict) and path:
        yield from _fields(node["items"], f"{path}[]")


def _kind(node: dict[str, Any]) -> str:
    if "const" in node:
        return f"`{node['const']}`"
    if "enum" in node:
        return ", ".join(f"`{value}`" for value in node["enum"])
    kind = node.get("type", "any of several")
    return " or ".join(kind) if isinstance(kind, list) else str(kind)


PAGES = {
    "docs/commands.md": commands_page,
    "docs/json-schema.md": schema_page,
    "docs/man/blendwright.1": manual,
}

if __name__ == "__main__":
    for path, page in PAGES.items():
        (ROOT / path).parent.mkdir(exist_ok=True)
        (ROOT / path).write_text(page(), encoding="utf-8")
