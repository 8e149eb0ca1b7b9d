"""JSON objects are held against our schemas by validators that are made once."""

from __future__ import annotations

import json
from functools import cache

from jsonschema.protocols import Validator
from jsonschema.validators import validator_for

from blendwright.report.schema import schema_text


@cache
def validator(name: str = "assessment") -> Validator:
    """The validator of one schema by its name, which is checked itself first."""
    schema = json.loads(schema_text(name))
    kind = validator_for(schema)
    kind.check_schema(schema)
    return kind(schema)
