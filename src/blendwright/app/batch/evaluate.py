"""One chunk into its table: weighed, computed by the engine, one row for each formula."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass

import pyarrow as pa

from blendwright.app.batch.chunks import Chunk
from blendwright.app.batch.engine import Answered, computed, told_nobody
from blendwright.app.batch.observed import Observed
from blendwright.app.batch.row_cache import Refused, RowCache
from blendwright.app.batch.schema import JOINED, MOST_MESSAGE, answer_fields, schema_of, spread
from blendwright.catalogue import Catalogue, Material, Source, default_catalogue
from blendwright.estimate import to_celsius
from blendwright.mixture.weighing import DROP_mL, Weighing
from blendwright.observations import Observation


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
    places = [n for n, (_, found) in enumerate(weighed) if isinstance(found, Weighing)]
    weighings = [found for _, found in weighed if isinstance(found, Weighing)]
    refused = {n: found for n, (_, found) in enumerate(weighed) if isinstance(found, Refused)}
    observed = Observed(request.observations, row_cache.catalogue) if request.observations else None
    conditions = request.temperature_K, request.pressure_Pa
    made = computed(weighings, *conditions, request.only, observed, answered)
    for place, what in made.broken:
        refused[places[place]] = Refused("program", f"it can't be calculated ({what})")
    at = [places[place] for place in made.at]
    fields = [pa.field("mass_g", pa.float64()), *answer_fields(request.only)]
    varied = chunk.varied()
    heads = [
        pa.array(range(chunk.first, chunk.first + chunk.count), pa.int64()),
        pa.array([name for name, _ in weighed], pa.string()),
        pa.array([_kind(refused.get(n)) for n in range(chunk.count)], pa.string()),
        pa.array([_message(refused.get(n)) for n in range(chunk.count)], pa.string()),
    ]
    return pa.Table.from_arrays(
        [
            *heads,
            *(varied.columns if varied is not None else ()),
            *spread(made.columns, fields, at, chunk.count),
            pa.array([_unused(found) for _, found in weighed], pa.string()),
            pa.array([_as_read(found) for _, found in weighed], pa.string()),
        ],
        schema=schema_of(request.only, tuple(varied.schema) if varied is not None else ()),
    )


def _unused(found: Weighing | Refused) -> str | None:
    """The unused columns that a formula's rows fill in."""
    if isinstance(found, Refused):
        return None
    names = (column.name.replace(";", ",") for column in found.formula.unused_columns)
    return JOINED.join(names) or None


def _as_read(found: Weighing | Refused) -> str | None:
    """The codes of what is to be told of reading a formula."""
    if isinstance(found, Refused):
        return None
    return ";".join(dict.fromkeys(n.code for n in found.formula.notices)) or None


def _kind(refused: Refused | None) -> str | None:
    return None if refused is None else refused.kind


def _message(refused: Refused | None) -> str | None:
    if refused is None:
        return None
    text = refused.message
    return text if len(text) <= MOST_MESSAGE else text[: MOST_MESSAGE - 1] + "…"
