"""What is kept between runs: desks with revisions, versions, owners apart, crashes."""

from __future__ import annotations

import multiprocessing
import os
import signal
import sqlite3
import stat
import time
from dataclasses import replace
from pathlib import Path

import pytest

from blendwright.app.web.sheet import Line, Sheet
from blendwright.app.web.work_store import ElsewhereError, OpenDocument, WorkStore, WorkStoreError

SHEET = Sheet("pear", "50", (Line("vanillin", "1"),)).tidied()


def test_a_desk_comes_back(tmp_path: Path):
    document = replace(WorkStore(tmp_path).open_document("ann"), sheet=SHEET)
    kept = WorkStore(tmp_path).keep_document("ann", document)
    assert WorkStore(tmp_path).open_document("ann") == kept
    assert kept.sheet == SHEET


def test_owners_do_not_see_each_other(tmp_path: Path):
    store = WorkStore(tmp_path)
    document = store.keep_document("ann", replace(store.open_document("ann"), sheet=SHEET))
    store.save("ann", "pear", SHEET)
    assert store.open_document("ben").sheet.is_blank
    assert store.open_document("ben", document.id).sheet.is_blank
    assert store.saved("ben") == []
    with pytest.raises(PermissionError):
        store.keep_document("ben", document)


def test_two_windows_do_not_overwrite_each_other(tmp_path: Path):
    store = WorkStore(tmp_path)
    first = store.keep_document("ann", replace(store.open_document("ann"), sheet=SHEET))
    second = store.open_document("ann")
    store.keep_document("ann", replace(first, sheet=replace(SHEET, name="first")))
    with pytest.raises(ElsewhereError) as elsewhere:
        store.keep_document("ann", replace(second, sheet=replace(SHEET, name="second")))
    assert elsewhere.value.sheet.name == "first"
    both = OpenDocument("another", 0, replace(SHEET, name="second"))
    store.keep_document("ann", both)
    assert store.open_document("ann", first.id).sheet.name == "first"
    assert store.open_document("ann", "another").sheet.name == "second"


def test_every_save_is_a_version(tmp_path: Path):
    store = WorkStore(tmp_path)
    for grams in ("1", "2", "3"):
        store.save("ann", "pear", SHEET.with_cell(0, "grams", grams))
    found = store.saved("ann")
    assert [(one.number, one.sheet.lines[0].grams) for one in found] == [
        (3, "3"),
        (2, "2"),
        (1, "1"),
    ]
    store.rename("ann", found[0].work, "quince")
    assert {one.name for one in store.saved("ann")} == {"quince"}
    store.save("ann", "pear", SHEET)
    with pytest.raises(ValueError, match="already"):
        store.rename("ann", found[0].work, "pear")


def test_work_of_a_browser_whose_cookies_are_gone_is_brought_in(tmp_path: Path):
    store = WorkStore(tmp_path)
    store.save("before", "pear", SHEET)
    store.save("after", "pear", SHEET)
    assert store.adopt_all("after") == 1
    assert {one.name for one in store.saved("after")} == {"pear", "pear (2)"}


def test_the_file_is_the_persons_alone(tmp_path: Path):
    store = WorkStore(tmp_path)
    assert stat.S_IMODE(store.path.stat().st_mode) == 0o600


def _write_for_ever(folder: Path) -> None:
    store = WorkStore(folder)
    for number in range(1_000_000):
        store.save("ann", "pear", replace(SHEET, name="x" * 20_000 + str(number)))


def test_a_crash_in_mid_write_loses_nothing_that_was_saved(tmp_path: Path):
    WorkStore(tmp_path)
    process = multiprocessing.get_context("spawn").Process(target=_write_for_ever, args=(tmp_path,))
    process.start()
    deadline = time.monotonic() + 60.0
    while len(WorkStore(tmp_path).saved("ann")) < 3 and time.monotonic() < deadline:
        time.sleep(0.05)
    before = len(WorkStore(tmp_path).saved("ann"))
    os.kill(process.pid or 0, signal.SIGKILL)
    process.join()
    found = WorkStore(tmp_path).saved("ann")
    assert len(found) >= before >= 3
    assert [one.number for one in found] == list(range(len(found), 0, -1))


def test_an_address_without_work_yet_finds_its_work_later(tmp_path: Path):
    store = WorkStore(tmp_path)
    empty = store.open_document("ann")
    again = store.open_document("ann", empty.id)
    assert again.id == empty.id
    store.keep_document("ann", replace(again, sheet=SHEET))
    assert not store.open_document("ann", empty.id).sheet.is_blank
    assert store.open_document("ben", empty.id).id != empty.id
    assert store.open_document("ben", "<script>").id != "<script>"


def test_desks_with_anything_on_them_are_listed_for_their_owner_only(tmp_path: Path):
    store = WorkStore(tmp_path)
    for id, sheet in (("a", SHEET), ("b", Sheet().tidied()), ("c", replace(SHEET, name="quince"))):
        store.keep_document("ann", OpenDocument(id, 0, sheet))
    store.keep_document("ben", OpenDocument("d", 0, SHEET))
    assert [(document.id, document.sheet.name) for document in store.documents("ann")] == [
        ("c", "quince"),
        ("a", "pear"),
    ]


def test_work_kept_before_the_file_had_a_layout_is_still_there(tmp_path: Path):
    kept = WorkStore(tmp_path)
    kept.keep_document("ann", OpenDocument("a", 0, SHEET))
    kept.save("ann", "pear", SHEET)
    with sqlite3.connect(kept.path) as db:  # as it was laid out then
        db.execute("ALTER TABLE document RENAME TO desk")
        db.execute("DROP INDEX document_of")
        db.execute("CREATE INDEX desk_of ON desk (owner, changed_at)")
        db.execute("PRAGMA application_id = 0")
        db.execute("PRAGMA user_version = 0")
    store = WorkStore(tmp_path)
    assert store.open_document("ann", "a").sheet == SHEET
    assert [one.title for one in store.saved("ann")] == ["pear · 1"]


def test_a_damaged_file_says_so(tmp_path: Path):
    (tmp_path / "work.sqlite3").write_bytes(b"not a database, but long enough to look at" * 20)
    with pytest.raises(WorkStoreError, match="can't be used"):
        WorkStore(tmp_path)


def test_a_version_that_is_deleted_is_gone_and_the_others_stay(tmp_path: Path) -> None:
    store = WorkStore(tmp_path)
    first = store.save("ann", "pear", SHEET)
    store.save("ann", "pear", SHEET)
    store.delete("ben", first.work, 1)  # not his
    assert [one.number for one in store.saved("ann")] == [2, 1]
    store.delete("ann", first.work, 1)
    assert [one.number for one in store.saved("ann")] == [2]
    store.delete("ann", first.work, 2)
    assert store.saved("ann") == []
    assert store.save("ann", "pear", SHEET).number == 1


def test_a_moment_is_told_by_this_computers_clock(monkeypatch) -> None:
    import time

    from blendwright.app.web.saved_formulas import local_time

    monkeypatch.setenv("TZ", "Asia/Kolkata")
    time.tzset()
    try:
        assert local_time("2026-11-28T20:00:00.000+00:00") == "2026-11-29 01:30"
    finally:
        monkeypatch.undo()
        time.tzset()
