"""The store of finished work: it gives back what was put in, or nothing."""

from __future__ import annotations

import os
import time
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildsheets import cache as module
from buildsheets.cache import DAY_S, KEPT_S, Cache, DamagedError, key_of, packed, program_print, unpacked

KEY = key_of("one")
PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=8,
)
RAW = packed({"title": "Harbour tank ½ Ω"}, {"body": b"<p>one</p>", "empty": b"", "picture": bytes(range(256))})


@given(st.dictionaries(st.text(), PLAIN, max_size=4), st.dictionaries(st.text(), st.binary(), max_size=4))
def test_an_entry_comes_back_as_it_was(data: dict[str, object], pieces: dict[str, bytes]) -> None:
    entry = unpacked(packed(data, pieces))
    assert (entry.data, dict(entry.pieces), list(entry.pieces)) == (data, pieces, list(pieces))


def entry_file(cache: Cache) -> Path:
    return next(path for path in cache.folder.glob("*/??/*"))


def test_every_damaged_byte_is_noticed(tmp_path: Path) -> None:
    cache = Cache(tmp_path)
    cache.write("sheets", KEY, RAW)
    path = entry_file(cache)
    sealed = path.read_bytes()
    for place in range(len(sealed)):
        path.write_bytes(sealed[:place] + bytes([sealed[place] ^ (1 << place % 8)]) + sealed[place + 1 :])
        assert cache.read("sheets", KEY) is None, place


def test_every_length_but_the_whole_is_noticed(tmp_path: Path) -> None:
    cache = Cache(tmp_path)
    cache.write("sheets", KEY, RAW)
    path = entry_file(cache)
    sealed = path.read_bytes()
    for length in range(len(sealed)):
        for filler in (b"", b"\0" * (len(sealed) - length)):  # cut off, and what some file systems leave after a power cut
            if sealed[length:] == filler:
                continue
            path.write_bytes(sealed[:length] + filler)
            assert cache.read("sheets", KEY) is None, length
    path.write_bytes(sealed)
    assert cache.read("sheets", KEY) is not None


@given(st.binary(max_size=60))
def test_other_bytes_are_no_entry(raw: bytes) -> None:
    for candidate in (raw, module.MAGIC + raw[:3]):
        with pytest.raises(DamagedError):
            unpacked(candidate)


def test_an_entry_of_another_key_never_comes_back(tmp_path: Path) -> None:
    cache = Cache(tmp_path)
    cache.write("sheets", KEY, RAW)
    other = key_of("other")
    assert cache.read("sheets", other) is None
    assert cache.read("records", KEY) is None
    moved = tmp_path / "sheets" / other[:2] / other[2:]
    moved.parent.mkdir(parents=True, exist_ok=True)
    entry_file(cache).rename(moved)
    assert cache.read("sheets", other) is None


@pytest.mark.parametrize(("one", "other"), [(("a", "b"), ("ab",)), (("1",), (1,)), ((None,), ("None",)), (([1], 2), (1, [2]))])
def test_parts_of_a_key_do_not_run_together(one: tuple[object, ...], other: tuple[object, ...]) -> None:
    assert key_of(*one) != key_of(*other)


def test_without_a_folder_entries_go_with_the_object() -> None:
    cache = Cache()
    folder = cache.folder
    assert cache.write("sheets", KEY, RAW)
    assert cache.read("sheets", KEY) == unpacked(RAW)
    del cache
    assert not folder.exists()


def test_a_file_in_place_of_the_folder_is_told_and_done_without(tmp_path: Path) -> None:
    (tmp_path / "cache").write_bytes(b"no folder")
    cache = Cache(tmp_path / "cache")
    assert cache.fault is not None
    assert "cache" in cache.fault
    assert cache.write("sheets", KEY, RAW)
    assert cache.read("sheets", KEY) == unpacked(RAW)


def test_what_the_disk_does_not_take_is_held(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    cache = Cache(tmp_path)

    real = Path.open

    def full(path: Path, mode: str = "r") -> Any:
        file = real(path, mode)
        if "w" not in mode:
            return file
        with file:
            file.write(RAW[: len(RAW) // 2])
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "open", full)
    assert not cache.write("sheets", KEY, RAW)
    assert cache.read("sheets", KEY) == unpacked(RAW)
    assert list(tmp_path.glob("*/??/*")) == []  # no half-written rest
    assert Cache(tmp_path).read("sheets", KEY) is None


def test_what_nobody_asked_for_in_a_month_goes(tmp_path: Path) -> None:
    cache = Cache(tmp_path)
    now = time.time()
    ages = {"old": KEPT_S + DAY_S, "recent": KEPT_S - DAY_S, "future": -KEPT_S}
    for name, age in ages.items():
        cache.write("sheets", key_of(name), RAW)
        path = tmp_path / "sheets" / key_of(name)[:2] / key_of(name)[2:]
        os.utime(path, (now - age, now - age))
    rest = path.with_name(".rest.1")
    rest.write_bytes(b"half")
    os.utime(rest, (now - 2 * DAY_S, now - 2 * DAY_S))
    cache.tidy()
    assert [cache.read("sheets", key_of(name)) is not None for name in ages] == [False, True, True]
    assert not rest.exists()


def test_an_entry_that_is_read_counts_as_asked_for(tmp_path: Path) -> None:
    cache = Cache(tmp_path)
    cache.write("sheets", KEY, RAW)
    path = entry_file(cache)
    os.utime(path, (0, 0))
    assert cache.read("sheets", KEY) is not None
    cache.tidy()
    assert path.exists()


def test_the_print_of_the_program_covers_code_templates_and_libraries(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    home = tmp_path / "theme" / "buildsheets"  # a folder above it may have any name
    (home / "sheet").mkdir(parents=True)
    monkeypatch.setattr(module, "__file__", str(home / "cache.py"))
    prints = []

    def note() -> None:
        program_print.cache_clear()
        prints.append(program_print())

    try:
        note()
        (home / "motor.py").write_bytes(b"one")
        note()
        (home / "motor.py").write_bytes(b"two")
        note()
        (home / "sheet" / "motor.html.jinja").write_bytes(b"two")
        note()
        monkeypatch.setattr(module, "_version", lambda name: "99" if name == "numpy" else "1")
        note()
        assert len(set(prints)) == len(prints)
        (home / "__pycache__").mkdir()
        (home / "__pycache__" / "motor.pyc").write_bytes(b"any")
        note()
        assert prints[-1] == prints[-2]
    finally:
        program_print.cache_clear()
