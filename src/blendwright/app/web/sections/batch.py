"""What of a whole list? Many formulas in one file, worked through with a bar, a rate and a stop."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from pathlib import Path
from typing import cast

from nicegui import background_tasks, events, ui

from blendwright.app.batch.questions import QUESTIONS
from blendwright.app.web import figures
from blendwright.app.web.batch_run import (
    RESULTS,
    SUFFIXES,
    BatchResult,
    BatchRun,
    ListRequest,
    Progress,
)
from blendwright.app.web.downloads import Download
from blendwright.app.web.sections.section import FieldError, Section
from blendwright.app.web.session import Session
from blendwright.app.web.texts import has_text, text
from blendwright.app.web.widgets import drop_zone, number_field, range_words, show_error, table
from blendwright.app.web.worker_pool import RefusedError
from blendwright.estimate import to_celsius
from blendwright.formula.numbers import LARGEST_g, number_between
from blendwright.formula.table_files import MOST_BYTES

MEDIA = {".csv": "text/csv; charset=utf-8", ".parquet": "application/vnd.apache.parquet"}
COUNTED = ("dissolution", "liquid", "ghs_treat_as", "ghs_category", "ghs_standing")
MINUTE_s = 60.0


class Batch:
    """Choose a file and it begins; at the end the counts, and the table to keep."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self.run: BatchRun | None = None
        ui.label(text("batch.about")).classes("quiet")
        with ui.element("div").classes("zone") as zone:
            self._fields()
            self.upload = ui.upload(
                label=text("batch.choose"),
                auto_upload=True,
                max_file_size=MOST_BYTES,
                on_upload=self.begin,
                on_rejected=lambda: self._refuse(text("batch.too_large")),
            ).classes("hidden-upload")
            self.upload.on("failed", lambda: self._refuse(text("batch.too_large")), args=[])
            with ui.element("div").classes("buttons"):
                self.choose = ui.button(text("batch.choose"), on_click=self._pick)
                self.choose.props("no-caps unelevated").classes("do")
                self.halt = ui.button(text("batch.stop"), on_click=self.stop)
                self.halt.props("outline no-caps").classes("do")
            ui.label(text("batch.drop")).classes("quiet hint")
        drop_zone(zone, self.upload)
        self.halt.set_visibility(False)
        self.bar = ui.linear_progress(0.0, show_value=False, size="14px")
        self.bar.props["aria-label"] = text("batch.bar")
        self.bar.set_visibility(False)
        self.state = ui.label().props("role=status aria-live=polite").classes("strong")
        self.problem = ui.label().props("role=alert").classes("problem pre")
        self.place = ui.element("div").classes("answer")
        ui.context.client.on_delete(self._left)

    def _fields(self) -> None:
        with ui.element("div").classes("ask"):
            names = {question: text(f"batch.ask.{question}") for question in QUESTIONS}
            self.only = ui.select(names, multiple=True, value=[], label=text("batch.only"))
            self.only.props("outlined dense stack-label use-chips hide-bottom-space")
            self.only.classes("ask-field wide")
            self.batch_g = number_field(text("batch.batch_g"))
            kinds = {suffix: suffix[1:].upper() for suffix in RESULTS}
            self.result = ui.select(kinds, value=".csv", label=text("batch.result"))
            self.result.props("outlined dense stack-label hide-bottom-space").classes("ask-field")

    def _pick(self) -> None:
        self.upload.reset()
        self.upload.run_method("pickFiles")

    def _refuse(self, words: str) -> None:
        self.problem.set_text(words)

    # A run

    async def begin(self, event: events.UploadEventArguments) -> None:
        name, content = event.file.name, await event.file.read()
        if self.run is not None:
            self._refuse(text("batch.one"))
            return
        try:
            request = self._request(name, content)
        except FieldError as error:
            show_error(error.field, str(error))
            return
        except RefusedError as error:
            self._refuse(str(error))
            return
        self.problem.set_text("")
        self.place.clear()
        self.run = BatchRun(request)
        background_tasks.create(self._follow(self.run), name="batch")

    def _request(self, name: str, content: bytes) -> ListRequest:
        """Raises RefusedError for a file that is none, or a field that can't be read."""
        session = self.session
        if len(content) > MOST_BYTES:
            raise RefusedError(text("batch.too_large"))
        if Path(name).suffix.casefold() not in SUFFIXES:
            raise RefusedError(text("batch.kinds", name=name, kinds=", ".join(SUFFIXES)))
        written = str(self.batch_g.value or "").strip()
        size = number_between(written, 0.0, LARGEST_g)
        if written and not size:
            raise FieldError(self.batch_g, range_words(0.0, LARGEST_g))
        request = session.request()
        return ListRequest(
            name,
            content,
            str(self.result.value),
            request.bench_K,
            request.pressure_Pa,
            request.drop_mL,
            size,
            tuple(self.only.value or ()),
            request.materials,
            request.observations,
        )

    async def _follow(self, run: BatchRun) -> None:
        self._working(True)
        self.state.set_text(text("batch.reading"))
        came: BatchResult | None = None
        words = ""
        try:
            async for told in run.follow():
                if isinstance(told, BatchResult):
                    came = told
                elif not self.session.closed:
                    self._show_progress(told)
        except RefusedError as error:
            words = str(error)
        finally:
            self.run = None
        if self.session.closed:
            return
        self._working(False)
        if came is not None:
            self.state.set_text("")
            with self.place:
                self._show(run.request, came)
        else:
            self.state.set_text(text("batch.stopped") if run.is_stopped else "")
            self.problem.set_text(words)

    def _working(self, at_work: bool) -> None:
        self.choose.set_enabled(not at_work)
        self.halt.set_visibility(at_work)
        self.bar.set_visibility(at_work)
        self.bar.set_value(0.0)

    def _show_progress(self, told: Progress) -> None:
        if not told.total:
            return
        self.bar.set_value(round(told.share, 4))
        left = told.seconds_left
        key = "batch.beginning" if left is None else "batch.progress"
        self.state.set_text(
            text(
                key,
                finished=told.finished,
                total=told.total,
                rate=f"{told.per_second:.0f}",
                left=_span(left or 0.0),
            )
            if left is not None
            else text(key, total=told.total)
        )

    def stop(self) -> None:
        if self.run is not None:
            self.run.stop()

    def _left(self) -> None:
        """The window is gone: nobody waits for the rest."""
        self.stop()

    # What came of it

    def _show(self, request: ListRequest, came: BatchResult) -> None:
        summary = came.summary
        count, answered = summary["formulas"], summary["answered"]
        at = figures.bench(round(to_celsius(request.temperature_K), 6))
        air = f"{request.pressure_Pa / 1e3:g}"
        done = text("batch.done", name=request.name, count=count, answered=answered, at=at, air=air)
        ui.label(done).classes("verdict strong")
        name = f"{Path(request.name).stem[:60]}-answers{request.result}"
        file = Download(self.session.owner, name, MEDIA[request.result], came.content)
        with ui.element("p").classes("ready"):
            link = ui.link(
                text("papers.save", name=name), self.session.services.downloads.put(file)
            )
            link.classes("file-link").props["download"] = name
        rows = [*self._unused(summary), *self._refused(summary), *self._counts(summary)]
        warned = summary["with_a_warning"]
        if warned is not None:
            rows.append((text("batch.warned"), "", f"{warned:,}"))
        table([text("batch.what"), text("batch.word"), text("batch.count")], rows, words=2)
        if came.refused:
            ui.label(text("batch.refused_first")).classes("table-head")
            heads = [text("batch.formula"), text("batch.why")]
            table(heads, came.refused, last_words=True)

    def _unused(self, summary: Mapping[str, object]) -> list[tuple[str, str, str]]:
        found = cast(dict[str, int], summary["unused_columns"])
        title = text("batch.unused")
        return [(title, name, f"{number:,}") for name, number in found.items()]

    def _refused(self, summary: Mapping[str, object]) -> list[tuple[str, str, str]]:
        found = cast(Counter[str], summary["refused"])
        title = text("batch.refused")
        return [(title, kind, f"{number:,}") for kind, number in found.items()]

    def _counts(self, summary: Mapping[str, object]) -> list[tuple[str, str, str]]:
        rows = []
        for name in COUNTED:
            for word, number in cast(Counter[str], summary.get(name, {})).items():
                key = f"batch.{name}.{word}"
                said = text(key) if has_text(key) else word.replace("_", " ")
                rows.append((text(f"batch.{name}"), said, f"{number:,}"))
        return rows


def _span(seconds: float) -> str:
    """A time that is left, in words short enough for a line."""
    if seconds < MINUTE_s:
        return f"{max(1.0, seconds):.0f} s"
    return f"{seconds / MINUTE_s:.0f} min"


SECTION = Section("batch", Batch)
