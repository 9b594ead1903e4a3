"""One speed curve of 126 steps by the model against the same operating points in ngspice, CPU ratio.

    python tests/bench/bench_curve_ngspice.py --rounds 15

The model searches the EMF at every step; ngspice is handed that EMF and simulates pulse periods until they settle, so its
share of the work is the smaller one. The last column is how far the two mean currents lie apart at worst, in per cent of
the current of the fullest step; ngspice runs at the accuracy that the tests of the chain use. Wants ngspice.
"""

from __future__ import annotations

import argparse
import resource
import statistics
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "published"))
from ngspice.netlists import Row, simulate

from buildsheets.physics.pwm import EmfSolution, solve_emf

STEPS = 126
DUTY = np.arange(1, STEPS + 1) / STEPS
BUS, WINDING, INDUCTANCE, FREEWHEEL, NEED = 12.9, 28.0, 6e-3, 0.7, 0.05  # a small can motor under a light train
CASES = (
    ("fast pulses, resistor", 20_000.0, 16.5, 0),
    ("slow pulses, resistor", 100.0, 16.5, 0),
    ("fast pulses, three diode pairs", 20_000.0, 0.0, 3),
    ("slow pulses, three diode pairs", 100.0, 0.0, 3),
)


def by_model(frequency: float, dropper: float, pairs: int) -> EmfSolution:
    """Solve the whole curve."""
    return solve_emf(DUTY, BUS, WINDING + dropper, INDUCTANCE, frequency, "coast", FREEWHEEL, NEED, 0.0, pairs)


def by_simulator(solved: EmfSolution, frequency: float, dropper: float, pairs: int) -> list[float]:
    """Return the mean currents that ngspice finds at the same EMFs [A]."""
    rows = (
        Row("coast", float(duty), BUS, float(emf), WINDING, dropper, INDUCTANCE, frequency, FREEWHEEL, pairs, "silicon")
        for duty, emf in zip(DUTY, solved.emf, strict=True)
    )
    return [simulate(row)["mean_current"] for row in rows]


def times(rounds: int, chain: list[Any]) -> list[float]:
    """Return the CPU of the model in each round [s]."""
    found = []
    for _ in range(rounds):
        began = time.process_time()
        by_model(*chain)
        found.append(time.process_time() - began)
    return found


def main() -> None:
    """Measure and print the table."""
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("--rounds", type=int, default=15, help="of the model, before the simulator and once more after it")
    asked = reader.parse_args()
    print("| curve of 126 steps | model, CPU ms | ngspice, CPU ms | ratio | apart, % |\n| --- | ---: | ---: | ---: | ---: |")
    for name, *chain in CASES:
        solved = by_model(*chain)
        taken = times(asked.rounds, chain)
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        simulated = by_simulator(solved, *chain)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        taken += times(asked.rounds, chain)  # on both sides, lest other work on the machine meets the one and not the other
        spice = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
        model = statistics.median(taken)
        mean = solved.waveform.mean_current
        apart = 100 * np.max(np.abs(mean - simulated)) / np.max(mean)
        print(f"| {name} | {1e3 * model:.1f} | {1e3 * spice:.0f} | 1/{spice / model:.0f} | {apart:.2f} |")


if __name__ == "__main__":
    main()
