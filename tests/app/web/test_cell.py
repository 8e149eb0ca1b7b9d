"""What is typed and what is set from the server can cross on their way."""

from types import SimpleNamespace

import pytest
from nicegui import Client
from nicegui.page import page

from blendwright.app.web.cell import TURN, GridCell


@pytest.fixture
def cell():
    with Client(page("/")):
        yield GridCell("Material")


def typed(cell: GridCell, text: str, turn: int) -> None:
    cell.value = cell._event_args_to_value(SimpleNamespace(args=[text, turn]))


def test_text_typed_into_what_stands_there_counts(cell: GridCell):
    cell.value = "ethanol"
    typed(cell, "ethanol 9", cell.props[TURN])
    assert cell.value == "ethanol 9"


def test_text_typed_into_what_was_replaced_meanwhile_does_not_count(cell: GridCell):
    before = cell.props[TURN]
    cell.value = "propylene glycol"
    typed(cell, "ethanol", before)
    assert cell.value == "propylene glycol"
