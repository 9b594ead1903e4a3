"""What brings a pair of locomotives together: new values for the decoder of one of them, and what then remains.

The road: the figures hold the speed of each build, light engine and feedback off, at drive levels from none to all there is,
as the whole model solved them. New values of CV2, CV6 and CV5, or of the speed table, give new levels at the 126 steps; the
speeds there, on straight lines between the solved points, are held against those of the partner.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from buildsheets.figures.format import Figures
from buildsheets.languages import noted
from buildsheets.library.pairs import CLOSE, SLOW, Pair, Speeds, light_speeds
from buildsheets.physics.curve_fit import Response
from buildsheets.physics.curve_follow import (
    BELOW_TABLE,
    Followed,
    Follower,
    follow_with_points,
    follow_with_table,
    response_of,
)
from buildsheets.physics.cvs import UNITY_TRIM

NEAR = CLOSE / 2
"""Difference that leaves room for what a model does not know of a locomotive. Common practice."""
WORTH_SETTING = 0.01
"""Gain below which no value is worth writing, as a share of the faster's speed. Common practice."""
POINT_CVS = {2: "start_voltage", 6: "middle_voltage", 5: "top_voltage"}
"""CVs of the three-point curve, by the ability they belong to (NMRA S-9.2.2)."""
TABLE_BIT = 16
"""Weight of the bit of CV29 that chooses the speed table [-] (NMRA S-9.2.2, source opened)."""


@dataclass(frozen=True)
class Remedy:
    """Values for the decoder of one of a pair."""

    slug: str  # whose decoder
    values: dict[int, int]  # by number of the CV
    table: bool  # whether these are the 28 entries of the speed table
    cv29: int | None  # where the choice of curve changes
    slower: bool  # nowhere faster than now; else it is shaped both ways
    difference: float  # that remains, as in `Pair`
    at_step: int
    start_gap: int


@dataclass(frozen=True)
class NoRemedy:
    """Why there are no values: "alike", "no gain", "not able" or "not stated", and of whom."""

    why: str
    slugs: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Loco:
    """One of a pair."""

    slug: str
    speeds: Speeds
    response: Response
    figures: Figures


def remedies(found: Sequence[Pair], figures: Mapping[str, Figures]) -> list[Remedy | NoRemedy]:
    """Return for each pair the values that bring it nearest together.

    Parameters
    ----------
    found : sequence of Pair
        From `pairs`.
    figures : mapping of str to Figures
        The builds by slug.

    Returns
    -------
    list of Remedy or NoRemedy
        For the faster of the two, or for whichever comes nearer if that leaves them apart; three points before a whole table
        if the table gains nothing to speak of. The difference that remains is smaller than that of the pair, and their starts
        are no further apart, or by no more than the steps that not even a table can set.
    """
    used = {slug for pair in found for slug in (pair.one, pair.other)}
    locos = {slug: loco for slug in sorted(used) if (loco := _loco(figures[slug])) is not None}
    couples = {
        place: sorted((locos[pair.one], locos[pair.other]), key=lambda loco: -float(loco.speeds.mean()))
        for place, pair in enumerate(found)
        if pair.difference > WORTH_SETTING and pair.one in locos and pair.other in locos
    }
    offers: list[list[Remedy]] = [[] for _ in found]
    for turn in (1, -1):  # the faster is slowed; only where that leaves them apart, the other is looked at
        apart = [place for place in couples if all(entry.difference > NEAR for entry in offers[place])]
        ways = [(couples[place][::turn][0], couples[place][::turn][1]) for place in apart]
        for place, (loco, partner), points in zip(apart, ways, _points(ways), strict=True):
            offers[place] += _offered(loco, partner, points)
    return [_best(pair, some, figures[pair.one], figures[pair.other]) for pair, some in zip(found, offers, strict=True)]


def word(pair: Pair, found: Remedy | NoRemedy) -> str:
    """Return "together", "with settings" or "not together".

    Parameters
    ----------
    pair : Pair
        As they are set.
    found : Remedy or NoRemedy
        What can be done about it.
    """
    if pair.difference <= CLOSE:
        return noted("together")
    settled = isinstance(found, Remedy) and found.difference <= CLOSE
    return noted("with settings") if settled else noted("not together")


def _best(pair: Pair, offers: Sequence[Remedy], *both: Figures) -> Remedy | NoRemedy:
    if pair.difference <= WORTH_SETTING:
        return NoRemedy("alike")
    good = [
        entry
        for entry in offers
        if entry.difference <= pair.difference - WORTH_SETTING and entry.start_gap <= max(pair.start_gap, BELOW_TABLE)
    ]
    if good:
        # in whole percent: what is nearer by less is no nearer, and then few values and less speed are the better way
        return min(good, key=lambda entry: (round(entry.difference, 2), entry.table, not entry.slower, entry.slug))
    unable, silent = _unable(*both)
    if len(unable) + len(silent) < len(both):
        return NoRemedy("no gain")
    return NoRemedy("not stated", silent) if silent else NoRemedy("not able", unable)


def _loco(figures: Figures) -> _Loco | None:
    speeds, alone = light_speeds(figures), figures["decoder"]["light_response"]
    if speeds is None or alone is None:
        return None
    response = response_of(alone["drive_level"], [np.nan if mph is None else mph for mph in alone["scale_mph"]])
    return None if response is None else _Loco(figures["slug"], np.nan_to_num(speeds), response, figures)


def _can(figures: Figures, name: str) -> bool:
    return figures["decoder"]["abilities"].get(name, False)


def _free(figures: Figures) -> frozenset[int]:
    if figures["decoder"]["fixed_curve"]:
        return frozenset()
    return frozenset(cv for cv, name in POINT_CVS.items() if _can(figures, name))


def _unable(*both: Figures) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return those whose decoder cannot be set, and those of which the record does not say."""
    fixed = [f for f in both if not _free(f) and not _can(f, "speed_table")]
    silent = [f["slug"] for f in fixed if f["drive"]["kind"] == "decoder" and _is_silent(f)]
    return tuple(f["slug"] for f in fixed if f["slug"] not in silent), tuple(silent)


def _is_silent(figures: Figures) -> bool:
    names = ["speed_table"] if figures["decoder"]["fixed_curve"] else ["speed_table", *POINT_CVS.values()]
    return any(name not in figures["decoder"]["abilities"] for name in names)


def _values(figures: Figures) -> dict[int, int]:
    return {row["cv"]: row["value"] for row in figures["decoder"]["settings"] if row["page"] is None}


def _points(ways: Sequence[tuple[_Loco, _Loco]]) -> list[Followed | None]:
    """Return what three points can do on each way; None where they cannot be set."""
    asked = {number: _follower(loco, partner) for number, (loco, partner) in enumerate(ways) if _free(loco.figures)}
    found = dict(zip(asked, follow_with_points(list(asked.values()), SLOW), strict=True))
    return [found.get(number) for number in range(len(ways))]


def _follower(loco: _Loco, partner: _Loco) -> Follower:
    free, values, abilities = _free(loco.figures), _values(loco.figures), loco.figures["decoder"]["abilities"]
    kept = {cv: values.get(cv) for cv, name in POINT_CVS.items() if cv not in free and abilities.get(name) is not False}
    return Follower(loco.response, loco.speeds, partner.speeds, free, kept.get(2), kept.get(6), kept.get(5))


def _offered(loco: _Loco, partner: _Loco, points: Followed | None) -> Iterator[Remedy]:
    """Yield what three points can do, and where that leaves them apart, what a table can."""
    values = _values(loco.figures)
    if points is not None:
        yield _remedy(loco, points, values, table=False)
    if _can(loco.figures, "speed_table") and (points is None or points.apart.difference > CLOSE):
        trim = (values.get(66) or UNITY_TRIM) if _can(loco.figures, "trims") else UNITY_TRIM
        entries = follow_with_table(_follower(loco, partner), SLOW, trim=trim)
        if entries is not None:
            yield _remedy(loco, entries, values, table=True)


def _remedy(loco: _Loco, found: Followed, values: dict[int, int], *, table: bool) -> Remedy:
    new = loco.response.speed_at(found.level)
    return Remedy(
        loco.slug,
        found.values,
        table,
        _configuration(loco.figures, values, table),
        bool(np.all(new <= loco.speeds + 1e-9)),
        found.apart.difference,
        found.apart.at_step,
        found.apart.start_gap,
    )


def _configuration(figures: Figures, values: dict[int, int], table: bool) -> int | None:
    """Return CV29 where it must choose the other curve than now, or nobody wrote down what it chooses."""
    configured = figures["decoder"]["configuration"]
    present = values.get(29, configured["value"] if configured else 0)
    if table:
        return present | TABLE_BIT if 29 not in values or not present & TABLE_BIT else None
    chosen_now = present & TABLE_BIT if 29 in values else all(cv in values for cv in range(67, 95))
    return present & ~TABLE_BIT if chosen_now else None


