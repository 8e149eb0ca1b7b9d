"""Workbooks with the same bytes every time, and texts in them that stay texts."""

from __future__ import annotations

import io
import zipfile
from datetime import date, datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.cell import Cell

ARCHIVE_EPOCH = date(1980, 1, 1)  # the first day that a ZIP file can name


def put_text(cell: Cell, text: str) -> None:
    """A text into a cell, never a formula, whatever it begins with."""
    from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

    cell.value = ILLEGAL_CHARACTERS_RE.sub(" ", text)
    cell.data_type = "s"
    cell.quotePrefix = True  # stays a text when it is edited, too


def workbook_bytes(book: Workbook, made: date = ARCHIVE_EPOCH) -> bytes:
    """The file's content: the same workbook and date make the same bytes."""
    from openpyxl.writer.excel import ExcelWriter

    day = max(made, ARCHIVE_EPOCH)
    moment = datetime(day.year, day.month, day.day)
    book.properties.created = book.properties.modified = moment
    written = io.BytesIO()
    # openpyxl's own save would put the clock's time into the properties
    with zipfile.ZipFile(written, "w") as archive:
        ExcelWriter(book, archive).save()
    made_again = io.BytesIO()
    with (
        zipfile.ZipFile(written) as source,
        zipfile.ZipFile(made_again, "w", zipfile.ZIP_DEFLATED) as target,
    ):
        for entry in source.infolist():
            stamp = zipfile.ZipInfo(entry.filename, (day.year, day.month, day.day, 0, 0, 0))
            stamp.compress_type = zipfile.ZIP_DEFLATED
            target.writestr(stamp, source.read(entry))
    return made_again.getvalue()
