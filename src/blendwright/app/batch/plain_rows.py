"""A piece of a CSV whose lines stand as programs write them, read as arrays.

Anything else (an open quotation mark, a short or a long row, a blank line, another encoding) makes
the whole piece one for `text_rows`, which reads line by line. Both give one table.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv

from blendwright.formula.columns import Columns
from blendwright.formula.numbers import with_unit

UNUSED = "unused"  # the column of what a row holds in unused columns: their headings
BETWEEN = "\x1f"  # after each of them
# with a point, or with a comma that can't group thousands
NUMBER = r"[0-9]{1,15}(?:\.[0-9]{1,15}|,[0-9]{1,2}|,[0-9]{4,15})?|0[0-9]{0,14},[0-9]{1,15}"
PLAIN_NUMBER = rf"^(?:{NUMBER})$"
LONGEST_LINE = 100_000  # bytes
_BOM = b"\xef\xbb\xbf"
_QUOTE, _NEWLINE, _BLANK = ord('"'), ord("\n"), ord(" ")


def plain_table(piece: bytes, columns: Columns, delimiter: str, first_line: int) -> pa.Table | None:
    """The rows of whole lines; None unless every line is one row with a cell for each column."""
    if not _is_plain(piece, delimiter):
        return None
    names = [str(place) for place in range(columns.width)]
    try:
        cells = pa.csv.read_csv(
            pa.BufferReader(piece),
            pa.csv.ReadOptions(use_threads=False, block_size=len(piece) + 1, column_names=names),
            pa.csv.ParseOptions(delimiter=delimiter),
            pa.csv.ConvertOptions(column_types=dict.fromkeys(names, pa.string())),
        )
    except pa.ArrowException:
        return None
    texts = [pc.utf8_trim_whitespace(column) for column in cells.columns]
    if len(cells) != piece.count(b"\n") + (not piece.endswith(b"\n")) or not _all_filled(texts):
        return None
    made = {}
    for place, ours, unit in columns.places:
        made[ours] = _with_unit(texts[place], unit) if unit else texts[place]
    made["broken"] = pa.repeat("", len(cells))
    if columns.unused:
        filled = [(name, pc.not_equal(texts[place], "")) for place, name in columns.unused]
        made[UNUSED] = headings_filled(filled)
    made["line"] = pa.array(np.arange(first_line, first_line + len(cells)))
    return pa.table(made)


def headings_filled(filled: Sequence[tuple[str, pa.ChunkedArray]]) -> pa.ChunkedArray:
    """The cells of UNUSED: for each row the headings that it fills in."""
    named = (pc.if_else(here, f"{name}{BETWEEN}", "") for name, here in filled)
    return pc.binary_join_element_wise(*named, "")


def _is_plain(piece: bytes, delimiter: str) -> bool:
    """Whether lines end with line feeds, none is blank or endless, and cells are quoted whole."""
    ends = piece.count(b"\r\n")
    odd = piece.startswith((_BOM, b"\n", b"\r")) or b"\n\n" in piece or b"\n\r" in piece
    if odd or piece.count(b"\r") != ends:
        return False
    signs = np.frombuffer(piece, np.uint8)
    lines = np.flatnonzero(signs == _NEWLINE)
    if np.count_nonzero(signs < _BLANK) != len(lines) + ends + piece.count(b"\t"):
        return False
    if np.diff(lines, prepend=0, append=len(signs)).max() > LONGEST_LINE:
        return False
    quotes = np.flatnonzero(signs == _QUOTE)
    if len(quotes) % 2:
        return False
    begins, stops = quotes[::2], quotes[1::2]
    around = np.concatenate([[_NEWLINE], signs, [_NEWLINE]])
    ways_in, ways_out = (ord(delimiter), _NEWLINE), (ord(delimiter), _NEWLINE, ord("\r"))
    return bool(
        np.isin(around[begins], ways_in).all()
        and np.isin(around[stops + 2], ways_out).all()
        and np.array_equal(np.searchsorted(lines, begins), np.searchsorted(lines, stops))
    )


def _all_filled(texts: Sequence[pa.ChunkedArray]) -> bool:
    """Whether every row holds something."""
    lengths = sum(np.asarray(pc.binary_length(text)) for text in texts)
    return bool(np.all(lengths))


def _with_unit(texts: pa.ChunkedArray, unit: str) -> pa.Array:
    """Each cell with the unit of its heading, where it has a number without one."""
    plain = pc.match_substring_regex(texts, PLAIN_NUMBER)
    if pc.all(pc.or_(plain, pc.equal(texts, ""))).as_py():
        return pc.if_else(plain, pc.binary_join_element_wise(texts, unit, " "), texts)
    return pa.array([with_unit(text, unit) for text in texts.to_pylist()], pa.string())
