"""Which columns does a batch write, of what type, and with which marks on the file?

Documented in docs/batch.md; a test compares the two. Within schema 1 columns may be added at the
end, none is renamed, removed or given another meaning.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np
import pyarrow as pa

from blendwright.app.batch.questions import ESTIMATES, QUESTIONS
from blendwright.pure.roots import Ints

SCHEMA = "blendwright/batch/1"
MOST_MESSAGE = 500  # letters of an error in the table

_WORDS: Mapping[str, tuple[tuple[str, pa.DataType], ...]] = {
    "flash": (("ghs_category", pa.string()), ("ghs_standing", pa.string())),
    "crystals": (("dissolution", pa.string()),),
    "layers": (("chance_of_layers", pa.float64()), ("liquid", pa.string())),
    "findings": (("findings", pa.string()), ("has_warning", pa.bool_())),
}
_ADDED: Mapping[str, tuple[tuple[str, pa.DataType], ...]] = {
    "flash": (("ghs_treat_as", pa.string()),),
    "crystals": (("chance_of_crystals", pa.float64()),),
}
"""Columns that came after the first release of the schema: behind all others."""
HEAD = (
    pa.field("number", pa.int64()),
    pa.field("formula", pa.string()),
    pa.field("error_kind", pa.string()),
    pa.field("error", pa.string()),
    pa.field("mass_g", pa.float64()),
)
# how each formula's table was read, after the answers
AS_READ = (pa.field("unused_columns", pa.string()), pa.field("reading", pa.string()))
JOINED = "; "  # between the names of unused columns


def questions(only: Iterable[str] | None) -> tuple[str, ...]:
    """The questions asked, in our order; all of them for None. Raises ValueError for any other."""
    if only is None:
        return QUESTIONS
    request = {only} if isinstance(only, str) else set(only)
    unknown = sorted(request - set(QUESTIONS))
    if unknown or not request:
        raise ValueError(
            f"no such question: {', '.join(unknown) or 'none given'}; ask for some of "
            f"{', '.join(QUESTIONS)}"
        )
    return tuple(question for question in QUESTIONS if question in request)


def estimates_of(only: Sequence[str]) -> tuple[str, ...]:
    """The estimates that the questions give."""
    return tuple(name for question in only for name in ESTIMATES.get(question, ()))


def answer_fields(only: Sequence[str]) -> list[pa.Field]:
    """The columns of the answers, after HEAD."""
    fields = []
    for question in only:
        for name in ESTIMATES.get(question, ()):
            fields += [pa.field(f"{name}{end}", pa.float64()) for end in ("", "_low", "_high")]
            fields.append(pa.field(f"{name}_status", pa.string()))
        fields += [pa.field(name, kind) for name, kind in _WORDS.get(question, ())]
    for question in only:
        fields += [pa.field(name, kind) for name, kind in _ADDED.get(question, ())]
    return fields


def schema_of(only: Sequence[str], varied: Sequence[pa.Field] = ()) -> pa.Schema:
    """All columns in their order; those of a sweep stand after the error."""
    return pa.schema([*HEAD[:4], *varied, *HEAD[4:], *answer_fields(only), *AS_READ])


def spread(
    answers: Mapping[str, np.ndarray[Any, Any]], fields: Sequence[pa.Field], at: Ints,
    count: int,
) -> list[pa.Array]:  # fmt: skip
    """Answers of the blends at places `at` among `count` rows; null elsewhere and for NaN."""
    if not len(at):
        return [pa.nulls(count, field.type) for field in fields]
    order = np.full(count, -1)
    order[at] = np.arange(len(at))
    take = pa.array(order, mask=order < 0)
    return [_array(answers[field.name], field.type).take(take) for field in fields]


def _array(values: np.ndarray[Any, Any], kind: pa.DataType) -> pa.Array:
    if kind == pa.float64():
        numbers = np.asarray(values, dtype=float)
        return pa.array(numbers, mask=~np.isfinite(numbers))
    return pa.array(np.asarray(values).tolist(), type=kind)


def without_answers(table: pa.Table, rows: np.ndarray[Any, Any]) -> pa.Table:
    """This table with null in every answer of the rows that a mask names."""
    kept = pa.array(~rows)
    heads = {field.name for field in HEAD[:4]}
    for place, field in enumerate(table.schema):
        if field.name in heads:
            continue
        column = table.column(place).combine_chunks()
        nulls = pa.nulls(len(table), field.type)
        table = table.set_column(place, field, pa.compute.if_else(kept, column, nulls))
    return table
