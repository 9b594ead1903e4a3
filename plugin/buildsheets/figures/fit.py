"""What goes where inside: places given or worked out, and whether everything clears everything else."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

from buildsheets.figures.format import Clearance, FitFigures, FitPart, FitProblem, Unplaced
from buildsheets.figures.ledger import Ledger
from buildsheets.numerals import given
from buildsheets.physics.packing import Box, Piece, Triple, pack, separation, shortfall, wall_clearances
from buildsheets.records import models

MM = 1e3
"""Millimetres in a metre, exact."""
FINEST = 5e-5
"""Lengths below this are not told apart by a builder's calliper. [m] Common practice."""
WALLS, FLOOR = "side or ceiling", "floor"


@dataclass(frozen=True)
class _Named:
    name: str
    box: Box
    given: bool
    size: Triple  # as the record gives it


def fit_figures(record: models.Record, ledger: Ledger) -> FitFigures | None:
    """Work out the fit; None where the record gives no cavity or nothing that must go in."""
    space = record.space or models.Space()
    if space.cavity is None:
        ledger.lack("space.cavity", "fit")
        return None
    if not space.parts:
        ledger.lack("space.parts", "fit")
        return None
    cavity = _triple(space.cavity)
    ways, items = _told_apart([*space.keep_outs], [*space.parts])
    keep_outs = [_Named(item.name, _box(item), True, _triple(item.size)) for item in ways]
    placed, left_over = _places(cavity, keep_outs, items)
    clearances = _clearances(cavity, keep_outs, placed)
    problems = _problems(clearances)
    taken = [entry.box for entry in (*keep_outs, *placed)]
    unplaced = [_unplaced(cavity, taken, item) for item in left_over]
    problems += [FitProblem(text=_no_room(entry), by_mm=entry["short_by_mm"]) for entry in unplaced]
    _judge(problems, clearances, ledger)
    parts = [_part(entry, number, clearances) for number, entry in enumerate((*keep_outs, *placed), start=1)]
    return FitFigures(
        cavity_mm=_mm(cavity),
        keep_outs=parts[: len(keep_outs)],
        placed=parts[len(keep_outs) :],
        unplaced=unplaced,
        clearances=clearances,
        problems=problems,
    )


def _told_apart(*lists: list[models.Placed]) -> list[list[models.Placed]]:
    """Give the second and later of one name a count, so that a sentence names one thing."""
    seen: Counter[str] = Counter()
    out = []
    for items in lists:
        named = []
        for item in items:
            seen[item.name] += 1
            count = seen[item.name]
            named.append(item if count == 1 else item.model_copy(update={"name": f"{item.name} ({count})"}))
        out.append(named)
    return out


def _triple(size: models.Box) -> Triple:
    return (size.length.value, size.width.value, size.height.value)


def _gap(item: models.Placed) -> float:
    return item.gap.value if item.gap else 0.0


def _at(item: models.Placed) -> list[float | None]:
    return [None if place is None else place.value for place in (item.along, item.across, item.up)]


def _box(item: models.Placed) -> Box:
    """A box whose place is given; what is left out is the corner, so that a part stands on the floor."""
    along, across, up = (place or 0.0 for place in _at(item))
    return Box((along, across, up), _triple(item.size), _gap(item))


def _has_place(item: models.Placed) -> bool:
    return item.along is not None and item.across is not None


def _places(
    cavity: Triple, keep_outs: Sequence[_Named], items: Sequence[models.Placed]
) -> tuple[list[_Named], list[models.Placed]]:
    """Return the parts with their places, in the record's order, and those that found none."""
    fixed = [entry.box for entry in keep_outs] + [_box(item) for item in items if _has_place(item)]
    wanting = [item for item in items if not _has_place(item)]
    found = iter(pack(cavity, fixed, [_piece(item) for item in wanting]))
    placed, left_over = [], []
    for item in items:
        box = _box(item) if _has_place(item) else next(found)
        if box is None:
            left_over.append(item)
        else:
            placed.append(_Named(item.name, box, _has_place(item), _triple(item.size)))
    return placed, left_over


def _piece(item: models.Placed) -> Piece:
    along, across, up = _at(item)
    return Piece(_triple(item.size), _gap(item), (along, across, up))


def _clearances(cavity: Triple, keep_outs: Sequence[_Named], placed: Sequence[_Named]) -> list[Clearance]:
    """Every part against every other, against what is in the way, and against the cavity."""
    out = []
    for entry in placed:
        walls, floor = wall_clearances(entry.box, cavity)
        out.append(_clearance(entry.name, WALLS, walls, entry.box.gap))
        out.append(_clearance(entry.name, FLOOR, floor, 0.0))
    pairs = [*combinations(placed, 2), *((part, way) for part in placed for way in keep_outs)]
    for first, second in pairs:
        wanted = max(first.box.gap, second.box.gap)
        out.append(_clearance(first.name, second.name, separation(first.box, second.box), wanted))
    return out


def _clearance(first: str, second: str, clearance: float, wanted: float) -> Clearance:
    return Clearance(first=first, second=second, clearance_mm=MM * clearance, wanted_mm=MM * wanted)


def _problems(clearances: Sequence[Clearance]) -> list[FitProblem]:
    found = []
    for entry in clearances:
        short = entry["wanted_mm"] - entry["clearance_mm"]
        if short > MM * FINEST:
            found.append(FitProblem(text=_trouble(entry), by_mm=short))
    return sorted(found, key=lambda problem: -problem["by_mm"])


def _trouble(entry: Clearance) -> str:
    first, second, clear = entry["first"], entry["second"], entry["clearance_mm"]
    if clear < -MM * FINEST:
        shared = given(-clear, "mm")
        if second in (WALLS, FLOOR):
            return f"{first} sticks out of the cavity by {shared} ({second})."
        return f"{first} and {second} overlap by {shared}."
    return f"{first} has {given(max(clear, 0.0), 'mm')} of air to {second}; {given(entry['wanted_mm'], 'mm')} are wanted."


def _unplaced(cavity: Triple, taken: Sequence[Box], item: models.Placed) -> Unplaced:
    piece = _piece(item)
    alone = shortfall(cavity, [], piece)
    return Unplaced(
        name=item.name,
        size_mm=_mm(piece.size),
        short_by_mm=MM * (alone or shortfall(cavity, taken, piece)),
        too_large_alone=alone > 0,
    )


def _no_room(entry: Unplaced) -> str:
    where = "does not go into the empty cavity" if entry["too_large_alone"] else "finds no room beside the others"
    return f"{entry['name']} {where}, however it lies: each side would have to be {given(entry['short_by_mm'], 'mm')} less."


def _judge(problems: Sequence[FitProblem], clearances: Sequence[Clearance], ledger: Ledger) -> None:
    if not problems:
        ledger.judge("fit", "ok", "Every part has its place and the air it wants.")
        return
    # air that is short can be made up with tape or a file; a part inside another cannot
    clash = any(entry["clearance_mm"] < -MM * FINEST for entry in clearances)
    clash = clash or len(problems) > sum(entry["wanted_mm"] - entry["clearance_mm"] > MM * FINEST for entry in clearances)
    more = f" {len(problems) - 1} more in section 5." if len(problems) > 1 else ""
    ledger.judge("fit", "stop" if clash else "caution", problems[0]["text"] + more)


def _part(entry: _Named, number: int, clearances: Sequence[Clearance]) -> FitPart:
    own = [row for row in clearances if entry.name in (row["first"], row["second"]) and row["second"] != FLOOR]
    nearest = min(own, key=lambda row: row["clearance_mm"], default=None)
    other = None if nearest is None else nearest["second"] if nearest["first"] == entry.name else nearest["first"]
    return FitPart(
        number=number,
        name=entry.name,
        at_mm=_mm(entry.box.at),
        size_mm=_mm(entry.box.size),
        gap_mm=MM * entry.box.gap,
        given=entry.given,
        turned=entry.box.size != entry.size,
        nearest=other or "",
        nearest_mm=nearest["clearance_mm"] if nearest else 0.0,
    )


def _mm(triple: Triple) -> list[float]:
    return [round(MM * value, 4) + 0.0 for value in triple]
