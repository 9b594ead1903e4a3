"""The words by which someone looks for a sheet, and how much of a page the search may take in.

Tables of numbers stay out of the index: whoever types "47" wants the sheet with such a resistor, not all with such a step.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from html.parser import HTMLParser

from buildsheets.figures.format import Figures, StageFigures
from buildsheets.languages import _, noted, translated

MOST_BYTES = 3000
"""Of one sheet in the index, as the index is written: letters beyond ASCII take six bytes or more."""
WORDS_BYTES = 1500
"""As much of it goes to the words, the rest to title, summary, notes and headings."""
TITLE_AND_WORDS_BYTES = 2400
BOOST = 1000
"""How many times more a word of a sheet counts than one of the manual: as much as the theme's search makes of a title."""
PLACE_BYTES = 140  # of an entry besides its words: its address and the names of its keys
TAG_BYTES = 12  # of a block besides its words

ABILITIES = {
    "start_voltage": noted("start volts (CV2)"),
    "top_voltage": noted("top volts (CV5)"),
    "middle_voltage": noted("middle volts (CV6)"),
    "speed_table": noted("speed table (CV67 to CV94)"),
    "trims": noted("trims (CV66, CV95)"),
    "momentum": noted("acceleration and braking rates (CV3, CV4)"),
    "feedback": noted("back-EMF feedback"),
    "feedback_cut_off": noted("feedback cut-off (CV10)"),
    "pulse_period": noted("pulse period (CV9)"),
    "long_address": noted("long address (CV17, CV18)"),
}

TIMES = {"": 1.0, "k": 1e3, "M": 1e6}
_OHMS = re.compile(r"(?<![\w.])(\d+(?:\.\d+)?)\s?([kM]?)(?:ohm|Ω)(?!\w)")
_HEADING = re.compile(r"<(h[1-6])((?:\s[^>]*)?)(?=>)")
HEADINGS = {"h1", "h2", "h3", "h4", "h5", "h6"}
VOID = {"br", "hr", "img", "input", "wbr"}
_UNSEEN = re.compile(r"<(?!/?(?:p|code|pre|li|ol|ul|sub|sup)\b)[^>]*>")  # tags that the index does not keep
EXCLUDED = ' data-search-exclude="yes"'


def weight(text: str) -> int:
    """Return how many bytes a text takes in the index."""
    return len(json.dumps(text)) - 2


def search_words(figures: Figures) -> list[tuple[str, str]]:
    """Return the labelled words of a build, the most wanted first, as many as have room.

    Parameters
    ----------
    figures : Figures
        The figures of one build.
    """
    head = figures["head"]
    groups: list[tuple[str, Iterable[str | None]]] = [
        (_("Class"), [head["prototype_class"]]),
        (_("Type"), [head["prototype_type"] and translated(head["prototype_type"])]),
        (_("Scale"), [head["scale"]]),
        (_("Status"), [translated(head["status"])]),
        (_("Motor"), [figures["motor"]["name"]]),
        (_("Decoder"), [figures["decoder"]["name"]]),
        (_("It can"), [translated(words) for name, words in ABILITIES.items() if figures["decoder"]["abilities"].get(name)]),
        (_("Dropper"), [figures["dropper"]["text"] if figures["dropper"] else None]),
        (_("Values"), _values(figures)),
        (_("Drive"), [head["drive"]]),
        (_("Gears"), [_stage_words(stage) for stage in figures["gearing"]["stages"]]),
        (_("Route"), map(translated, head["route"])),
        (_("Number"), [head["number"]]),
        (_("Builder"), [head["builder"]]),
        (_("Parts"), (f"{part['name']} ({part['stock']})" if part["stock"] else part["name"] for part in figures["parts"])),
    ]
    room = min(WORDS_BYTES, TITLE_AND_WORDS_BYTES - weight(figures["title"]))
    out = []
    for label, values in groups:
        kept = []
        for value in dict.fromkeys(filter(None, values)):
            room -= weight(value) + 2
            if room > 0:
                kept.append(value)
        if kept:
            room -= weight(label) + 5
            out.append((label, ", ".join(kept)))
    return out


def _values(figures: Figures) -> list[str]:
    """Return each resistance in the ways it is written: in words, with its sign, and in the letter code of IEC 60062."""
    texts = [figures["dropper"]["text"] if figures["dropper"] else "", *(part["name"] for part in figures["parts"])]
    found = {float(match[1]) * TIMES[match[2]] for text in texts for match in _OHMS.finditer(text)}
    found |= {lamp["nearest_e24_ohm"] for lamp in figures["lamps"] if lamp["nearest_e24_ohm"] is not None}
    return [_ways_to_write(ohms) for ohms in sorted(found)]


def _ways_to_write(ohms: float) -> str:
    """Return "4700 ohm = 4.7 kΩ = 4K7"."""
    prefix = next(letter for letter in ("M", "k", "") if ohms >= TIMES[letter] or not letter)
    short, letter = f"{ohms / TIMES[prefix]:.6g}", prefix.upper() or "R"
    code = short.replace(".", letter) if "." in short else short + letter
    return f"{ohms:.6g} ohm = {short} {prefix}Ω = {code}"


def _stage_words(stage: StageFigures) -> str | None:
    driver, driven = stage["driver_teeth"], stage["driven_teeth"]
    if driven is None:
        return None
    if stage["kind"] == "worm":
        return _("worm on {driven} tooth wheel", driven=driven)
    return _("{driver} tooth pinion on {driven} tooth wheel", driver=driver, driven=driven) if driver is not None else None


def within_reach(html: str, most: int = MOST_BYTES) -> str:
    """Return the words of a page as HTML with a mark on each block that the search leaves out, once there is no more room.

    Parameters
    ----------
    html : str
        What Markdown made of the words.
    most : int
        Bytes that the index may take. The title, and the last block with its heading, which holds the words to find the
        sheet by, are always taken in.
    """
    if _cost(html) <= most:
        return html
    blocks = _Blocks(html).found
    last_heading = max((place for place, (tag, _, _) in enumerate(blocks) if tag in HEADINGS), default=0)
    kept = {0, last_heading, len(blocks) - 1}
    room = most - sum(_cost(html[start:end]) for place, (_, start, end) in enumerate(blocks) if place in kept)
    out, done = [], 0
    for place, (tag, start, end) in enumerate(blocks):
        if place in kept:
            continue
        room -= _cost(html[start:end])
        if room < 0:
            out += [html[done:start], _left_out(html[start:end], tag)]
            done = end
    return "".join(out) + html[done:]


class _Blocks(HTMLParser):
    """The outermost elements of a piece of HTML: tag, begin and end."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.found: list[tuple[str, int, int]] = []
        self._lines = [0, *(match.end() for match in re.finditer("\n", html))]
        self._html = html
        self._open: list[str] = []
        self._begin = 0
        self.feed(html)
        self.close()

    def _here(self) -> int:
        line, column = self.getpos()
        return self._lines[line - 1] + column

    def handle_starttag(self, tag: str, attrs: object) -> None:
        if tag in VOID:
            return
        if not self._open:
            self._begin = self._here()
        self._open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag not in self._open:
            return
        while self._open.pop() != tag:
            pass
        if not self._open:
            self.found.append((tag, self._begin, self._html.index(">", self._here()) + 1))


def _left_out(block: str, tag: str) -> str:
    """Return a block that the search passes by. Its parser forgets a mark at the end of any element of the same name."""
    block = _HEADING.sub(r"<\1\2" + EXCLUDED, block)
    return block if tag in HEADINGS else f"<section{EXCLUDED}>{block}</section>"


def _cost(html: str) -> int:
    blocks = html.count("<p") + html.count("<li")
    return weight(_UNSEEN.sub("", html)) + PLACE_BYTES * len(_HEADING.findall(html)) + TAG_BYTES * blocks
