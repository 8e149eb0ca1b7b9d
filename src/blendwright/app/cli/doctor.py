"""`blendwright doctor`: is this installation sound, and what to do if not."""

from __future__ import annotations

import typer

from blendwright.app.cli.exit_on_error import EXIT_UNUSABLE, print_json
from blendwright.app.cli.options import AsJson

MARKS = {"ok": "ok", "note": "note", "fault": "FAULT"}


def doctor_command(as_json: AsJson = False) -> None:
    """Look at versions, data, own files, extras and folders; exit with 2 on a fault."""
    from blendwright.app.doctor import examine

    checks = examine()
    faulty = any(check.state == "fault" for check in checks)
    if as_json:
        listed = [check.to_dict() for check in checks]
        print_json({"schema": "blendwright/doctor/1", "sound": not faulty, "checks": listed})
    else:
        from rich.table import Table
        from rich.text import Text

        from blendwright.report.terminal import console

        table = Table.grid(padding=(0, 2))
        for check in checks:
            told = f"{check.found}. {check.action}" if check.action else check.found
            table.add_row(MARKS[check.state], check.name, Text(told, overflow="fold"))
        console().print(table)
    if faulty:
        raise typer.Exit(EXIT_UNUSABLE)
