"""Reading a formula from CSV, TSV, XLSX or our own JSON, the way that people's files really are.

Semicolons, tabs, decimal commas, a byte-order mark, Windows-1252, blank lines and `#` comments
are all taken. Every problem of a file is reported, each with its row and column.
"""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from blendwright.errors import FormulaError, Problem
from blendwright.formula.formula import Formula, Row, parse_row
from blendwright.formula.numbers import parse_batch_g

MOST_ROWS = 5000
MOST_BYTES = 5_000_000
MOST_UNPACKED_BYTES = 20 * MOST_BYTES  # of a workbook
JSON_SCHEMA = "blendwright/formula/1"
# An apostrophe that keeps a spreadsheet from taking a text for a formula; writing.py puts it there
QUOTED = re.compile(r"'+[=+\-@]")
_BATCH = re.compile(r"^#\s*batch\s*[:=]?\s*(.+)$", re.IGNORECASE)
_NAME = re.compile(r"^#\s*name\s*[:=]?\s*(.+)$", re.IGNORECASE)
HEADER_WORDS = {
    "material": "material", "ingredient": "material", "name": "material",
    "grams": "grams", "g": "grams", "gram": "grams", "mass_g": "grams", "weight_g": "grams",
    "ml": "mL", "millilitres": "mL", "milliliters": "mL", "drops": "drops",
    "strength_pct": "strength_pct", "strength": "strength_pct", "strength_%": "strength_pct",
    "carrier": "carrier", "role": "role", "cas": "cas", "smiles": "smiles", "note": "note",
    "notes": "note",
}  # fmt: skip

Cells = tuple[int, list[str]]  # line number in the file, its cells


def read_formula(path: str | Path) -> Formula:
    """Read a formula file. Raises FormulaError with every problem found in it."""
    data, name = _bytes_of(Path(path))
    return read_formula_bytes(data, name)


def _bytes_of(path: Path) -> tuple[bytes, str]:
    if path.is_dir():
        raise FormulaError(str(path), [Problem("this is a folder, not a table")])
    try:
        if path.stat().st_size > MOST_BYTES:
            raise FormulaError(
                path.name,
                [Problem(f"larger than {MOST_BYTES // 1_000_000} MB: not one formula; split it")],
            )
        return path.read_bytes(), path.name
    except FileNotFoundError:
        raise FormulaError(str(path), [Problem("there is no such file")]) from None
    except OSError as error:
        raise FormulaError(str(path), [Problem(f"can't be read ({error.strerror})")]) from None


def read_formula_bytes(data: bytes, name: str) -> Formula:
    """Read a formula from a file's bytes; `name` is used in messages and tells the format."""
    if data.lstrip()[:1] == b"{":
        return _from_json(data, name)
    return _from_table(_cells(data, name), name)


def _from_json(data: bytes, name: str) -> Formula:
    """Our own JSON: a formula, or a report that holds one."""
    try:
        held = json.loads(data)
    except (ValueError, RecursionError) as error:
        raise FormulaError(name, [Problem(f"not a JSON file ({error})")]) from None
    if held.get("schema") != JSON_SCHEMA:
        held = held.get("formula")
    if not isinstance(held, dict) or held.get("schema") != JSON_SCHEMA:
        raise FormulaError(
            name,
            [
                Problem(
                    f"a formula in JSON has the schema {JSON_SCHEMA}, as `report -o x.json` and "
                    "write_formula make it; an assessment's JSON does not hold the strengths"
                )
            ],
        )
    rows = held.get("rows")
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise FormulaError(name, [Problem("its rows must be a list of objects")])
    if len(rows) > MOST_ROWS:
        raise FormulaError(name, [Problem(f"more than {MOST_ROWS} rows: not one formula")])
    title = str(held.get("name") or Path(name).stem)
    return replace(Formula.from_rows(rows, title, held.get("batch_g")), source=name)


def table_cells(path: str | Path) -> list[Cells]:
    """Any table file as (line number, cells); raises FormulaError for what isn't one."""
    return _cells(*_bytes_of(Path(path)))


def _cells(data: bytes, name: str) -> list[Cells]:
    if not data.strip():
        raise FormulaError(name, [Problem("the file is empty")])
    if data.startswith(b"PK\x03\x04"):
        return _workbook_cells(data, name)
    if Path(name).suffix.casefold() in (".xlsx", ".xlsm", ".xls"):
        raise FormulaError(
            name,
            [Problem("this isn't a workbook in the XLSX form; save it again as .xlsx or .csv")],
        )
    return _text_cells(_decode(data, name), name)


def _decode(data: bytes, name: str) -> str:
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        try:
            return data.decode("utf-16")
        except UnicodeDecodeError:
            pass
    if b"\x00" in data[:4096] or data.startswith((b"%PDF", b"\x89PNG", b"\xd0\xcf\x11\xe0")):
        raise FormulaError(
            name, [Problem("this is a binary file; save the formula as .csv or .xlsx")]
        )
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def _text_cells(text: str, name: str) -> list[Cells]:
    lines = text.splitlines()
    header = next((ln for ln in lines if ln.strip() and not ln.lstrip().startswith("#")), "")
    delimiter = max("\t;,", key=header.count) if any(s in header for s in "\t;,") else ","
    cells: list[Cells] = []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    try:
        for row in reader:
            if row and row[0].lstrip().startswith("#"):
                cells.append((reader.line_num, [delimiter.join(row)]))
            else:
                cells.append((reader.line_num, [_unquoted(cell.strip()) for cell in row]))
    except csv.Error as error:
        raise FormulaError(name, [Problem(f"not a table ({error})", reader.line_num)]) from None
    return cells


def _unquoted(cell: str) -> str:
    return cell[1:] if QUOTED.match(cell) else cell


def unpacked_bytes(workbook: Path | io.BytesIO) -> int:
    """What a workbook says that its parts unpack to. Raises zipfile.BadZipFile for what is none."""
    import zipfile

    with zipfile.ZipFile(workbook) as archive:
        return sum(entry.file_size for entry in archive.infolist())


def _workbook_cells(data: bytes, name: str) -> list[Cells]:
    import zipfile

    from openpyxl import load_workbook
    from openpyxl.utils.exceptions import InvalidFileException

    try:
        if unpacked_bytes(io.BytesIO(data)) > MOST_UNPACKED_BYTES:
            raise FormulaError(name, [Problem("the workbook unpacks to far more than a formula")])
        book = load_workbook(io.BytesIO(data), read_only=True, data_only=True)
        sheet = book.worksheets[0]
        cells = []
        for number, values in enumerate(sheet.iter_rows(values_only=True), start=1):
            if number > MOST_ROWS + 100:
                break
            cells.append((number, [_cell_text(value) for value in values]))
        return cells
    except FormulaError:
        raise
    except (zipfile.BadZipFile, InvalidFileException, LookupError, ValueError, OSError, EOFError):
        raise FormulaError(
            name, [Problem("the workbook can't be read; open it and save it again as .xlsx")]
        ) from None


def _cell_text(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, float):
        return repr(value)
    return str(value).strip()


def _from_table(cells: Sequence[Cells], name: str) -> Formula:
    problems: list[Problem] = []
    title, batch_g = Path(name).stem, None
    header: list[str] | None = None
    rows: list[Row] = []
    names: list[tuple[str, int | None]] = []
    counted = 0
    for line, values in cells:
        first = next((value for value in values if value), "")
        if not first:
            continue
        if first.startswith("#"):
            if found := _BATCH.match(first):
                batch_g = parse_batch_g(found.group(1).rstrip(",;\t "), problems, line)
            elif found := _NAME.match(first):
                title = found.group(1).strip(" ,;\t")
            continue
        if header is None:
            header = _header(values, line, name)
            continue
        counted += 1
        if counted > MOST_ROWS:
            problems.append(
                Problem(f"more than {MOST_ROWS} rows: not one formula; split the file", line)
            )
            break
        extra = [value for value in values[len(header) :] if value]
        if extra:
            problems.append(
                Problem(
                    f"more cells than the header has columns (left over: {', '.join(extra)}); a "
                    "decimal comma in a comma-separated file needs quotes or semicolons",
                    line,
                )
            )
            continue
        texts = {column: value for column, value in zip(header, values, strict=False) if column}
        if texts.get("material"):
            names.append((texts["material"], line))
        row = parse_row(texts, line, problems)
        if row is not None:
            rows.append(row)
    if header is None:
        problems.append(Problem("the file holds no table; it needs a header: material, grams"))
    elif not rows and not problems:
        problems.append(Problem("the table has a header but no rows"))
    if problems:
        raise FormulaError(name, problems, tuple(names))
    return Formula(title, tuple(rows), batch_g, name)


def header_word(cell: str) -> str:
    """A header's cell as it is looked up.

    >>> header_word(" Grams (g) ")
    'grams_g'
    """
    return re.sub(r"[\s\[\]()]+", "_", cell.strip().casefold()).strip("_")


def _header(values: Sequence[str], line: int, name: str) -> list[str]:
    header = [HEADER_WORDS.get(header_word(v), "") for v in values]
    if "material" not in header or not {"grams", "mL", "drops"} & set(header):
        shown = ", ".join(v for v in values if v)[:80]
        raise FormulaError(
            name,
            [
                Problem(
                    "the header must name the columns material and grams "
                    f"(or mL, or drops); found: {shown}",
                    line,
                )
            ],
        )
    twice = sorted({column for column in header if column and header.count(column) > 1})
    if twice:
        raise FormulaError(name, [Problem(f"the column {', '.join(twice)} is there twice", line)])
    return header
