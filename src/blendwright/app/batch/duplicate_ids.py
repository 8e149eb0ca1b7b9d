"""Which formulas have an id that another one has too?

Rows of one formula stand together, so an id that returns later is another formula by the same
name, or the same formula torn apart. Which of them can't be told, so all of them are refused: an
answer for half of a formula would look like any other.

Ids are told apart by 128-bit hashes (BLAKE2b; the chance of one false alarm among 10^9 is 10^-21).
They are sorted in buckets of half a million, on disk when there are more than one, so memory stays
flat.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa

BUCKET = 500_000  # hashes sorted at once: 12 MB, and as much again three times in sorting
_RECORD = np.dtype([("high", "<u8"), ("low", "<u8"), ("number", "<i8")])

Records = np.ndarray[Any, Any]
Repeats = dict[int, int]  # a formula's number -> that of another one with its id


def duplicate_ids(
    ids: Iterable[pa.ChunkedArray], count: int, folder: Path | None = None, bucket: int = BUCKET
) -> Repeats:
    """The formulas, by number from 1, whose id isn't theirs alone. Formulas without id are not.

    `folder` takes the buckets; without one everything is sorted in memory.
    """
    buckets = 1
    while folder is not None and count > buckets * bucket:
        buckets *= 2
    if folder is None or buckets == 1:
        return _twins(np.concatenate([np.empty(0, _RECORD), *_hashed(ids)]))
    paths = [folder / f"ids-{n}.bin" for n in range(buckets)]
    try:
        for path in paths:
            path.unlink(missing_ok=True)
        for records in _hashed(ids):
            which = records["low"] % buckets
            for n in np.unique(which):
                with paths[int(n)].open("ab") as file:
                    file.write(records[which == n].tobytes())
        found: Repeats = {}
        for path in paths:
            if path.exists():
                found.update(_twins(np.fromfile(path, _RECORD)))
        return found
    finally:
        for path in paths:
            path.unlink(missing_ok=True)


def _hashed(ids: Iterable[pa.ChunkedArray]) -> Iterator[Records]:
    first = 1
    for column in ids:
        texts = column.to_pylist()
        joined = b"".join(hashlib.blake2b(t.encode(), digest_size=16).digest() for t in texts)
        records = np.empty(len(texts), _RECORD)
        pairs = np.frombuffer(joined, "<u8").reshape(-1, 2)
        records["high"], records["low"] = pairs[:, 0], pairs[:, 1]
        records["number"] = np.arange(first, first + len(texts))
        first += len(texts)
        yield records[np.array([bool(t) for t in texts], dtype=bool)]


def _twins(records: Records) -> Repeats:
    """Each one's neighbour: the first for all that come later, the second for the first."""
    order = np.lexsort((records["number"], records["low"], records["high"]))
    ranked = records[order]
    same = (ranked["high"][1:] == ranked["high"][:-1]) & (ranked["low"][1:] == ranked["low"][:-1])
    found: Repeats = {}
    numbers = ranked["number"]
    for place in np.flatnonzero(same).tolist():
        one, other = int(numbers[place]), int(numbers[place + 1])
        found.setdefault(one, other)
        found[other] = one
    return found
