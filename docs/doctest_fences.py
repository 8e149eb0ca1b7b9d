"""For mkdocstrings: the examples in docstrings (>>>) become code, not Markdown's quotations."""

from __future__ import annotations

import re
from typing import Any

import griffe

EXAMPLE = re.compile(r"^>>> .*(?:\n(?!\n).*)*", re.MULTILINE)


class DoctestFences(griffe.Extension):
    def on_instance(self, *, obj: griffe.Object, **kwargs: Any) -> None:
        if obj.docstring:
            obj.docstring.value = EXAMPLE.sub(r"```pycon\n\g<0>\n```", obj.docstring.value)
