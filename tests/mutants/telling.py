"""Tables of what became of the mutants."""

from __future__ import annotations

import math
import tomllib
from collections import defaultdict
from pathlib import Path
from typing import Any

NORMAL_95 = 1.959964
"""Standard deviations either side that hold 95 % of a normal law (any table)."""
HEAD = """\
| module | there | tried | killed | by the clock | explained | left | share killed | 95 % interval |
| --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: | --- |"""

Result = dict[str, Any]


def wilson(killed: int, tried: int) -> tuple[float, float]:
    """Return the 95 % interval of a share (Wilson 1927; any text on binomial shares)."""
    square = NORMAL_95**2
    middle = (killed + square / 2) / (tried + square)
    half = NORMAL_95 / (tried + square) * math.sqrt(killed * (tried - killed) / tried + square / 4)
    return max(0.0, middle - half), min(1.0, middle + half)


def of_all(counts: list[tuple[int, int, int]]) -> tuple[float, float, float]:
    """Return the share among all mutants and its 95 % interval, from samples of modules: there, tried and killed of each.

    Each module counts by its mutants. The variances of its strata add (any text on stratified samples), each by the middle of
    Wilson's interval so that a module with all killed is not taken as certain, and less what was not left to chance.
    """
    there = sum(count for count, _, _ in counts)
    share = sum(count * killed / tried for count, tried, killed in counts) / there
    variance = 0.0
    for count, tried, killed in counts:
        middle = (killed + NORMAL_95**2 / 2) / (tried + NORMAL_95**2)
        variance += (count / there) ** 2 * middle * (1 - middle) / tried * (1 - min(1.0, tried / count))
    half = NORMAL_95 * math.sqrt(variance)
    return share, max(0.0, share - half), min(1.0, share + half)


def explanations(path: Path) -> dict[str, str]:
    """Return the reasons of survivors that are no fault of the tests, by the mutant's key."""
    known = tomllib.loads(path.read_text(encoding="utf-8"))["explained"]
    return {bare(f"{one['module']}: {change}"): one["reason"] for one in known for change in one["changes"]}


def bare(text: str) -> str:
    """Return a text without its blanks: a change is known whatever the lines' layout."""
    return "".join(text.split())


def table(results: list[Result], there: dict[str, int], reasons: dict[str, str]) -> str:
    """Return the Markdown table, a row a module and one for all."""
    rows, counts, sums = [], [], [0] * 6
    by_module: dict[str, list[Result]] = defaultdict(list)
    for result in results:
        by_module[result["module"]].append(result)
    for module, own in sorted(by_module.items()):
        alive = [result["key"] for result in own if result["fate"] == "survived"]
        known = sum(bare(key) in reasons for key in alive)
        late = sum(result["fate"] == "timed out" for result in own)
        killed = len(own) - len(alive)
        numbers = [there[module], len(own), killed, late, known, len(alive) - known]
        counts.append((there[module], len(own), killed))
        sums = [one + more for one, more in zip(sums, numbers, strict=True)]
        rows.append(_row(module, numbers, killed / len(own), wilson(killed, len(own))))
    share, low, high = of_all(counts)
    return "\n".join([HEAD, *rows, _row("**all**, each module by its number", sums, share, (low, high))])


def _row(name: str, numbers: list[int], share: float, interval: tuple[float, float]) -> str:
    cells = [name, *(f"{number:,}" for number in numbers), f"{100 * share:.1f} %", f"{100 * interval[0]:.0f} to {100 * interval[1]:.0f} %"]
    return "| " + " | ".join(cells) + " |"


def survivors(results: list[Result], reasons: dict[str, str]) -> str:
    """Return the survivors as a Markdown list, those without a reason last."""
    alive = [result for result in results if result["fate"] == "survived"]
    lines = [
        f"- `{result['module']}` line {result['place'][0]}: `{result['before']}` → `{result['after']}`  \n"
        f"  {reasons.get(bare(result['key']), '**not explained**')}"
        for result in sorted(alive, key=lambda result: (bare(result["key"]) not in reasons, result["module"], result["place"]))
    ]
    return "\n".join(lines)
