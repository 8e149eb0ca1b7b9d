"""How far is the run, how fast, and how long will it take? Silent unless someone watches."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

from blendwright.app.batch.run import ReportProgress


@contextmanager
def shown(quiet: bool) -> Iterator[ReportProgress]:
    """A bar on standard error; nothing where that isn't a terminal or `quiet` is set."""
    console = Console(stderr=True)
    bar = Progress(
        TextColumn("{task.fields[formulas]:,} formulas"),
        BarColumn(),
        TextColumn("{task.fields[rate]}"),
        TimeRemainingColumn(),
        console=console,
        disable=quiet or not console.is_terminal,
        transient=True,
    )
    with bar:
        task = bar.add_task("", total=None, formulas=0, rate="")
        finished = 0
        known: float | None = None  # share of the input, as it was last told

        def report(count: int, share: float | None) -> None:
            nonlocal finished, known
            finished += count
            if share is not None:
                known = share
            elapsed_s = bar.tasks[0].elapsed or 0.0
            rate = f"{finished / elapsed_s:,.0f} a second" if elapsed_s > 0.0 else ""
            total, completed = (1.0, known) if known is not None else (None, float(finished))
            bar.update(task, total=total, completed=completed, formulas=finished, rate=rate)

        yield report
