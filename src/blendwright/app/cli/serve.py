"""`blendwright serve`: the bench page, on this computer."""

from __future__ import annotations

import socket
import sys
from importlib.util import find_spec
from pathlib import Path
from typing import Annotated

import typer

from blendwright.app.cli.exit_on_error import exit_on_error, fail
from blendwright.app.cli.nouns import with_nouns
from blendwright.app.cli.options import STANDARD, Bench
from blendwright.app.settings import own_file, read_settings
from blendwright.errors import FormulaError
from blendwright.formula import read_formula_bytes
from blendwright.formula.table_files import bytes_of

LOOPBACK_HOSTS = ("127.0.0.1", "localhost", "::1")
MISSING = "the page needs NiceGUI, which is not installed; pip install 'blendwright[page]'"


@with_nouns
def serve_command(
    bench: Bench,
    file: Annotated[
        str | None,
        typer.Argument(
            metavar="FILE",
            help="A formula file (CSV, TSV or XLSX) to begin with, or - for standard input.",
        ),
    ] = None,
    port: Annotated[int, typer.Option("--port", min=1, max=65535, help="Port.")] = 8765,
    folder: Annotated[
        str | None,
        typer.Option("--folder", help="Where work is kept; your user data folder unless given."),
    ] = None,
    no_browser: Annotated[
        bool, typer.Option("--no-browser", help="Don't open the browser.")
    ] = False,
    host: Annotated[str, typer.Option("--host", help="Address to listen at.")] = "127.0.0.1",
    let_others_in: Annotated[
        bool,
        typer.Option(
            "--let-others-in", help="Allow a --host that others on the network can reach."
        ),
    ] = False,
) -> None:
    """Open the page in your browser, on this computer only."""
    if host not in LOOPBACK_HOSTS and not let_others_in:
        fail(
            f"--host {host} lets others on the network in, and nothing asks them for a password; "
            "if that is meant, add --let-others-in"
        )
    if find_spec("nicegui") is None:
        fail(MISSING)
    from blendwright.app.web.server import serve
    from blendwright.app.web.serving import Serving

    begin = _file(file)
    _check_free(host, port)
    if let_others_in and host not in LOOPBACK_HOSTS:
        typer.echo(
            f"WARNING: everyone who can reach {host}:{port} can use this page, unencrypted and "
            "without a password. Each browser sees its own formulas only; your own materials are "
            "shared.",
            err=True,
        )
    serving = Serving(
        folder=Path(folder).resolve() if folder else own_file().parent,
        host=host,
        port=port,
        lets_others_in=let_others_in,
        file=begin,
        opens_browser=not no_browser,
        bench_C=bench.temperature_C,
        pressure_kPa=bench.pressure_kPa,
        settings=exit_on_error(read_settings),
    )
    exit_on_error(lambda: serve(serving, typer.echo))


def _file(file: str | None) -> tuple[str, bytes] | None:
    """The formula to begin with: it must be one."""
    if file is None:
        return None
    try:
        data, name = (
            (sys.stdin.buffer.read(), "standard input")
            if file == STANDARD
            else bytes_of(Path(file))
        )
        read_formula_bytes(data, name)
    except FormulaError as error:
        fail(str(error))
    return name, data


def _check_free(host: str, port: int) -> None:
    """A port that another program has is said at once, with what to do."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as trial:
        trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            trial.bind((host, port))
        except OSError as error:
            fail(f"port {port} at {host} can't be used ({error.strerror}); choose another: --port")
