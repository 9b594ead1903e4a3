"""What feedback reads, against a circuit simulator that is handed the parts, not our algebra.

Source: ngspice 39 (S, run for this project). The table is stored; where ngspice is at hand all cases are run again.
"""

from __future__ import annotations

import math
import os
import shutil

import pytest
from ngspice import readings

from buildsheets.physics.diodes import SCHOTTKY, SILICON
from buildsheets.physics.feedback import sensed_voltage

HEAD, TABLE = readings.read_table()
PROMISE, STORED = 0.03, 0.0005
RESOLUTION = 1e-7  # [V]; the stored readings reach down to some tens of microvolts


def read(case: readings.Case) -> float:
    return float(sensed_voltage(
        case.emf, case.winding_resistance + case.dropper_resistance, case.measuring_resistance, case.diode_pairs,
        SCHOTTKY if case.diode == "schottky" else SILICON, case.bypass_resistance or math.inf,
    ))


def test_table_covers_what_it_must() -> None:
    cases = [case for case, _ in TABLE]
    assert cases == readings.cases()
    assert f"version {readings.GENERATOR_VERSION}, ngspice-" in HEAD
    assert len(cases) >= 20
    assert any(case.dropper_resistance and not case.diode_pairs for case in cases)
    assert any(case.diode_pairs and case.bypass_resistance for case in cases)
    assert any(case.diode_pairs and not case.bypass_resistance for case in cases)


@pytest.mark.parametrize(("case", "reading"), TABLE, ids=[str(i) for i in range(len(TABLE))])
def test_model_agrees_with_stored_table(case: readings.Case, reading: float) -> None:
    assert read(case) == pytest.approx(reading, rel=STORED, abs=RESOLUTION)


@pytest.mark.ngspice
def test_live_simulator_agrees_with_model_and_table() -> None:
    if shutil.which("ngspice") is None:
        if os.environ.get("BUILDSHEETS_REQUIRE_TOOLS") == "1":
            pytest.fail("ngspice is required here and not installed")
        pytest.skip("ngspice is not installed")
    for case, stored in TABLE:
        live = readings.simulate(case)
        assert live == pytest.approx(stored, rel=PROMISE, abs=RESOLUTION), case
        assert read(case) == pytest.approx(live, rel=PROMISE, abs=RESOLUTION), case
