"""The balance of volt-seconds against the closed form of the current, which goes the other way: from EMF to mean current."""

from __future__ import annotations

import numpy as np
import pytest

from buildsheets.physics.drive_period import off_phase_drop
from buildsheets.physics.pwm import mean_current, periodic_current
from buildsheets.physics.volt_seconds import steady_emf

BUS, DROP = 13.0, 0.7
DUTY = np.array([0.05, 0.2, 0.5, 0.8])[:, None]
EMF = np.array([0.3, 1.0, 3.0, 8.0, 12.5])


@pytest.mark.parametrize("mode", ["coast", "open"])
@pytest.mark.parametrize(("resistance", "inductance", "frequency"), [
    (20.0, 3e-3, 100.0), (20.0, 3e-3, 2e3), (5.0, 10e-3, 300.0), (60.0, 0.5e-3, 100.0), (40.0, 20e-3, 5e3),
])  # fmt: skip
def test_the_emf_behind_a_mean_current(mode, resistance, inductance, frequency):
    """In both regimes, losses and drops included; where hardly any current flows there is no telling.

    The usual steps come within a few hundredths, and a few more of Newton's to rounding.
    """
    duty, emf = (np.ravel(values) for values in np.broadcast_arrays(DUTY, EMF))
    current, _ = mean_current(duty, BUS, emf, resistance, inductance, frequency, mode, DROP)
    flows = current > 1e-3
    assert flows.sum() >= 5
    rows = [np.full(flows.sum(), value) for value in (BUS, float(off_phase_drop(mode, BUS, DROP)), resistance, inductance, frequency)]
    assert steady_emf(duty[flows], *rows, current[flows], one_way=True)[0] == pytest.approx(emf[flows], rel=0.03)
    found, share = steady_emf(duty[flows], *rows, current[flows], one_way=True, steps=6)
    assert found == pytest.approx(emf[flows], rel=1e-9)
    wave = periodic_current(duty[flows], BUS, emf[flows], resistance, inductance, frequency, mode, DROP)
    assert share == pytest.approx(wave.conduction_fraction, rel=1e-8)
