"""Which window may change a desk: one at a time, and none unsaid."""

from __future__ import annotations

from dataclasses import dataclass, field

from hypothesis import given
from hypothesis import strategies as st

from blendwright.app.web.sheet import History, Line, Sheet
from blendwright.app.web.windows import Windows
from blendwright.app.web.work_store import OpenDocument

SHEET = Sheet("pear", "", (Line("vanillin", "1"),)).tidied()


@dataclass(eq=False)
class Window:
    """What `Windows` asks of a window, without a browser."""

    document: OpenDocument
    owner: str = "ann"
    tab: str = ""
    holds: bool = False
    is_told: bool = False
    is_kept: bool = True
    closed: bool = False
    history: History = field(default_factory=History)

    @property
    def sheet(self) -> Sheet:
        return self.document.sheet

    def keep_now(self) -> bool:
        self.is_kept = True
        return True

    def hold(self) -> None:
        self.holds, self.is_told = True, False

    def lose(self) -> None:
        self.holds, self.is_told = False, True

    def move_to(self, document: OpenDocument) -> None:
        self.document, self.holds, self.is_told = document, True, False

    def close(self) -> None:
        self.closed = True


def opened(windows: Windows, tab: str, document: str = "d", sheet: Sheet = SHEET) -> Window:
    window = Window(OpenDocument(document, 1, sheet))
    windows.opened(window)
    windows.connected(window, tab)
    return window


def test_the_second_window_is_told_and_may_change_nothing():
    windows = Windows()
    first, second = opened(windows, "1"), opened(windows, "2")
    assert (first.holds, first.is_told) == (True, False)
    assert (second.holds, second.is_told) == (False, True)


def test_a_page_laid_out_anew_in_its_tab_has_what_the_tab_had():
    windows = Windows()
    first, again = opened(windows, "1"), opened(windows, "1")
    assert (first.holds, again.holds, again.is_told) == (False, True, False)
    windows.left(first)
    assert opened(windows, "2").is_told


def test_before_one_takes_over_the_other_keeps_what_it_has():
    windows = Windows()
    first, second = opened(windows, "1"), opened(windows, "2")
    first.is_kept = False
    windows.take_over(second)
    assert first.is_kept
    assert first.is_told
    assert second.holds


def test_an_empty_window_gets_a_desk_of_its_own_and_is_asked_nothing():
    windows = Windows()
    blank = Sheet().tidied()
    first, second = opened(windows, "1", sheet=blank), opened(windows, "2", sheet=blank)
    assert first.holds
    assert second.holds
    assert not second.is_told
    assert first.document.id != second.document.id


def test_a_window_more_is_shown_what_the_others_of_its_browser_have_typed():
    windows = Windows()
    first, other = opened(windows, "1"), opened(windows, "9", document="e")
    first.is_kept = other.is_kept = False
    other.owner = "ben"
    windows.keep_all("ann")
    assert (first.is_kept, other.is_kept) == (True, False)


step = st.tuples(st.sampled_from(["open", "take", "copy", "leave", "back"]), st.integers(0, 3))


@given(st.lists(step, max_size=30))
def test_whatever_they_do_a_desk_has_one_holder_and_the_others_know(steps: list[tuple[str, int]]):
    windows = Windows()
    here: dict[int, Window] = {}
    for what, tab in steps:
        window = here.get(tab)
        if what == "open":
            here[tab] = opened(windows, str(tab))
            if window is not None:
                windows.left(window)
        elif window is None:
            continue
        elif what == "take":
            windows.take_over(window)
        elif what == "copy":
            windows.copy(window)
        elif what == "back":
            windows.connected(window, str(tab))
        else:
            windows.left(here.pop(tab))
        for document in {one.document.id for one in here.values()}:
            there = [one for one in here.values() if one.document.id == document]
            assert sum(one.holds for one in there) == 1
            assert all(one.holds != one.is_told for one in there)
