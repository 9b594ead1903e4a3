"""The pulsed chain against a circuit simulator that is handed the bridge, not our algebra.

Source: ngspice 39 (S, run for this project). The table is stored; where ngspice is at hand all rows are run again.
"""

from __future__ import annotations

import os
import shutil
from dataclasses import replace

import numpy as np
import pytest
from ngspice import netlists

from buildsheets.physics.diodes import SCHOTTKY, SILICON, DiodeCard
from buildsheets.physics.pwm import Waveform, periodic_current

HEAD, TABLE = netlists.read_table()
# Leakage of the simulated switches and blocking diode, which the model does not have [A].
LEAKAGE = 5e-6
# What the model promises, linear chains and chains with diodes; and what the stored table is held to.
PROMISE, DIODE_PROMISE, STORED = 0.01, 0.03, 0.0025


def solved(row: netlists.Row) -> Waveform:
    return periodic_current(
        row.duty, row.bus_voltage, row.emf, row.winding_resistance + row.dropper_resistance, row.inductance,
        row.frequency, row.off_mode, row.freewheel_drop, row.diode_pairs,
        card_of(row),
    )


def card_of(row: netlists.Row) -> DiodeCard:
    """Return the row's diode; a resistor across n pairs is an n-th of it across each."""
    card = SCHOTTKY if row.diode == "schottky" else SILICON
    return replace(card, bypass=row.bypass_resistance / row.diode_pairs) if row.bypass_resistance else card


def compare(row: netlists.Row, measured: dict[str, float], share: float) -> None:
    ours = solved(row)
    for name in ("mean_current", "rms_current", "mean_abs_current", "peak_current"):
        assert float(getattr(ours, name)) == pytest.approx(measured[name], rel=share, abs=LEAKAGE), name
    leaked = LEAKAGE * row.bus_voltage
    assert float(ours.bus_power) == pytest.approx(measured["bus_power"], rel=share, abs=leaked)
    taken = float(ours.mean_diode_power + ours.mean_bypass_power)
    assert taken == pytest.approx(measured["string_power"], rel=share, abs=leaked)
    assert float(ours.mean_bypass_power) == pytest.approx(measured["bypass_power"], rel=share, abs=leaked)


def test_table_covers_what_it_must():
    rows = [row for row, _ in TABLE]
    assert len(rows) >= 48
    for mode in ("coast", "brake", "open"):
        ours = [row for row in rows if row.off_mode == mode]
        assert any(row.diode_pairs for row in ours)
        assert any(row.dropper_resistance for row in ours)
        assert any(row.bypass_resistance for row in ours)
        assert min(row.frequency for row in ours) <= 100.0
        assert max(row.frequency for row in ours) >= 40e3
        shares = np.array([float(solved(row).conduction_fraction) for row in ours])
        assert np.any(shares == 1.0)
        assert mode == "brake" or np.any(shares < 1.0)


def test_table_is_the_generators():
    assert [row for row, _ in TABLE] == netlists.rows()
    assert f"version {netlists.GENERATOR_VERSION}, ngspice-" in HEAD


@pytest.mark.parametrize(("row", "measured"), TABLE, ids=[f"{i}-{row.off_mode}" for i, (row, _) in enumerate(TABLE)])
def test_model_agrees_with_stored_table(row, measured):
    compare(row, measured, STORED)


@pytest.mark.ngspice
def test_live_simulator_agrees_with_model_and_table():
    if shutil.which("ngspice") is None:
        if os.environ.get("BUILDSHEETS_REQUIRE_TOOLS") == "1":
            pytest.fail("ngspice is required here and not installed")
        pytest.skip("ngspice is not installed")
    for row, stored in TABLE:
        live = netlists.simulate(row)
        share = DIODE_PROMISE if row.diode_pairs else PROMISE
        compare(row, live, share)
        for name, value in stored.items():
            assert live[name] == pytest.approx(value, rel=share, abs=10.0 * LEAKAGE), (row, name)
