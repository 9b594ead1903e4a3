"""Which files a library is made of, told without reading them as records."""

import os
from pathlib import Path

import pytest

from buildsheets.records.files import records_without


def test_records_without_a_word(tmp_path: Path) -> None:
    for name, text in {"a.yml": "formerly: [b]", "b.yaml": "title: x", "c.YML": "", ".d.yml": "", "e.txt": ""}.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    (tmp_path / "stock").mkdir()
    (tmp_path / "stock" / "f.yml").write_text("", encoding="utf-8")
    assert sorted(records_without(tmp_path, b"formerly")) == ["b.yaml", "c.YML"]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="a POSIX system")
def test_what_cannot_be_read_may_hold_any_word(tmp_path: Path) -> None:
    (tmp_path / "folder.yml").mkdir()
    os.mkfifo(tmp_path / "pipe.yml")
    (tmp_path / "gone.yml").symlink_to(tmp_path / "nowhere.yml")
    (tmp_path / "ring.yml").symlink_to(tmp_path / "ring.yml")
    (tmp_path / "real.yml").write_text("", encoding="utf-8")
    (tmp_path / "link.yml").symlink_to(tmp_path / "real.yml")
    assert sorted(records_without(tmp_path, b"formerly")) == ["link.yml", "real.yml"]
