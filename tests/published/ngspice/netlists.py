"""Circuits of a decoder's bridge and a motor chain for ngspice, and the table of what ngspice makes of them.

This file knows nothing of the package it helps to check: it imports none of it and holds no formula of it. The bridge is
built of switches and diodes; whether the current is continuous, stops or reverses is for the simulator to find.

How each idealisation is drawn:

- A bridge diode of constant drop is a diode with an emission coefficient so small that its own drop is a few
  millivolts, in series with a voltage source of the drop.
- ``coast``: the low switch of the far side stays closed, the high switch pulses, the near low diode freewheels.
- ``brake``: as coast, but the near low switch closes whenever the high one opens.
- ``open``: high and far low switch pulse together; the current returns through near low and far high diode.
- "No power is taken back" (coast, open): an ideal diode ahead of the high switch, and no diodes for the
  reverse direction.

Run as a script it simulates every row and rewrites the table beside it.
"""

from __future__ import annotations

import csv
import itertools
import math
import re
import subprocess
import tempfile
from dataclasses import asdict, dataclass, fields
from pathlib import Path

GENERATOR_VERSION = 2
TABLE = Path(__file__).with_name("pwm_table.csv")

# Cards of public simulator libraries (source opened): the fit for 1N4007 found in most, and 1N5817 to 1N5819.
CARDS = {
    "silicon": "IS=7.02767n N=1.80803 RS=0.0341512",
    "schottky": "IS=31.7u N=1.373 RS=0.051",
}
SETTLING_CONSTANTS = 9  # exp(-9) of the first guess's error is left when measuring begins
STEPS_A_PERIOD = 400
MEASURES = ("mean_current", "rms_current", "mean_abs_current", "peak_current", "bus_power", "string_power", "bypass_power")


@dataclass(frozen=True)
class Row:
    """One case; volts, ohms, henries, hertz. A bypass of zero means none."""

    off_mode: str
    duty: float
    bus_voltage: float
    emf: float
    winding_resistance: float
    dropper_resistance: float
    inductance: float
    frequency: float
    freewheel_drop: float
    diode_pairs: int
    diode: str
    bypass_resistance: float = 0.0


# duty, EMF, winding, dropper, inductance, frequency, pairs, diode: kinds of model motors from flat cans and old open
# frames to coreless and low-voltage ones (resistance and inductance ranges: common practice).
CHAINS = (
    (0.30, 2.0, 60.0, 0.0, 9e-3, 60.0, 0, ""),
    (0.55, 6.0, 16.0, 0.0, 5e-3, 100.0, 0, ""),
    (0.55, 5.0, 16.0, 22.0, 5e-3, 120.0, 0, ""),
    (0.20, 0.0, 12.0, 0.0, 4e-3, 100.0, 0, ""),
    (0.60, 5.0, 30.0, 15.0, 0.45e-3, 150.0, 0, ""),
    (0.45, 3.0, 40.0, 0.0, 10e-3, 1000.0, 0, ""),
    (0.80, 10.0, 20.0, 10.0, 6e-3, 2000.0, 0, ""),
    (0.40, 1.5, 5.0, 33.0, 0.05e-3, 16000.0, 0, ""),
    (0.70, 8.0, 16.0, 0.0, 5e-3, 20000.0, 0, ""),
    (0.60, 4.0, 16.0, 22.0, 5e-3, 20000.0, 0, ""),
    (0.35, 2.0, 30.0, 0.0, 0.45e-3, 40000.0, 0, ""),
    (0.90, 2.0, 8.0, 0.0, 0.3e-3, 40000.0, 0, ""),
    (0.30, 1.0, 60.0, 0.0, 9e-3, 60.0, 2, "silicon"),
    (0.50, 5.0, 16.0, 10.0, 5e-3, 100.0, 4, "silicon"),
    (0.15, 0.5, 30.0, 0.0, 0.45e-3, 100.0, 3, "silicon"),
    (0.70, 6.0, 20.0, 0.0, 6e-3, 1000.0, 1, "silicon"),
    (0.60, 4.0, 16.0, 0.0, 5e-3, 20000.0, 4, "silicon"),
    (0.50, 1.0, 16.0, 22.0, 5e-3, 20000.0, 2, "silicon"),
    (0.25, 1.0, 30.0, 0.0, 0.45e-3, 40000.0, 2, "silicon"),
    (0.40, 3.0, 12.0, 0.0, 4e-3, 120.0, 2, "schottky"),
    (0.55, 5.0, 30.0, 10.0, 2e-3, 20000.0, 3, "schottky"),
)


def rows() -> list[Row]:
    """Return every case of the table: each chain in each off mode, bus and drop alternating, and the odd ones."""
    supplies = itertools.cycle(((13.0, 0.7), (12.0, 0.9), (14.5, 0.4)))
    table = [
        Row(mode, duty, bus, emf, winding, dropper, inductance, frequency, drop, pairs, diode)
        for (duty, emf, winding, dropper, inductance, frequency, pairs, diode), (bus, drop)
        in zip(CHAINS, supplies, strict=False)
        for mode in ("coast", "brake", "open")
    ]
    return [
        *table,
        Row("coast", 1.0, 13.0, 7.0, 16.0, 10.0, 5e-3, 100.0, 0.7, 2, "silicon"),  # full on
        Row("coast", 0.5, 9.0, 9.5, 16.0, 0.0, 5e-3, 100.0, 0.7, 0, ""),  # driven above the bus
        Row("brake", 0.3, 9.0, 9.5, 16.0, 0.0, 5e-3, 100.0, 0.7, 2, "silicon"),  # braking through the string
        Row("brake", 0.12, 13.0, 1.2, 16.0, 10.0, 5e-3, 100.0, 0.7, 2, "silicon"),  # EMF about at the knee
        # a resistor across the string: usual, low, high, at a crawl and below the knee
        Row("coast", 0.45, 12.9, 4.0, 40.0, 0.0, 9e-3, 100.0, 0.7, 3, "silicon", 1000.0),
        Row("coast", 0.55, 12.9, 4.0, 16.0, 10.0, 5e-3, 20000.0, 0.7, 3, "silicon", 1000.0),
        Row("brake", 0.10, 13.0, 0.8, 16.0, 0.0, 5e-3, 100.0, 0.7, 3, "silicon", 1000.0),
        Row("brake", 0.50, 12.0, 3.0, 20.0, 0.0, 6e-3, 20000.0, 0.7, 4, "silicon", 220.0),
        Row("open", 0.35, 14.5, 2.0, 30.0, 0.0, 0.45e-3, 16000.0, 0.7, 2, "silicon", 470.0),
        Row("open", 0.60, 13.0, 5.0, 12.0, 0.0, 4e-3, 100.0, 0.9, 5, "silicon", 4700.0),
        Row("coast", 0.12, 13.0, 0.3, 20.0, 0.0, 6e-3, 120.0, 0.7, 4, "schottky", 330.0),
        Row("brake", 0.30, 9.0, 9.5, 16.0, 0.0, 5e-3, 100.0, 0.7, 2, "silicon", 1000.0),  # braking through string and bypass
    ]


def netlist(row: Row) -> str:
    """Return the circuit of a case, measured over one settled period."""
    period = 1.0 / row.frequency
    constant = row.inductance / (row.winding_resistance + row.dropper_resistance)
    settled = (math.ceil(SETTLING_CONSTANTS * constant / period) + 1) * period
    edge = period * 1e-5
    lines = [
        "* decoder bridge and motor chain",
        f"Vbus bus 0 DC {row.bus_voltage}",
        f"Vctl ctl 0 {_control(row.duty, period, edge)}",
        "Vone one 0 DC 1",
        *_bridge(row),
        f"Vmeter a m0 DC 0\nRchain m0 m1 {row.winding_resistance + row.dropper_resistance}",
        *_string(row),
        f"Lmotor s{row.diode_pairs} e {row.inductance} ic={_first_guess(row)}",
        f"Vemf e b DC {row.emf}",
        ".model near SW(VT=0.5 VH=0 RON=1e-4 ROFF=1e8)",
        ".model ideal D(IS=1e-6 N=0.005)",
        ".options reltol=1e-4 abstol=1e-10 method=gear temp=27 tnom=27",
        f".tran {period / STEPS_A_PERIOD} {settled + period} {settled - period} {period / STEPS_A_PERIOD} uic",
        *_measures(row, settled, settled + period),
        ".end",
    ]
    return "\n".join(lines) + "\n"


def _control(duty: float, period: float, edge: float) -> str:
    if duty >= 1.0:
        return "DC 1"
    return f"PULSE(0 1 0 {edge} {edge} {duty * period - edge} {period})"


def _bridge(row: Row) -> list[str]:
    far_switch = "Sfar b 0 ctl 0 near" if row.off_mode == "open" else "Rfar b 0 1e-4"
    low_diode = f"Vlow low 0 DC {-row.freewheel_drop}\nDlow low a ideal"
    if row.off_mode == "brake":
        return ["Shigh bus a ctl 0 near", "Slow a 0 one ctl near", far_switch]
    high_diode = f"Vhigh top bus DC {row.freewheel_drop}\nDhigh b top ideal" if row.off_mode == "open" else ""
    return ["Dblock bus hi ideal", "Shigh hi a ctl 0 near", far_switch, low_diode, high_diode]


def _string(row: Row) -> list[str]:
    lines = ["Vstring m1 s0 DC 0"]
    if row.diode_pairs:
        lines.append(f".model part D({CARDS[row.diode]})")
    for pair in range(row.diode_pairs):
        lines += [f"Df{pair} s{pair} s{pair + 1} part", f"Dr{pair} s{pair + 1} s{pair} part"]
    if row.bypass_resistance:
        lines.append(f"Rbypass s0 s{row.diode_pairs} {row.bypass_resistance}")
    return lines


def _first_guess(row: Row) -> float:
    """Return a current to start from [A], only to shorten the settling."""
    drive = row.duty * row.bus_voltage - row.emf - 0.7 * row.diode_pairs
    return max(drive, 0.0) / (row.winding_resistance + row.dropper_resistance)


def _measures(row: Row, begin: float, end: float) -> list[str]:
    span, across = f"from={begin} to={end}", f"(v(s0)-v(s{row.diode_pairs}))"
    conductance = 1.0 / row.bypass_resistance if row.bypass_resistance else 0.0
    return [
        f".meas tran mean_current AVG i(Vmeter) {span}",
        f".meas tran rms_current RMS i(Vmeter) {span}",
        f".meas tran mean_abs_current AVG par('abs(i(Vmeter))') {span}",
        f".meas tran peak_current MAX i(Vmeter) {span}",
        f".meas tran bus_power AVG par('-v(bus)*i(Vbus)') {span}",
        f".meas tran string_power AVG par('{across}*i(Vmeter)') {span}",
        f".meas tran bypass_power AVG par('{across}*{across}*{conductance}') {span}",
    ]


def simulate(row: Row, program: str = "ngspice") -> dict[str, float]:
    """Return what ngspice measures in a case [A, W]."""
    with tempfile.TemporaryDirectory() as folder:
        circuit = Path(folder) / "row.cir"
        circuit.write_text(netlist(row), encoding="utf-8", newline="\n")
        done = subprocess.run([program, "-b", str(circuit)], capture_output=True, text=True, timeout=120, check=False)
    found = dict(re.findall(r"^(\w+)\s*=\s*(\S+)", done.stdout, flags=re.MULTILINE))
    missing = [name for name in MEASURES if name not in found]
    if missing:
        raise RuntimeError(f"{row}: no {missing}\n{done.stdout}\n{done.stderr}")
    return {name: float(found[name]) for name in MEASURES}


def program_version(program: str = "ngspice") -> str:
    """Return the simulator's own name and number."""
    done = subprocess.run([program, "--version"], capture_output=True, text=True, check=True)
    return re.search(r"ngspice-\S+", done.stdout).group()  # type: ignore[union-attr]


def write_table() -> None:
    """Simulate every row and rewrite the table."""
    with TABLE.open("w", encoding="utf-8", newline="\n") as file:
        file.write(f"# netlists.py version {GENERATOR_VERSION}, {program_version()}; volts, ohms, henries, hertz\n")
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow([*(field.name for field in fields(Row)), *MEASURES])
        for row in rows():
            measured = simulate(row)
            writer.writerow([*asdict(row).values(), *(f"{measured[name]:.6e}" for name in MEASURES)])


def read_table() -> tuple[str, list[tuple[Row, dict[str, float]]]]:
    """Return the table's first line, and each case with what was measured."""
    with TABLE.open(encoding="utf-8", newline="") as file:
        head = file.readline().strip()
        entries = [(_row(line), {name: float(line[name]) for name in MEASURES}) for line in csv.DictReader(file)]
    return head, entries


def _row(line: dict[str, str]) -> Row:
    kinds = {"off_mode": str, "diode": str, "diode_pairs": int}
    return Row(**{field.name: kinds.get(field.name, float)(line[field.name]) for field in fields(Row)})


if __name__ == "__main__":
    write_table()
