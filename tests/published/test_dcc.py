"""DCC settings against the NMRA standards and published examples.

Basis: "source opened" means that the standard's text was read; "computed" that the number follows from its
formula by hand. Standards: NMRA S-9.2.2 and S-9.2.3 (2012); NEM 630 (1982).
"""

from __future__ import annotations

import numpy as np
import pytest

from buildsheets.physics import cvs


# NMRA S-9.2.2 CV17/18: address = (CV17 - 192) * 256 + CV18; source opened, pairs computed.
@pytest.mark.parametrize(
    ("address", "pair"),
    [
        (3, (192, 3)),
        (128, (192, 128)),
        (1234, (196, 210)),
        (4472, (209, 120)),
        (9999, (231, 15)),
        (10239, (231, 255)),
    ],
)
def test_long_address(address, pair):
    assert cvs.long_address_cvs(address) == pair
    assert cvs.long_address(*pair) == address


# NMRA S-9.2.2: CV17 is 192 to 231; source opened.
def test_long_address_out_of_range():
    with pytest.raises(ValueError, match="10239"):
        cvs.long_address_cvs(10240)
    for cv17 in (191, 232):
        with pytest.raises(ValueError, match="CV17"):
            cvs.long_address(cv17, 0)


# NMRA S-9.2.2 CV29 bits; source opened, sums computed.
def test_configuration_value():
    assert cvs.configuration_value(long_address=True, steps_28=True, speed_table=True) == 50


# NMRA S-9.2.2 CV29 = 6; source opened.
def test_configuration_terms():
    terms = cvs.configuration_terms(6)
    assert [weight for weight, _ in terms] == [0, 2, 4, 0, 0, 0, 0]
    meanings = {meaning for _, meaning in terms}
    assert {"28 or 128 steps", "other power source allowed", "short address", "normal direction"} <= meanings


# Published example of the CV3 formula (NMRA S-9.2.2: value x 0.896 / steps); source opened.
def test_momentum():
    assert cvs.momentum_step_time(2, 28) == pytest.approx(0.064, abs=1e-6)
    assert cvs.momentum_time(2) == pytest.approx(1.792, abs=1e-6)
    # the same formula at another setting, computed
    assert cvs.momentum_step_time(10, 126) == pytest.approx(0.0711, abs=5e-5)
    assert cvs.momentum_time(10) == pytest.approx(8.96, abs=1e-6)


# NMRA S-9.2.2 CV9: (131 + 4 m) 2^e microseconds; source opened, values computed.
@pytest.mark.parametrize(
    ("value", "microseconds", "hertz"),
    [(0, 131, 7634), (31, 255, 3922), (32, 262, 3817), (159, 4080, 245), (255, 32640, 30.6)],
)
def test_pwm_period(value, microseconds, hertz):
    assert cvs.pwm_period(value) == pytest.approx(microseconds * 1e-6)
    assert 1 / cvs.pwm_period(value) == pytest.approx(hertz, rel=2e-3)


# NMRA S-9.2.2 CV10, "low bits dropped"; source opened, the shift computed.
@pytest.mark.parametrize(("value", "of_28", "of_14"), [(8, 2, 1), (64, 16, 8), (100, 25, 12), (128, 32, 16)])
def test_feedback_cut_off(value, of_28, of_14):
    assert cvs.feedback_cut_off_step(value, 28) == of_28
    assert cvs.feedback_cut_off_step(value, 14) == of_14
    assert cvs.feedback_cut_off_step(value) == value


# NMRA S-9.2.2 CV2: 255 is the whole rectified supply; source opened, volts computed.
def test_vstart_volts():
    np.testing.assert_allclose(
        cvs.drive_volts([6, 64, 128, 255], 14.0), [0.329, 3.514, 7.027, 14.0], atol=5e-4
    )


# NMRA S-9.2.2 CV2, CV5, CV6 with the middle at step 14 (source opened) and straight lines (common practice).
def test_three_point_curve():
    levels = 255 * cvs.three_point_curve(10, 80, 200, steps=28)
    np.testing.assert_allclose(levels[[0, 6, 13, 20, 27]], [10, 42.31, 80, 140, 200], atol=0.005)


# The same without a middle value (CV6 = 0 is not used; source opened).
def test_straight_line():
    levels = 255 * cvs.three_point_curve(10, 0, 200, steps=28)
    np.testing.assert_allclose(levels[[1, 13, 27]], [17.04, 101.48, 200], atol=0.005)


# NMRA S-9.2.2 CV66 and CV95: n/128, 0 not implemented; source opened.
def test_trim():
    assert [cvs.trim_factor(value) for value in (64, 128, 192, 0)] == [0.5, 1.0, 1.5, 1.0]


# NMRA S-9.2.2 Table 1; source opened.
@pytest.mark.parametrize(
    ("number", "name", "lowest", "highest"),
    [
        (1, "Primary address", 0, 127),
        (2, "Vstart", 0, 255),
        (10, "EMF feedback cut-out", 1, 128),
        (17, "Extended address high", 192, 231),
        (55, "Maker specific", 0, 255),
        (94, "Speed table", 0, 255),
    ],
)
def test_standard_names(number, name, lowest, highest):
    row = cvs.standard_cv(number)
    assert (row.name, row.lowest, row.highest) == (name, lowest, highest)
