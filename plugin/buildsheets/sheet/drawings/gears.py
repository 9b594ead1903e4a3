"""The gear train as seen along its shafts: wheels and centre distances true to scale, teeth above, meshes below.

A worm is drawn from the side; where a shaft turns from end view to side view, a chain line leads across.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from buildsheets.figures.format import Gearing, StageFigures
from buildsheets.languages import _, plural
from buildsheets.numerals import given, number, quantity
from buildsheets.sheet.charts import Chart
from buildsheets.sheet.drawings import pen
from buildsheets.sheet.drawings.pen import INK, LETTER, LINE, MUTED, level_shape, text_width, words
from buildsheets.sheet.told import said_plainly

SCALES = (20.0, 10.0, 5.0, 2.0, 1.0, 0.5, 0.2, 0.1)  # ISO 5455, from memory
EDGE, TURN = 3.0, 9.0  # mm of paper: around the drawing, and from end view to side view
MOST_HIGH = 48.0  # mm of paper; higher, and the wiring would be pushed to a page of its own
THREADS, WORM_SHARE = 6, 0.7  # of a worm whose length no record gives: so many, but no longer than that share of its wheel
STRIP = 3.6  # lines of lettering between teeth and wheels
CHAIN = 'stroke-dasharray="3 0.8 0.6 0.8"'
PLAIN_MODULE = 1.0  # mm; for a train of which no module is known: wheels as their teeth, not to scale


@dataclass(frozen=True)
class Wheel:
    """A wheel in end view, or a worm in side view. [mm of the model]"""

    x: float
    y: float
    pitch: float
    tip: float
    text: str
    worm_half: float = 0.0  # half the length of a worm; nothing for a wheel

    @property
    def worm(self) -> bool:
        """Whether it is a worm."""
        return self.worm_half > 0

    @property
    def half(self) -> float:
        """Half its width on the drawing."""
        return self.worm_half or self.tip / 2


@dataclass(frozen=True)
class Mesh:
    """Two wheels in contact."""

    first: Wheel
    second: Wheel
    row: StageFigures


def gear_sketch(gearing: Gearing) -> Chart | None:
    """Return the sketch of a gear train, or None where its teeth are not known.

    Parameters
    ----------
    gearing : Gearing
        The train of one build.
    """
    rows = gearing["stages"]
    if not rows:
        return None
    true = all(row["module_mm"] is not None for row in rows)
    wheels, meshes, turns = _lay_out([row if true else _by_teeth(row) for row in rows])
    left = min(wheel.x - wheel.half for wheel in wheels)
    right = max(wheel.x + wheel.half for wheel in wheels)
    top = min(wheel.y - wheel.tip / 2 for wheel in wheels)
    bottom = max(wheel.y + wheel.tip / 2 for wheel in wheels)
    room = pen.PAPER_WIDTH - 2 * EDGE
    scale = next((s for s in SCALES if (right - left) * s <= room and (bottom - top) * s <= MOST_HIGH), SCALES[-1])
    head = EDGE + STRIP * LINE
    place = _Place(scale, EDGE + (room - (right - left) * scale) / 2 - left * scale, head - top * scale)
    foot = head + (bottom - top) * scale
    body = [
        *_turns(turns, place),
        *(part for wheel in wheels for part in _wheel(wheel, place)),
        *_teeth(wheels, place, EDGE + LETTER),
        *_dimensions(meshes, place, foot, true),
    ]
    end = foot + 5.3 * LINE
    body += _bar(end, scale) if true else [words(EDGE, end, _("Not to scale: the module is not known. Wheels are as large as their teeth."))]
    finding = _finding(gearing, scale, true)
    return Chart(pen.document("bs-gears", (pen.PAPER_WIDTH, end + 7.0), body, _("Gear train"), finding), finding)


@dataclass(frozen=True)
class _Place:
    """From mm of the model to mm of paper."""

    scale: float
    left: float
    top: float

    def at(self, x: float, y: float) -> tuple[float, float]:
        return self.left + x * self.scale, self.top + y * self.scale


def _by_teeth(row: StageFigures) -> StageFigures:
    """Return the stage with sizes in proportion to its teeth."""
    driver, driven = row["driver_teeth"] or 1, row["driven_teeth"]
    first = 12.0 if row["kind"] == "worm" else float(driver)
    return {
        **row,
        "module_mm": PLAIN_MODULE,
        "driver_reference_diameter_mm": first,
        "driven_reference_diameter_mm": float(driven),
        "driver_tip_diameter_mm": first + 2,
        "driven_tip_diameter_mm": driven + 2.0,
        "centre_distance_mm": (first + driven) / 2,
    }


def _lay_out(rows: Sequence[StageFigures]) -> tuple[list[Wheel], list[Mesh], list[tuple[Wheel, Wheel]]]:
    """Unfold the train from left to right: wheels of one shaft on one centre, a worm over its wheel."""
    wheels: list[Wheel] = []
    meshes: list[Mesh] = []
    turns: list[tuple[Wheel, Wheel]] = []
    last: Wheel | None = None
    for row in rows:
        pitch, tip = row["driver_reference_diameter_mm"] or 0.0, row["driver_tip_diameter_mm"] or 0.0
        distance = row["centre_distance_mm"] or 0.0
        x, y = (last.x, last.y) if last else (0.0, 0.0)
        if row["kind"] == "worm":
            starts = row["driver_teeth"] or 1
            half = 0.5 * min(THREADS * math.pi * (tip - pitch) / 2, WORM_SHARE * (row["driven_reference_diameter_mm"] or 0.0))
            first = Wheel(x, y, pitch, tip, plural("worm, {0} start", "worm, {0} starts", starts).format(starts), half)
            if last:
                edge = max(wheel.x + wheel.half for wheel in wheels)
                aside = max(half, (row["driven_tip_diameter_mm"] or 0.0) / 2) + max(0.3 * distance, 1.0)
                first = replace(first, x=edge + aside)
                turns.append((last, first))
            second_at = (first.x, first.y + distance)
        else:
            first = last if last and row["shares_driver"] else Wheel(x, y, pitch, tip, _("{0} teeth", row["driver_teeth"]))
            second_at = (first.x + distance, first.y)
        if not (last and row["shares_driver"]):
            wheels.append(first)
        second = Wheel(
            *second_at, row["driven_reference_diameter_mm"] or 0.0, row["driven_tip_diameter_mm"] or 0.0, _("{0} teeth", row["driven_teeth"])
        )
        wheels.append(second)
        meshes.append(Mesh(first, second, row))
        last = second
    return wheels, meshes, turns


def _turns(turns: Sequence[tuple[Wheel, Wheel]], place: _Place) -> Iterator[str]:
    """Chain line from a shaft's end to the same shaft seen from the side."""
    for wheel, worm in turns:
        yield pen.line(place.at(wheel.x, wheel.y), place.at(worm.x + worm.half * 1.15, worm.y), width=pen.FINE, colour=MUTED, look=CHAIN)


def _wheel(wheel: Wheel, place: _Place) -> Iterator[str]:
    x, y = place.at(wheel.x, wheel.y)
    scale = place.scale
    tip = f'fill="none" stroke="{MUTED}" stroke-width="{pen.HAIR}" class="bs-tip"'
    if wheel.worm:
        yield from _worm(wheel, x, y, scale, tip)
        return
    yield pen.circle(x, y, wheel.tip / 2 * scale, tip)
    yield pen.circle(x, y, wheel.pitch / 2 * scale, f'fill="none" stroke="{INK}" stroke-width="{pen.FIRM}" class="bs-pitch"')
    for dx, dy in ((1.6, 0.0), (0.0, 1.6)):
        yield pen.line((x - dx, y - dy), (x + dx, y + dy), width=pen.FINE)


def _worm(wheel: Wheel, x: float, y: float, scale: float, tip: str) -> Iterator[str]:
    """Side view: threads as slanting lines over the outer diameter, the pitch lines chain-dotted."""
    half, outer, pitch = wheel.half * scale, wheel.tip / 2 * scale, wheel.pitch / 2 * scale
    yield pen.rect(x - half, y - outer, 2 * half, 2 * outer, tip)
    yield pen.line((x - half - 4, y), (x + half + 4, y), width=pen.FINE, look=CHAIN)
    for side in (-1, 1):
        yield pen.line((x - half, y + side * pitch), (x + half, y + side * pitch), width=pen.FIRM, look='class="bs-pitch"')
    count = round(2 * half / (math.pi * (outer - pitch)))
    step = 2 * half / count
    for thread in range(count):
        start = x - half + thread * step
        yield pen.line((start, y + outer), (start + step, y - outer), width=pen.FINE)


def _spread(wanted: Sequence[tuple[float, float]], gap: float) -> list[float]:
    """Return places for labels of given (place, width) that do not touch, as near as may be to where they belong.

    Labels that would touch form a block, which stands where its members want it on the average.
    """
    order = sorted(range(len(wanted)), key=lambda index: wanted[index][0])
    blocks: list[list[int]] = []
    for index in order:
        blocks.append([index])
        while len(blocks) > 1 and _end(blocks[-2], wanted, gap) + gap > _start(blocks[-1], wanted, gap):
            last = blocks.pop()
            blocks[-1] += last
    places = [0.0] * len(wanted)
    edge = EDGE - gap
    for block in blocks:
        length = _end(block, wanted, gap) - _start(block, wanted, gap)
        at = max(min(_start(block, wanted, gap), pen.PAPER_WIDTH - EDGE - length), edge + gap)
        for index in block:
            places[index] = at + wanted[index][1] / 2
            at += wanted[index][1] + gap
        edge = at - gap
    return places


def _start(block: Sequence[int], wanted: Sequence[tuple[float, float]], gap: float) -> float:
    """Return where a block begins: the mean of where each member would have it."""
    begins, before = 0.0, 0.0
    for index in block:
        place, width = wanted[index]
        begins += place - width / 2 - before
        before += width + gap
    return begins / len(block)


def _end(block: Sequence[int], wanted: Sequence[tuple[float, float]], gap: float) -> float:
    return _start(block, wanted, gap) + sum(wanted[index][1] for index in block) + gap * (len(block) - 1)


def _teeth(wheels: Sequence[Wheel], place: _Place, y: float) -> Iterator[str]:
    """Teeth of every wheel in a row above, a hairline to each."""
    ends = [_leader_end(wheel, wheels, place) for wheel in wheels]
    wanted = [(end[0], text_width(wheel.text)) for end, wheel in zip(ends, wheels, strict=True)]
    for wheel, end, at in zip(wheels, ends, _spread(wanted, 3.0), strict=True):
        yield pen.line((at, y + 1.2), (at, y + 2.4), end, width=pen.HAIR, colour=MUTED)
        yield pen.circle(*end, 0.5, f'fill="{INK}"')
        yield words(at, y, wheel.text, "middle")


def _leader_end(wheel: Wheel, wheels: Sequence[Wheel], place: _Place) -> tuple[float, float]:
    """Return where the line from its label meets a wheel: beside a worm over it, and beside other wheels of its shaft."""
    x, y = place.at(wheel.x, wheel.y)
    reach = wheel.pitch / 2 * place.scale
    if wheel.worm:
        return x, y - reach
    over = any(other.worm and other.x == wheel.x for other in wheels)
    inner = any(other.x == wheel.x and other.y == wheel.y and other.pitch > wheel.pitch for other in wheels)
    angle = math.asin(0.5 + WORM_SHARE / 2) if over else 0.5
    if inner:
        angle = -angle
    return x - reach * math.sin(angle), y - reach * math.cos(angle)


def _dimensions(meshes: Sequence[Mesh], place: _Place, foot: float, true: bool) -> Iterator[str]:
    """Centre distance of every mesh, and below it what the mesh is worth."""
    lines = [_mesh_words(mesh.row, true) for mesh in meshes]
    wanted = []
    for mesh, texts in zip(meshes, lines, strict=True):
        x1, x2 = place.at(mesh.first.x, 0)[0], place.at(mesh.second.x, 0)[0]
        wanted.append(((x1 + x2) / 2, max(text_width(text) for text in texts) + 5.0))
    for number_, (mesh, texts, at) in enumerate(zip(meshes, lines, _spread(wanted, 4.0), strict=True)):
        yield from _dimension(mesh, place, foot, at, number_)
        level = mesh.row["level"]
        for row, text in enumerate(texts):
            y = foot + (2.4 + row) * LINE
            shaped = level is not None and row == 1
            yield words(at + (2.3 if shaped else 0), y, text, "middle")
            if shaped:
                yield level_shape(at + 2.3 - text_width(text) / 2 - 5.2, y - 3.2, 4.0, level or "note")


def _dimension(mesh: Mesh, place: _Place, foot: float, at: float, place_in_row: int) -> Iterator[str]:
    (x1, y1), (x2, y2) = place.at(mesh.first.x, mesh.first.y), place.at(mesh.second.x, mesh.second.y)
    look = 'class="bs-centres"'
    if mesh.first.worm:
        way = 1 if place_in_row else -1  # away from what follows
        side = x1 + way * (max(mesh.first.half, mesh.second.half) * place.scale + 3.0)
        for y in (y1, y2):
            start = x1 if y == y2 else x1 + way * mesh.first.half * place.scale
            yield pen.line((start, y), (side + way, y), width=pen.HAIR, colour=MUTED)
            yield pen.line((side - 0.8, y + 0.8), (side + 0.8, y - 0.8), width=pen.FINE)
        yield pen.line((side, y1), (side, y2), width=pen.FINE, look=look)
        yield pen.line((side, y2), (side, foot + 0.4 * LINE), (at, foot + 1.2 * LINE), width=pen.HAIR, colour=MUTED)
        return
    y = foot + (0.25 + 0.35 * (place_in_row % 2)) * LINE
    for x, centre in ((x1, y1), (x2, y2)):
        yield pen.line((x, centre), (x, y + 0.8), width=pen.HAIR, colour=MUTED)
        yield pen.line((x - 0.8, y + 0.8), (x + 0.8, y - 0.8), width=pen.FINE)
    yield pen.line((x1, y), (x2, y), width=pen.FINE, look=look)
    yield pen.line(((x1 + x2) / 2, y), (at, foot + 1.35 * LINE), width=pen.HAIR, colour=MUTED)


def _mesh_words(row: StageFigures, true: bool) -> list[str]:
    distance = _distance(row) if true else _("{0} on {1}", row["driver_teeth"], row["driven_teeth"])
    if row["kind"] == "worm":
        return [distance, f"1 : {given(row['ratio'])}", _("set by feel")]
    if row["level"] is None:
        return [distance, _("mesh not known")]
    span = row["contact_ratio_span"] or [0.0, 0.0]
    low, high = number(max(span[0], 0.0), 3), number(max(span[1], 0.0), 3)
    contact = _("no contact") if span[1] <= 0 else _("contact {0}", low if low == high else _("{low} to {high}", low=low, high=high))
    return [distance, row["level"], contact]


def _distance(row: StageFigures) -> str:
    """Centre distance to a hundredth of a millimetre: less than that a mesh does not notice."""
    value = row["centre_distance_mm"]
    return quantity(value, "mm", 3 if value is None or value < 10 else 4)


def _bar(y: float, scale: float) -> list[str]:
    """Scale bar of whole millimetres of the model, and the scale in words."""
    length = next(size for size in (1, 2, 5, 10, 20, 50, 100, 200, 500) if size * scale >= 25.0)  # up to the smallest of SCALES
    name = pen.scale_words(scale)
    field = length * scale / 5
    look = f'stroke="{INK}" stroke-width="{pen.FINE}"'
    parts = [pen.rect(EDGE + part * field, y, field, 1.6, f'fill="{pen.PAPER if part % 2 else INK}" {look}') for part in range(5)]
    bar = pen.rect(EDGE, y, length * scale, 1.6, f'class="bs-bar" data-mm="{length}" fill="none" {look}')
    return [*parts, bar, words(EDGE + length * scale + 3.0, y + 2.2, _("{0} mm on the model; scale {1}", length, name))]


def _finding(gearing: Gearing, scale: float, true: bool) -> str:
    rows = gearing["stages"]
    steps = []
    for row in rows:
        driver = _("worm of {0}", row["driver_teeth"]) if row["kind"] == "worm" else str(row["driver_teeth"])
        wheels = _("{0} on {1} teeth", driver, row["driven_teeth"])
        where = _(", centres {0}", _distance(row)) if true else ""
        steps.append(f"{wheels}{where}{', ' + said_plainly(row['level']) if row['level'] else ''}")
    size = _("Drawn {0}", pen.scale_words(scale)) if true else _("Not to scale")
    return _("From motor to axle: {0}. {1}, unfolded from left to right.", "; ".join(steps), size)
