"""Files that the page hands out: to their owner only, the oldest make room."""

from __future__ import annotations

from blendwright.app.web.downloads import MOST_BYTES, MOST_FILES, Download, Downloads


def a_file(owner: str, size: int = 3) -> Download:
    return Download(owner, "pear.html", "text/html", b"x" * size)


def test_a_file_is_for_its_owner_only():
    files = Downloads()
    key = files.put(a_file("anna")).removeprefix("/downloads/")
    assert files.get(key, "anna") is not None
    assert files.get(key, "ben") is None
    assert files.get(key, "") is None
    assert files.get("no such key", "anna") is None


def test_the_oldest_make_room():
    files = Downloads()
    keys = [files.put(a_file("anna")).removeprefix("/downloads/") for _ in range(MOST_FILES + 2)]
    assert [files.get(key, "anna") is None for key in keys[:3]] == [True, True, False]
    large = files.put(a_file("anna", MOST_BYTES + 1)).removeprefix("/downloads/")
    assert files.get(large, "anna") is not None
    assert files.get(keys[-1], "anna") is None
