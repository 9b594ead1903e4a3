"""What would work on one system and break on another."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

PLUGIN = Path(__file__).resolve().parents[1] / "plugin"
TEXT = {"open", "read_text", "write_text", "fdopen", "NamedTemporaryFile", "TextIOWrapper"}
POSIX_ONLY = {"fork", "forkpty", "mkfifo", "setsid", "getuid", "geteuid", "killpg"}


def careless(source: str) -> Iterator[int]:
    """Yield the lines of calls that open text in the machine's own encoding, or write its own line ends."""
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Call):
            continue
        # a function of ours is named read_text too
        bare = getattr(node.func, "id", "").replace("read_text", "")
        name = node.func.attr if isinstance(node.func, ast.Attribute) else bare
        owner = node.func.value if isinstance(node.func, ast.Attribute) else None
        given = {keyword.arg: keyword.value for keyword in node.keywords}
        modes = [given.get("mode"), *node.args]
        mode = next((str(a.value) for a in modes if isinstance(a, ast.Constant) and isinstance(a.value, str) and set(a.value) <= set("rwxab+t")), "r")
        # pictures, and what an installed distribution says of itself, are opened by functions that take no encoding
        foreign = owner is not None and ast.unparse(owner).startswith(("Image", "PIL.Image", "distribution("))
        if name not in TEXT or "b" in mode or foreign:
            continue
        writes = name == "write_text" or set(mode) & set("wxa")
        if "encoding" not in given or (writes and "newline" not in given):
            yield node.lineno


@pytest.mark.parametrize("path", sorted(PLUGIN.rglob("*.py")), ids=lambda path: path.relative_to(PLUGIN).as_posix())
def test_text_files_name_their_encoding_and_line_ends(path: Path) -> None:
    source = path.read_text(encoding="utf-8")
    assert list(careless(source)) == []
    used = {node.attr for node in ast.walk(ast.parse(source)) if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name)
            and node.value.id == "os"}
    assert used & POSIX_ONLY == set()


@pytest.mark.parametrize("line", ["p.read_text()", "open(p)", "p.write_text(t, encoding='utf-8')", "p.open('w', encoding='utf-8')"])
def test_a_careless_line_is_found(line: str) -> None:
    assert list(careless(line)) == [1]


@pytest.mark.parametrize("line", ["p.read_bytes()", "p.open('rb')", "p.write_text(t, encoding='utf-8', newline='\\n')"])
def test_a_careful_line_is_let_pass(line: str) -> None:
    assert list(careless(line)) == []
