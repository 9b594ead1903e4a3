from __future__ import annotations

import os
import threading
from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from buildsheets.records import reader
from buildsheets.records.problems import Mark
from buildsheets.records.reader import LARGEST_FILE, MOST_NODES, read_bytes, read_file, read_text

YAML_LIKE = st.text("ab:-?[]{}#&*!|>'\"%@` \n\t\\,.<0123~=", max_size=60)


def data_of(text: str) -> object:
    document, problems = read_text(text, "f.yml")
    assert problems == []
    assert document is not None
    return document.data


def complaint(text: str) -> str:
    document, problems = read_text(text, "f.yml")
    assert document is None
    (problem,) = problems
    return str(problem)


# Source: YAML 1.2 core schema (from memory), but for what stays text so that the field decides.
@pytest.mark.parametrize(
    ("written", "value"),
    [("1:48", "1:48"), ("12:30", "12:30"), ("NO", "NO"), ("on", "on"), ("yes", "yes"), ("010", "010"), ("1_000", "1_000"),
     ("1e3", "1e3"), ("2026-03-02", "2026-03-02"), ("=", "="), ("0.3", "0.3"), ("0x1F", "0x1F"), ("+5", "+5"), (".inf", ".inf"),
     ("'7'", "7"), ('"true"', "true"), ("7", 7), ("-7", -7), ("0", 0), ("true", True), ("False", False), ("null", None),
     ("~", None), ("", None), ("9" * 18, int("9" * 18)), ("9" * 30, "9" * 30)],
)
def test_a_scalar_is_read_as_an_editor_shows_it(written: str, value: object) -> None:
    read = data_of(f"a: {written}")
    assert read == {"a": value}
    assert type(read["a"]) is type(value)  # type: ignore[index]


def test_every_value_and_key_has_its_place() -> None:
    document, _ = read_text("# a comment\nmodel:\n  scale: OO\nΩ: [1, {ß: 2}]\n", "f.yml")
    assert document is not None
    assert document.mark(("model", "scale")) == Mark("f.yml", 3, 10)
    assert document.key_mark(("model", "scale")) == Mark("f.yml", 3, 3)
    assert document.mark(("Ω", 1, "ß")) == Mark("f.yml", 4, 12)
    assert document.mark(("model", "mass", "deeper")) == Mark("f.yml", 3, 3), "the nearest thing around it"
    assert document.key_mark(("Ω", 0)) == Mark("f.yml", 4, 5)
    assert reader.Document("g.yml").mark(("x",)) == Mark("g.yml", 1, 1)


def test_folded_text_and_windows_line_ends_and_a_byte_order_mark() -> None:
    document, problems = read_bytes(b"\xef\xbb\xbfa: >\r\n  one\r\n  two\r\nb: 2\r\n", "f.yml")
    assert problems == []
    assert document is not None
    assert document.data == {"a": "one two\n", "b": 2}
    assert document.mark(("b",)) == Mark("f.yml", 4, 4)


def test_keys_are_text() -> None:
    assert data_of("7: a\ntrue: b\nnull: c\n") == {"7": "a", "true": "b", "null": "c"}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("? [1]: 2", "f.yml:1:3: brackets stand where a key belongs; write key: value"),
        ("'': x", "f.yml:1:1: a colon without a key before it; write key: value"),
        ("a: [1,,2]", "f.yml:1:7: nothing stands where a value belongs; take the extra comma out or close the bracket"),
        ('a: "\\0"', "f.yml:1:4: an invisible character (U+0000) stands here; delete it"),
        ('a: {"\\e[31mb": 1}', "f.yml:1:5: an invisible character (U+001B) stands here; delete it"),
        ("a: 1\u2028b: 2", "f.yml:1:5: an invisible character (U+2028) stands here; delete it"),
        ("a: |x\n  y", 'f.yml:1:5: text stands beside "|" or ">", or is indented unevenly; start it on the next line, '
         "two spaces in"),
        ("a: - b", 'f.yml:1:4: a "-" where no list item belongs; put it on a line of its own, under its key'),
        ("- a\n b", None),
        ("a: * x", 'f.yml:1:4: a value that begins with "*" needs quotes; write it like "*text"'),
        ("a: & x", 'f.yml:1:4: a value that begins with "&" needs quotes; write it like "&text"'),
        ("a: !<x", 'f.yml:1:4: a value that begins with "!" needs quotes; write it like "!text"'),
        ("%x\na: 1", 'f.yml:1:1: a line that begins with "%" needs quotes; write it like "%text"'),
        ("a: %5", 'f.yml:1:4: a value cannot begin with "%"; put it in quotes, like "%text"'),
        ("a: 1\n...\nb: 2", "f.yml:3:1: nothing can follow here; write the record as key: value lines, all starting in "
         "column 1"),
        ("a:\n  - b\n c", 'f.yml:3:2: this line does not line up with the keys above; start it in the same column'),
        ("- a\nb: 1", 'f.yml:2:1: this line does not line up with the list above; start it with "- " in the same column'),
        ("a: [b", "f.yml:1:4: a list in square brackets is not finished; put a comma between items and ] at the end"),
    ],
)
def test_a_slip_in_the_syntax_is_named_in_plain_words(text: str, said: str | None) -> None:
    if said is None:
        assert data_of(text) == ["a b"]
    else:
        assert complaint(text) == said


@pytest.mark.parametrize(
    ("text", "said", "meant"),
    [
        ("a: {speed: 12,5 mph}", 'f.yml:1:14: "12,5 mph" has a comma, which ends an entry in brackets; use a decimal point, '
         'as in "12.5 mph"', {"speed": "12.5 mph"}),
        ("a: {b: 1,\n  mass: 1,285.5 g, c: 2}", 'f.yml:2:10: "1,285.5 g" has a comma, which ends an entry in brackets; use a '
         'decimal point, as in "1285.5 g"', {"b": 1, "mass": "1285.5 g", "c": 2}),
        ("a: {ratio: 1:76,2}", 'f.yml:1:16: "1:76,2" has a comma, which ends an entry in brackets; use a decimal point, as in '
         '"1:76.2"', {"ratio": "1:76.2"}),
    ],
)
@pytest.mark.parametrize("loader", [reader.LOADER, yaml.Loader], ids=["C", "pure"])
def test_a_decimal_comma_in_brackets_is_named_at_the_comma(
    loader: object, text: str, said: str, meant: object, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(reader, "LOADER", loader)
    document, problems = read_text(text, "f.yml")
    assert [str(problem) for problem in problems] == [said]
    assert document is not None
    assert document.data == {"a": meant}


@pytest.mark.parametrize("text", ["a: {b: x,y}", "a: {b: '12',5}", "a: {b: 12, 5 mm}", "a: {b: 12,c: 5}"])
def test_other_commas_in_brackets_part_entries(text: str) -> None:
    assert len(data_of(text)["a"]) == 2  # type: ignore[index]


def test_a_decimal_comma_is_named_beside_the_bracket_that_is_left_open() -> None:
    document, problems = read_text("a: {speed: 12,5 mph\nb: 1", "f.yml")
    assert document is None
    assert [str(problem)[:9] for problem in problems] == ["f.yml:1:1", "f.yml:1:4"]
    assert "decimal point" in problems[0].message
    assert "not finished" in problems[1].message


def test_duplicate_keys_are_all_named_and_the_first_one_stays() -> None:
    document, problems = read_text("a: 1\nb: {c: 1, c: 2}\na: 3\n", "f.yml")
    assert [str(problem) for problem in problems] == [
        'f.yml:2:11: "c" stands twice, first in line 2; keep one of the two',
        'f.yml:3:1: "a" stands twice, first in line 1; keep one of the two',
    ]
    assert document is not None
    assert document.data == {"a": 1, "b": {"c": 1}}


def test_size_depth_and_number_of_values_are_bounded() -> None:
    assert "more than 30 deep" in complaint("a: " + "[" * 40)
    assert "more than 50000 values" in complaint("- a\n" * MOST_NODES)
    assert "larger than 2 MB" in str(read_bytes(b"#" * (LARGEST_FILE + 1), "f.yml")[1][0])


@settings(max_examples=300, deadline=None)
@given(raw=st.binary(max_size=200) | YAML_LIKE.map(str.encode) | st.text(max_size=80).map(lambda text: text.encode("utf-8", "replace")))
@pytest.mark.parametrize("loader", [reader.LOADER, yaml.Loader], ids=["C", "pure"])
def test_any_bytes_give_data_or_problems_in_the_file(loader: object, raw: bytes) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(reader, "LOADER", loader)
        document, problems = read_bytes(raw, "f.yml")
    assert document is not None or problems
    for problem in problems:
        assert problem.line >= 1
        assert problem.column >= 1
        assert "; " in problem.message


@pytest.mark.parametrize(
    "text",
    ['a: "x\nb: 2\n', "a: 1\n\tb: 2\n", "title: Tank: two\n", "a: [1, 2\nb: 3", "a: {b: 1\nc: 2", "a: *x", "a: 1\nb\nc: 2", "a:\n  b: 1\n c: 2"],
)
def test_without_the_c_parser_the_words_and_places_are_the_same(text: str, monkeypatch: pytest.MonkeyPatch) -> None:
    quick = complaint(text)
    monkeypatch.setattr(reader, "LOADER", yaml.Loader)
    assert complaint(text) == quick


def test_a_bad_character_code_is_no_traceback_without_the_c_parser(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reader, "LOADER", yaml.Loader)
    assert "character code in double quotes" in complaint('a: "\\UFFFFFFFF"')


def test_a_syntax_error_without_a_place_points_at_the_start(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(text: str, Loader: object) -> object:
        raise yaml.MarkedYAMLError(problem="odd")

    monkeypatch.setattr(reader.yaml, "parse", fail)
    assert complaint("a: 1") == "f.yml:1:1: this cannot be read as YAML; write key: value lines"


def test_an_unforeseen_syntax_error_still_points_somewhere(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(text: str, Loader: object) -> object:
        raise yaml.MarkedYAMLError(problem="odd", problem_mark=yaml.Mark("f", 0, 8, 2, None, None))

    monkeypatch.setattr(reader.yaml, "parse", fail)
    assert complaint("a: 1") == "f.yml:9:3: this cannot be read as YAML; check indentation, colons and quotes"


class TestFiles:
    def test_a_good_file(self, tmp_path: Path) -> None:
        path = tmp_path / "a.yml"
        path.write_text("a: 1\n", encoding="utf-8")
        document, problems = read_file(path, "a.yml")
        assert document is not None
        assert (document.data, problems) == ({"a": 1}, [])

    def test_a_folder_is_no_record(self, tmp_path: Path) -> None:
        (tmp_path / "x.yml").mkdir()
        assert self.said(tmp_path / "x.yml") == "x.yml:1:1: this is not a file; put a record's text file here or take it away"

    def test_a_missing_file_and_a_dangling_link(self, tmp_path: Path) -> None:
        assert "no such file" in self.said(tmp_path / "x.yml")
        try:
            (tmp_path / "x.yml").symlink_to(tmp_path / "nowhere")
        except OSError:
            pytest.skip("links need a privilege here")
        assert "no such file" in self.said(tmp_path / "x.yml")

    @pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
    def test_a_pipe_does_not_hang(self, tmp_path: Path) -> None:
        os.mkfifo(tmp_path / "x.yml")
        said: list[str] = []
        thread = threading.Thread(target=lambda: said.append(self.said(tmp_path / "x.yml")), daemon=True)
        thread.start()
        thread.join(5)
        assert said == ["x.yml:1:1: this is not a file; put a record's text file here or take it away"]

    def test_a_file_that_may_not_be_read(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        (tmp_path / "x.yml").write_text("a: 1\n", encoding="utf-8")

        def refuse(path: Path) -> bytes:
            raise PermissionError(13, "Permission denied")

        monkeypatch.setattr(Path, "read_bytes", refuse)
        assert self.said(tmp_path / "x.yml") == (
            "x.yml:1:1: the file cannot be opened (Permission denied); check its permissions"
        )

    def test_a_huge_file_is_not_read(self, tmp_path: Path) -> None:
        with (tmp_path / "x.yml").open("wb") as file:
            file.truncate(LARGEST_FILE + 1)
        assert "larger than 2 MB" in self.said(tmp_path / "x.yml")

    @staticmethod
    def said(path: Path) -> str:
        document, problems = read_file(path, path.name)
        assert document is None
        (problem,) = problems
        return str(problem)


def test_what_no_editor_shows_is_refused_and_nothing_else():
    # c-printable of YAML 1.2.2 (production 1, from memory), less what editors do not show as a sign: U+0085, the line and
    # paragraph separators, and the mark of byte order
    printable = {0x09, 0x0A, 0x0D, *range(0x20, 0x7F), *range(0xA0, 0xD800), *range(0xE000, 0xFFFE), *range(0x10000, 0x110000)}
    shown = printable - {0x85, 0x2028, 0x2029, 0xFEFF}
    assert {code for code in range(0x110000) if not reader._UNPRINTABLE.match(chr(code))} == shown
