"""One chunk into its table: weighed, computed by the engine, one row for each formula."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pyarrow as pa

from blendwright.app.batch.chunks import Chunk
from blendwright.app.batch.engine import Answered, computed, told_nobody
from blendwright.app.batch.observed import Observed
from blendwright.app.batch.row_cache import Refused, RowCache
from blendwright.app.batch.schema import JOINED, MOST_MESSAGE, answer_fields, schema_of, spread
from blendwright.catalogue import Catalogue, Material, Source, default_catalogue
from blendwright.estimate import to_celsius
from blendwright.formula.notices import Notice
from blendwright.mixture.weighing import DROP_mL
from blendwright.observations import Observation
from blendwright.pure.roots import Ints


@dataclass(frozen=True, eq=False)
class OwnMaterials:
    """The person's own materials, ready to travel to a worker."""

    materials: tuple[Material, ...]
    sources: Mapping[str, Source]
    digest: str

    @classmethod
    def of(cls, catalogue: Catalogue) -> OwnMaterials | None:
        names = catalogue.own_names()
        if not names:
            return None
        digest = catalogue.version().partition("+")[2]
        return cls(tuple(map(catalogue.material, names)), dict(catalogue.sources), digest)

    def over(self, catalogue: Catalogue) -> Catalogue:
        return catalogue.extended(self.materials, self.sources, self.digest)


@dataclass(frozen=True)
class BatchRequest:
    """What is asked of every formula: conditions, questions, drop, batch size of q.s. rows, and the
    person's own observations, which count as in `assess`."""

    temperature_K: float
    pressure_Pa: float
    only: tuple[str, ...]
    drop_mL: float = DROP_mL
    batch_g: float | None = None
    observations: tuple[Observation, ...] = ()

    def to_dict(self) -> dict[str, object]:
        """The observations only where there are any: their number, and a digest of all they say."""
        said = [one.to_dict() for one in self.observations]
        digest = hashlib.sha256(json.dumps(said).encode()).hexdigest()
        seen = {"observations": {"count": len(said), "sha256": digest}} if said else {}
        return {
            **seen,
            "temperature_C": round(to_celsius(self.temperature_K), 9),
            "pressure_kPa": self.pressure_Pa / 1e3,
            "only": list(self.only),
            "drop_mL": self.drop_mL,
            "batch_g": self.batch_g,
        }


def catalogue_of(own: OwnMaterials | None) -> Catalogue:
    catalogue = default_catalogue()
    return own.over(catalogue) if own is not None else catalogue


def evaluated(
    chunk: Chunk,
    row_cache: RowCache,
    request: BatchRequest,
    answered: Answered = told_nobody,
) -> pa.Table:
    """The chunk's rows, in its order. Raises nothing for what is wrong with a formula."""
    weighed = chunk.weighed(row_cache, request.batch_g)
    observed = Observed(request.observations, row_cache.catalogue) if request.observations else None
    conditions = request.temperature_K, request.pressure_Pa
    made = computed(weighed, *conditions, request.only, observed, answered)
    refused = weighed.refused | {
        place: Refused("program", f"it can't be calculated ({what})") for place, what in made.broken
    }
    fields = [pa.field("mass_g", pa.float64()), *answer_fields(request.only)]
    varied = chunk.varied()
    heads = [
        pa.array(np.arange(chunk.first, chunk.first + chunk.count)),
        weighed.ids,
        _texts_at({place: one.kind for place, one in refused.items()}, chunk.count),
        _texts_at({place: _shortened(one.message) for place, one in refused.items()}, chunk.count),
    ]
    told = np.where(np.isin(np.arange(chunk.count), list(weighed.refused)), -1, weighed.told_of)
    return pa.Table.from_arrays(
        [
            *heads,
            *(varied.columns if varied is not None else ()),
            *spread(made.columns, fields, made.at, chunk.count),
            _taken([_unused(notices) for notices in weighed.told], told),
            _taken([_as_read(notices) for notices in weighed.told], told),
        ],
        schema=schema_of(request.only, tuple(varied.schema) if varied is not None else ()),
    )


def _unused(notices: Sequence[Notice]) -> str | None:
    """The unused columns that a formula's rows fill in."""
    names = (column.name for notice in notices for column in notice.columns)
    return JOINED.join(name.replace(";", ",") for name in names) or None


def _as_read(notices: Sequence[Notice]) -> str | None:
    """The codes of what is to be told of reading a formula."""
    return ";".join(dict.fromkeys(notice.code for notice in notices)) or None


def _taken(texts: Sequence[str | None], which: Ints) -> pa.Array:
    """The text that each row has of these; null for -1."""
    return pa.array(texts, pa.string()).take(pa.array(which, mask=which < 0))


def _texts_at(texts: Mapping[int, str], count: int) -> pa.Array:
    """Texts at these places; null elsewhere."""
    which = np.full(count, -1)
    which[list(texts)] = np.arange(len(texts))
    return _taken(list(texts.values()), which)


def _shortened(message: str) -> str:
    return message if len(message) <= MOST_MESSAGE else message[: MOST_MESSAGE - 1] + "…"
