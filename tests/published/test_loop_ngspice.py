"""The sampled loop against a circuit simulator: inertia as a capacitor, the controller as sample-and-hold stages.

Source: ngspice 39 (S, run for this project). The table is stored; where ngspice is at hand all cases are run again.
"""

from __future__ import annotations

import os
import shutil

import numpy as np
import pytest
from ngspice import loops

from buildsheets.physics.loop import Controller, Plant, PulsedChain, held_response

HEAD, TABLE = loops.read_table()
PROMISE = 0.005
"""Of the EMF; the stored table is held to the same, being simulated with finite steps [1]."""


def answered(case: loops.Case) -> np.ndarray:
    """Return our EMF at the looks kept; the table of currents is exact in brake, up to its linear cells."""
    chain = PulsedChain(case.bus_voltage, case.resistance, 1e-6, 20e3, "brake", 0.0)
    table = chain.table()
    torque = case.later_current * case.emf_constant
    plant = Plant(table, [0.0, case.bus_voltage], case.emf_constant, case.inertia, torque, torque)
    duty = table.duty_for(case.load_current, case.begin)
    setting = Controller(case.proportional, case.integral, case.period)
    return held_response(plant, setting, case.target, loops.LOOKS, case.begin, duty)[loops.EVERY :: loops.EVERY]


def test_table_covers_what_it_must() -> None:
    assert [case for case, _ in TABLE] == list(loops.CASES)
    assert f"version {loops.GENERATOR_VERSION}, ngspice-" in HEAD
    reached = [max(values) for _, values in TABLE]
    assert any(top > 1.05 * case.target for (case, _), top in zip(TABLE, reached, strict=True))  # runs past it
    assert any(top < 0.9 * case.target for (case, _), top in zip(TABLE, reached, strict=True))  # cannot reach it
    assert any(case.later_current > case.load_current and case.target == case.begin for case, _ in TABLE)


@pytest.mark.parametrize(("case", "emf"), TABLE, ids=[str(i) for i in range(len(TABLE))])
def test_model_agrees_with_stored_table(case: loops.Case, emf: list[float]) -> None:
    assert answered(case) == pytest.approx(emf, rel=PROMISE)


@pytest.mark.ngspice
def test_live_simulator_agrees_with_model_and_table() -> None:
    if shutil.which("ngspice") is None:
        if os.environ.get("BUILDSHEETS_REQUIRE_TOOLS") == "1":
            pytest.fail("ngspice is required here and not installed")
        pytest.skip("ngspice is not installed")
    for case, stored in TABLE:
        live = loops.simulate(case)
        assert live == pytest.approx(stored, rel=PROMISE), case
        assert answered(case) == pytest.approx(live, rel=PROMISE), case
