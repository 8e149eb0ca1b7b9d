"""`blendwright doctor`: is this installation sound, and what to do if not."""

from __future__ import annotations

import typer

from blendwright.app.cli.exit_on_error import EXIT_UNUSABLE, print_json
from blendwright.app.cli.options import AsJson
from blendwright.version import __version__

MARKS = {"ok": "ok", "note": "note", "fault": "FAULT"}


def doctor_command(as_json: AsJson = False) -> None:
    """Is this installation sound, and what to do if not?"""
    from blendwright.app.doctor import data_version, examine

    checks = examine()
    faults = [check for check in checks if check.state == "fault"]
    if as_json:
        print_json(
            {
                "schema": "blendwright/doctor/1",
                "version": __version__,
                "data_version": data_version(),
                "sound": not faults,
                "checks": [check.to_dict() for check in checks],
            }
        )
    else:
        from rich.table import Table
        from rich.text import Text

        from blendwright.report.terminal import console

        out = console()
        sound = "This installation is sound."
        if faults:
            names = ", ".join(check.name for check in faults)
            sound = f"This installation has {len(faults)} to put right: {names}."
        out.print(Text(sound, style="bold"))
        table = Table.grid(padding=(0, 2))
        for check in checks:
            words = f"{check.found}. {check.action}" if check.action else check.found
            table.add_row(MARKS[check.state], check.name, Text(words, overflow="fold"))
        out.print(table)
    if faults:
        raise typer.Exit(EXIT_UNUSABLE)
