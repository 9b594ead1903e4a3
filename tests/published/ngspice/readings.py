"""Circuits of a feedback reading for ngspice: EMF, winding, dropper, diode string, bypass, measuring resistance.

This file knows nothing of the package it helps to check: it imports none of it and holds no formula of it. The diodes
are drawn one by one. Run as a script it simulates every case and rewrites the table beside it.
"""

from __future__ import annotations

import csv
import re
import subprocess
import tempfile
from dataclasses import astuple, dataclass, fields
from pathlib import Path

from ngspice.netlists import CARDS, program_version

GENERATOR_VERSION = 1
TABLE = Path(__file__).with_name("reading_table.csv")


@dataclass(frozen=True)
class Case:
    """One reading; volts, ohms. A bypass of zero means none."""

    emf: float
    winding_resistance: float
    dropper_resistance: float
    diode_pairs: int
    diode: str
    bypass_resistance: float
    measuring_resistance: float


# Chains of common practice: bare, a bank, and strings of one to five pairs with and without a bypass.
CHAINS = (
    (16.0, 0.0, 0, "", 0.0, 100e3),
    (12.0, 27.5, 0, "", 0.0, 22e3),
    (30.0, 0.0, 1, "silicon", 0.0, 100e3),
    (16.0, 0.0, 3, "silicon", 0.0, 100e3),
    (16.0, 10.0, 3, "silicon", 0.0, 1e6),
    (60.0, 0.0, 5, "silicon", 0.0, 10e3),
    (16.0, 0.0, 3, "silicon", 1000.0, 100e3),
    (16.0, 22.0, 5, "silicon", 4700.0, 22e3),
    (20.0, 0.0, 2, "schottky", 0.0, 100e3),
    (20.0, 0.0, 4, "schottky", 1000.0, 47e3),
)
EMFS = (0.05, 0.4, 1.5, 6.0)


def cases() -> list[Case]:
    """Return every chain at every EMF."""
    return [Case(emf, *chain) for chain in CHAINS for emf in EMFS]


def netlist(case: Case) -> str:
    """Return the circuit of a case at rest."""
    last = f"s{case.diode_pairs}"
    lines = [
        "* feedback reading",
        f"Vemf e 0 DC {case.emf}",
        f"Rchain e s0 {case.winding_resistance + case.dropper_resistance}",
        f"Rmeasure {last} 0 {case.measuring_resistance}",
    ]
    if case.diode_pairs:
        lines.append(f".model part D({CARDS[case.diode]})")
    for pair in range(case.diode_pairs):
        lines += [f"Df{pair} s{pair} s{pair + 1} part", f"Dr{pair} s{pair + 1} s{pair} part"]
    if case.bypass_resistance:
        lines.append(f"Rbypass s0 {last} {case.bypass_resistance}")
    options = ".options reltol=1e-6 abstol=1e-15 vntol=1e-9 gmin=1e-15 temp=27 tnom=27"
    return "\n".join([*lines, options, ".op", f".print op v({last})", ".end"]) + "\n"


def simulate(case: Case, program: str = "ngspice") -> float:
    """Return the reading that ngspice finds [V]."""
    with tempfile.TemporaryDirectory() as folder:
        circuit = Path(folder) / "case.cir"
        circuit.write_text(netlist(case), encoding="utf-8", newline="\n")
        done = subprocess.run([program, "-b", str(circuit)], capture_output=True, text=True, timeout=60, check=False)
    found = re.search(rf"^\s*v?\(?s{case.diode_pairs}\)?\s+=?\s*([-+.\deE]+)\s*$", done.stdout, flags=re.MULTILINE)
    if found is None:
        raise RuntimeError(f"{case}: no reading\n{done.stdout}\n{done.stderr}")
    return float(found.group(1))


def write_table() -> None:
    """Simulate every case and rewrite the table."""
    with TABLE.open("w", encoding="utf-8", newline="\n") as file:
        file.write(f"# readings.py version {GENERATOR_VERSION}, {program_version()}; volts, ohms\n")
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow([*(field.name for field in fields(Case)), "reading"])
        for case in cases():
            writer.writerow([*astuple(case), f"{simulate(case):.6e}"])


def read_table() -> tuple[str, list[tuple[Case, float]]]:
    """Return the table's first line, and each case with its reading."""
    with TABLE.open(encoding="utf-8", newline="") as file:
        head = file.readline().strip()
        entries = [(_case(line), float(line["reading"])) for line in csv.DictReader(file)]
    return head, entries


def _case(line: dict[str, str]) -> Case:
    kinds = {"diode": str, "diode_pairs": int}
    return Case(**{field.name: kinds.get(field.name, float)(line[field.name]) for field in fields(Case)})


if __name__ == "__main__":
    write_table()
