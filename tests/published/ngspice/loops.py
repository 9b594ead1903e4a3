"""Circuits of a motor under sampled feedback for ngspice: inertia as a capacitor, controller as sample-and-hold stages.

This file knows nothing of the package it helps to check: it imports none of it and holds no formula of it. The motor is
the textbook's, in a bridge that shorts it between pulses, where the mean current is exactly that of the mean volts:

    J dω/dt = K i - T,   i = (d V - E) / R,   E = K ω

so that a capacitor of J / K² farads charged by i - T / K carries the volts E. One look of the controller is two clock
pulses: at the first, what the look before asked for becomes the on-time, and its sum the old sum; at the second the
error is held and added to it. Each hold is a switch and a capacitor. Before the run the motor is at rest on the first
load; with the run, target and load are new.

Run as a script it simulates every case and rewrites the table beside it.
"""

from __future__ import annotations

import csv
import subprocess
import tempfile
from dataclasses import astuple, dataclass, fields
from pathlib import Path

from ngspice.netlists import program_version

GENERATOR_VERSION = 1
TABLE = Path(__file__).with_name("loop_table.csv")
LOOKS = 60
"""Looks of a run."""
EVERY = 5
"""Looks between two values kept."""
SCALE = 1e3
"""Currents are drawn so many times too large, with the capacitor, to stay far above the simulator's least current [1]."""


@dataclass(frozen=True)
class Case:
    """One run; SI units. P and I in 1/V, I for each look."""

    bus_voltage: float
    resistance: float
    emf_constant: float
    inertia: float
    load_current: float
    later_current: float
    begin: float
    target: float
    proportional: float
    integral: float
    period: float


# Small can motors with a train's inertia, bare and with a bank (common practice): targets from easy to out of reach, so
# that on-time and sum run into their limits, loads that step on a held speed, gains from tame to hunting.
CASES = (
    Case(13.0, 28.0, 0.0093, 3.0e-7, 0.050, 0.050, 4.0, 4.5, 0.170, 0.018, 10e-3),
    Case(13.0, 44.5, 0.0093, 3.0e-7, 0.050, 0.050, 1.0, 7.6, 0.170, 0.018, 10e-3),
    Case(13.0, 44.5, 0.0093, 3.0e-7, 0.050, 0.050, 1.0, 7.6, 0.170, 0.012, 10e-3),
    Case(13.0, 44.5, 0.0093, 3.0e-7, 0.050, 0.090, 7.6, 7.6, 0.170, 0.018, 10e-3),
    Case(13.0, 44.5, 0.0093, 3.0e-7, 0.050, 0.090, 7.6, 10.6, 0.170, 0.020, 10e-3),
    Case(12.0, 43.5, 0.0060, 1.5e-7, 0.080, 0.080, 0.5, 5.0, 0.100, 0.020, 8e-3),
    Case(12.0, 43.5, 0.0060, 1.5e-7, 0.080, 0.080, 0.5, 5.0, 0.100, 0.007, 8e-3),
    Case(12.0, 16.0, 0.0060, 1.5e-7, 0.080, 0.120, 5.0, 5.0, 0.100, 0.020, 8e-3),
    Case(14.0, 20.0, 0.0100, 4.0e-7, 0.040, 0.060, 5.0, 6.0, 0.200, 0.030, 20e-3),
)


def netlist(case: Case) -> str:
    """Return the circuit of a case."""
    period, hold = case.period, case.period / 400.0
    begin_duty = (case.begin + case.load_current * case.resistance) / case.bus_voltage
    begin_sum = begin_duty + case.integral * (case.target - case.begin)
    first, second = (f"PULSE(0 1 {period - wait * hold} {hold / 50} {hold / 50} {hold} {period})" for wait in (3, 1.5))
    lines = [
        "* motor under sampled feedback",
        f"Cinertia e 0 {SCALE * case.inertia / case.emf_constant**2} ic={case.begin}",
        f"Bmotor 0 e I={SCALE}*(V(d)*{case.bus_voltage}-V(e))/{case.resistance}",
        f"Iload e 0 DC {SCALE * case.later_current}",
        f"Vfirst one 0 {first}",
        f"Vsecond two 0 {second}",
        f"Bwant w 0 V=min(max({case.proportional}*({case.target}-V(h))+V(m),0),1)",
        f"Swant w d one 0 near\nCwant d 0 1e-9 ic={begin_duty}",
        f"Bold y 0 V=V(m)\nSold y s one 0 near\nCold s 0 1e-9 ic={begin_duty}",
        f"Ssample e h two 0 near\nChold h 0 1e-9 ic={case.begin}",
        f"Bsum x 0 V=V(s)+{case.integral}*({case.target}-V(e))",
        f"Ssum x m two 0 near\nCsum m 0 1e-9 ic={begin_sum}",
        ".model near SW(VT=0.5 VH=0 RON=1e3 ROFF=1e14)",
        ".options reltol=1e-5 abstol=1e-15 vntol=1e-8 gmin=1e-18 method=gear",
        f".tran {period / 200} {LOOKS * period} 0 {period / 800} uic",
        *(f".meas tran e{look} FIND v(e) AT={look * period}" for look in kept_looks()),
        ".end",
    ]
    return "\n".join(lines) + "\n"


def kept_looks() -> range:
    """Return the looks at which the EMF is kept."""
    return range(EVERY, LOOKS + 1, EVERY)


def simulate(case: Case, program: str = "ngspice") -> list[float]:
    """Return the EMF that ngspice finds at the looks kept [V]."""
    with tempfile.TemporaryDirectory() as folder:
        circuit = Path(folder) / "case.cir"
        circuit.write_text(netlist(case), encoding="utf-8", newline="\n")
        done = subprocess.run([program, "-b", str(circuit)], capture_output=True, text=True, timeout=120, check=False)
    found = dict(line.replace(" ", "").split("=")[:2] for line in done.stdout.splitlines() if line.startswith("e") and "=" in line)
    try:
        return [float(found[f"e{look}"]) for look in kept_looks()]
    except KeyError as missing:
        raise RuntimeError(f"{case}: no {missing}\n{done.stdout}\n{done.stderr}") from missing


def write_table() -> None:
    """Simulate every case and rewrite the table."""
    with TABLE.open("w", encoding="utf-8", newline="\n") as file:
        file.write(f"# loops.py version {GENERATOR_VERSION}, {program_version()}; SI units\n")
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow([*(field.name for field in fields(Case)), *(f"e{look}" for look in kept_looks())])
        for case in CASES:
            writer.writerow([*astuple(case), *(f"{value:.6e}" for value in simulate(case))])


def read_table() -> tuple[str, list[tuple[Case, list[float]]]]:
    """Return the table's first line, and each case with its EMFs."""
    with TABLE.open(encoding="utf-8", newline="") as file:
        head = file.readline().strip()
        entries = [
            (Case(**{field.name: float(line[field.name]) for field in fields(Case)}), [float(line[f"e{look}"]) for look in kept_looks()])
            for line in csv.DictReader(file)
        ]
    return head, entries


if __name__ == "__main__":
    write_table()
