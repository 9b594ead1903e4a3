"""Changes to the text of records, stock files and options, each with a name, so that a count can say how often it was tried."""

from __future__ import annotations

import random
import re
from collections.abc import Callable

Change = Callable[[list[bytes], random.Random], bytes]
"""Is given the lines of a text, which it may change, and returns a text."""

HUGE = ("1e400", "9" * 5000, "1e308", "-1e308", "1e-400", "99999999999999999999", "1e300 V", "9" * 40 + " mm", "0x7fffffffffffffff")
NOT_A_NUMBER = (".nan", ".NaN", "nan", "NaN V", "nan mm")
INFINITE = (".inf", "-.inf", "inf", "Infinity", "inf mm", "∞", "1/0", "1 in 0")
NEGATIVE = ("-1", "-3 mm", "-12", "-0", "-0.5", "−7 mm", "-1 %")
ZERO = ("0", "0.0", "0 mm", "0:1", "1:0", "0 %", "0 ohm", "00", "0/1")
UNITS = ("5 V", "5 furlongs", "5 mm", "5 kg", "5 °C", "5 mm/s", "5 ohm ohm", "5V5", "mm", "5 m m", "5 MM", "5 N m", "5 %%", "5 W/m²", "5 s^9")
SIGNS = (
    "~", "''", "[]", "{}", "yes", "12:30:00", "2026-02-30", "0x10", "1_000", "? [a]\n: b", "---\n", "...\n", "%YAML 9.9\n", "- - -",
    "'", '"\\ud800"', '"\\x00"', "|", ">9", "@", "`", "!", "#", ": ", "%", "file:///etc/passwd", "stock: ../../etc/passwd", "a: b: c",
)  # fmt: skip
STRANGE = ("\u2028", "\u202e", "\U0001f682", "\x85", "\x00", "\x1b[31m", "\u0301" * 40, "مرحبا", "\ufdd0", "\u200b", "ß", "İ")
TEETH = re.compile(rb"(teeth|ratio|starts|module|worm|wheel|pinion)[a-z_]*: *[^,}\n]*")
NUMBER = re.compile(rb"-?\d+(?:\.\d+)?")
PLACE = 1000
"""Deeper or more often than a record has a use for."""


def _value(choices: tuple[str, ...]) -> Change:
    """Return the change that puts one of these for the value of a line, or for a number in it."""

    def change(lines: list[bytes], chance: random.Random) -> bytes:
        at, written = chance.randrange(len(lines)), chance.choice(choices).encode("utf-8")
        numbers = list(NUMBER.finditer(lines[at]))
        if numbers and chance.random() < 0.5:
            match = chance.choice(numbers)
            lines[at] = lines[at][: match.start()] + written + lines[at][match.end() :]
        else:
            lines[at] = lines[at].partition(b":")[0] + b": " + written
        return b"\n".join(lines)

    return change


def _inserted(choices: tuple[bytes, ...]) -> Change:
    """Return the change that puts one of these anywhere into the text."""

    def change(lines: list[bytes], chance: random.Random) -> bytes:
        at = chance.randrange(len(lines))
        place = chance.randint(0, len(lines[at]))
        lines[at] = lines[at][:place] + chance.choice(choices) + lines[at][place:]
        return b"\n".join(lines)

    return change


def _gear(numbers: tuple[str, ...]) -> Change:
    """Return the change that puts one of these for a count of teeth or a ratio, where the text has one."""

    def change(lines: list[bytes], chance: random.Random) -> bytes:
        text = b"\n".join(lines)
        found = list(TEETH.finditer(text))
        if not found:
            return text + b"\ngears: {ratio: " + chance.choice(numbers).encode("utf-8") + b"}\n"
        match = chance.choice(found)
        written = match.group().partition(b":")[0] + b": " + chance.choice(numbers).encode("utf-8")
        return text[: match.start()] + written + text[match.end() :]

    return change


def _anchors(lines: list[bytes], chance: random.Random) -> bytes:
    """Names for values, of which each holds ten of the one before, or itself."""
    levels = [b"a0: &a0 [ha, ha]"]
    levels += [b"a%d: &a%d [%s]" % (n, n, b", ".join([b"*a%d" % (n - 1)] * 10)) for n in range(1, chance.randint(2, 30))]
    written = chance.choice((b"\n".join(levels), b"a: &a [*a]", b"a: &a {b: *a}", b"<<: &x {a: 1}", b"a: *nowhere", b"&a a: *a"))
    at = chance.randint(0, len(lines))
    return b"\n".join([*lines[:at], written, *lines[at:]])


def _deep(lines: list[bytes], chance: random.Random) -> bytes:
    depth, at = chance.choice((20, 29, 31, 400, PLACE)), chance.randrange(len(lines))
    one, other = chance.choice(((b"[", b"]"), (b"{a: ", b"}"), (b"- ", b""), (b"? ", b""), (b"{? ", b"}")))
    lines[at] = lines[at].partition(b":")[0] + b": " + one * depth + other * chance.choice((0, depth, depth - 1))
    return b"\n".join(lines)


def _deep_block(lines: list[bytes], chance: random.Random) -> bytes:
    return b"\n".join([*lines, *(b" " * n + b"k:" for n in range(chance.choice((29, 31, 200))))])


def _many(lines: list[bytes], chance: random.Random) -> bytes:
    """More values than a file may hold, or one that is very long."""
    written = chance.choice((b"k: [" + b"1, " * 60_000 + b"1]", b"k: " + b"x" * 100_000, b"x" * 100_000 + b": 1", b"\n" * 50_000))
    return b"\n".join([*lines, written])


def _twice(lines: list[bytes], chance: random.Random) -> bytes:
    at = chance.randrange(len(lines))
    lines.insert(chance.choice((at, chance.randint(0, len(lines)))), lines[at])
    return b"\n".join(lines)


def _tabs(lines: list[bytes], chance: random.Random) -> bytes:
    at = chance.randrange(len(lines))
    lines[at] = chance.choice((b"\t" + lines[at], lines[at].replace(b"  ", b"\t"), lines[at].replace(b": ", b":\t"), lines[at] + b"\t"))
    return b"\n".join(lines)


def _order_mark(lines: list[bytes], chance: random.Random) -> bytes:
    text = b"\n".join(lines)
    return chance.choice((
        b"\xef\xbb\xbf" + text, b"\xef\xbb\xbf\xef\xbb\xbf" + text, text + b"\xef\xbb\xbf", text.decode("utf-8", "replace").encode("utf-16"),
        text.decode("utf-8", "replace").encode("utf-16-be"), text.decode("utf-8", "replace").encode("utf-32"),
    ))  # fmt: skip


def _line_ends(lines: list[bytes], chance: random.Random) -> bytes:
    if chance.random() < 0.5:
        return chance.choice((b"\r\n", b"\r", b"\n\r", b"\r\r\n")).join(lines)
    return b"".join(line + chance.choice((b"\n", b"\r\n", b"\r")) for line in lines)


def _latin_1(lines: list[bytes], chance: random.Random) -> bytes:
    at = chance.randrange(len(lines))
    lines[at] += chance.choice(("ü", "é£", "½", "°", "µ", "\xa0")).encode("latin-1")
    return b"\n".join(lines)


def _lost(lines: list[bytes], chance: random.Random) -> bytes:
    del lines[chance.randrange(len(lines))]
    return b"\n".join(lines)


def _indented(lines: list[bytes], chance: random.Random) -> bytes:
    at = chance.randrange(len(lines))
    lines[at] = b"  " * chance.randint(0, 3) + lines[at].lstrip()
    return b"\n".join(lines)


def _exchanged(lines: list[bytes], chance: random.Random) -> bytes:
    one, other = chance.randrange(len(lines)), chance.randrange(len(lines))
    lines[one], lines[other] = lines[other], lines[one]
    return b"\n".join(lines)


def _figures(lines: list[bytes], chance: random.Random) -> bytes:
    """Change figures of numbers: what comes of it may be a record that other figures are worked out of."""
    at = chance.choice([place for place, line in enumerate(lines) if any(c in b"0123456789" for c in line)] or [0])
    figures = list(re.finditer(rb"\d", lines[at]))
    for match in chance.sample(figures, min(len(figures), chance.randint(1, 2))):
        lines[at] = lines[at][: match.start()] + str(chance.randrange(10)).encode() + lines[at][match.end() :]
    return b"\n".join(lines)


def _byte(lines: list[bytes], chance: random.Random) -> bytes:
    text = bytearray(b"\n".join(lines))
    for _ in range(chance.randint(1, 3) if text else 0):
        text[chance.randrange(len(text))] = chance.randrange(256)
    return bytes(text)


def _key(lines: list[bytes], chance: random.Random) -> bytes:
    """Put a key in another's place."""
    one, other = chance.randrange(len(lines)), chance.randrange(len(lines))
    lines[one] = lines[other].partition(b":")[0] + b":" + lines[one].partition(b":")[2]
    return b"\n".join(lines)


CHANGES: dict[str, Change] = {
    "anchors and aliases": _anchors,
    "deep nesting in brackets": _deep,
    "deep nesting by indentation": _deep_block,
    "many or long values": _many,
    "huge numbers": _value(HUGE),
    "not a number": _value(NOT_A_NUMBER),
    "infinite": _value(INFINITE),
    "negative": _value(NEGATIVE),
    "zero": _value(ZERO),
    "teeth and ratios negative": _gear(NEGATIVE),
    "teeth and ratios zero": _gear(ZERO),
    "teeth and ratios huge or none": _gear(HUGE + NOT_A_NUMBER + INFINITE),
    "wrong units": _value(UNITS),
    "a line twice": _twice,
    "tabs": _tabs,
    "byte order marks": _order_mark,
    "line ends": _line_ends,
    "Latin-1": _latin_1,
    "bytes that are no UTF-8": _inserted((b"\xff\xfe", b"\xe9", b"\xed\xa0\x80", b"\xc0\x80", b"\xf8")),
    "signs of YAML": _value(SIGNS),
    "signs of YAML anywhere": _inserted(tuple(sign.encode("utf-8") for sign in SIGNS)),
    "tags": _inserted((b"!!python/object:os.system {}", b"!!binary aGk=", b"!<x> ", b"!a!b ", b"!!set {a}")),
    "strange characters": _inserted(tuple(sign.encode("utf-8") for sign in STRANGE)),
    "a line lost": _lost,
    "a line indented": _indented,
    "lines exchanged": _exchanged,
    "a key exchanged": _key,
    "figures of numbers": _figures,
    "any byte": _byte,
}
OFTEN = {"figures of numbers": 6, "any byte": 2, "a key exchanged": 2, "teeth and ratios negative": 1}
"""Weights of what finds more than its share; one for the others."""
RARE = {"many or long values": 0.1}
"""Slow to read, and soon told."""


def change(text: bytes, chance: random.Random, without: tuple[str, ...] = ()) -> tuple[bytes, str]:
    """Return a text with one change, and the name of the change.

    Parameters
    ----------
    text : bytes
        What is changed.
    chance : Random
        Draws the change.
    without : tuple of str
        Names of changes that are left out.
    """
    names = [name for name in CHANGES if name not in without]
    name = chance.choices(names, [OFTEN.get(name, RARE.get(name, 1)) for name in names])[0]
    return CHANGES[name](text.split(b"\n"), chance) or b"\n", name
