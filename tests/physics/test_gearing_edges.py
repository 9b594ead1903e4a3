"""Gears by the statics of an inclined plane and by common dimensions; feedback's limits; pinions' practices."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from buildsheets.physics import diodes, feedback, gearing, pinion
from buildsheets.physics.diodes import SCHOTTKY, SILICON
from buildsheets.physics.gearing import SpurStage, WormStage


def test_a_worm_is_an_inclined_plane():
    """Square thread (pressure angle 0): efficiency tan λ / tan(λ + ρ), the other way tan(λ - ρ) / tan λ (any book on screws)."""
    lead = float(gearing.worm_lead_angle(2, 0.5e-3, 6e-3))
    assert lead == pytest.approx(math.atan(2 * 0.5 / 6))
    rho = math.atan(0.1)
    worm = WormStage(starts=2, driven=30, lead_angle=lead, friction=0.1, pressure_angle=0.0)
    assert worm.friction_angle == pytest.approx(rho)
    assert worm.forward_efficiency == pytest.approx(math.tan(lead) / math.tan(lead + rho))
    assert worm.back_drive_efficiency == pytest.approx(math.tan(lead - rho) / math.tan(lead))
    assert worm.ratio == 15.0
    assert gearing.worm_lead(2, 0.5e-3) == pytest.approx(2 * math.pi * 0.5e-3)
    assert gearing.worm_centre_distance(30, 0.5e-3, 6e-3) == pytest.approx(10.5e-3)


def test_sloping_flanks_press_harder():
    """The normal force grows by 1 / cos α: ρ = atan(μ / cos 20°) unless said otherwise."""
    assert gearing.friction_angle(0.1) == pytest.approx(math.atan(0.1 / math.cos(math.radians(20))))
    assert WormStage(starts=1, driven=30).friction_angle == pytest.approx(math.atan(0.1 / math.cos(math.radians(20))))


def test_a_measured_efficiency_of_a_worm_gives_its_friction_back():
    lead = math.radians(8)
    angle = float(gearing.friction_angle_from_efficiency(lead, 0.45))
    assert angle == pytest.approx(brentq(lambda rho: math.tan(lead) / math.tan(lead + rho) - 0.45, 1e-6, 1.0))
    stage = WormStage(starts=2, driven=20, lead_angle=lead, efficiency=0.45)
    assert stage.back_drive_efficiency == pytest.approx(math.tan(lead - angle) / math.tan(lead))


def test_usual_worms_lie_in_the_bands_of_the_trade():
    """One start 0.25 to 0.45, two starts 0.45 to 0.60; a mesh of fine spur wheels 0.90 to 0.95 (common practice)."""
    assert 0.25 <= WormStage(starts=1, driven=30).forward_efficiency <= 0.45
    assert 0.45 <= WormStage(starts=2, driven=30).forward_efficiency <= 0.605
    assert 0.90 <= SpurStage(driver=10, driven=30).forward_efficiency <= 0.95
    assert 0.08 <= gearing.WORM_FRICTION <= 0.15
    assert 10.0 <= gearing.WORM_DIAMETER_QUOTIENT <= 12.0
    assert gearing.default_lead_angle(3) == pytest.approx(math.atan(3 / gearing.WORM_DIAMETER_QUOTIENT))


def test_trains_multiply():
    """0.9 a mesh: a stage with two idlers has three meshes, one without one."""
    stages = [SpurStage(driver=10, driven=30, idlers=2), SpurStage(driver=12, driven=18)]
    assert [stage.meshes for stage in stages] == [3, 1]
    assert [stage.ratio for stage in stages] == [3.0, 1.5]
    assert gearing.train_efficiency(stages) == pytest.approx(0.9**4)
    assert gearing.train_back_drive_efficiency(stages) == pytest.approx(0.9**4)
    locked = WormStage(starts=1, driven=30)
    own = locked.back_drive_efficiency
    assert own < 0
    assert gearing.train_back_drive_efficiency([locked, stages[1]]) == pytest.approx(own * 0.9)
    assert gearing.train_back_drive_efficiency([locked, locked, locked]) == pytest.approx(-abs(own) ** 3)


def test_a_train_that_loses_half_is_at_the_edge_of_locking():
    assert gearing.back_drive_from_efficiency([0.5, 0.8, 1.0]) == pytest.approx([0.0, 0.75, 1.0])
    assert gearing.module_from_diametral_pitch([64.0, 25.4]) == pytest.approx([0.396875e-3, 1e-3])


@pytest.mark.parametrize("build", [
    lambda: SpurStage(driver=1, driven=1), lambda: WormStage(starts=1, driven=1, efficiency=1.0), lambda: SpurStage(driver=1, driven=9, idlers=0),
])  # fmt: skip
def test_smallest_stages_are_stages(build):
    assert build().ratio > 0


# ------------------------------------------------------------------------------------------ diodes and what a decoder reads


@pytest.mark.parametrize(("card", "current", "volts"), [(SILICON, 1.0, 0.91), (SILICON, 0.1, 0.77), (SCHOTTKY, 1.0, 0.42), (SCHOTTKY, 0.1, 0.29)])
def test_diodes_drop_what_their_data_sheets_print(card, current, volts):
    """1N4007 and 1N5818 at 25 °C, typical curves read off to a few hundredths (from memory)."""
    assert diodes.diode_voltage(current, card) == pytest.approx(volts, abs=0.06)
    assert diodes.pair_voltage(-current, card) == pytest.approx(-diodes.diode_voltage(current, card), abs=1e-3)


def test_the_diode_equation_put_back():
    """I = IS (exp((V - I RS) / N Vt) - 1), Vt = k T / q at 300.15 K = 25.865 mV."""
    assert pytest.approx(0.0258649, rel=1e-5) == diodes.THERMAL_VOLTAGE
    for current in (0.0, 1e-9, 1e-3, 2.0):
        inner = (diodes.diode_voltage(current) - current * SILICON.series_resistance) / SILICON.emission / 0.025864926
        assert SILICON.saturation_current * math.expm1(inner) == pytest.approx(current, rel=1e-4, abs=1e-15)
    with pytest.raises(ValueError, match="negative"):
        diodes.diode_voltage([0.1, -1e-9])


@pytest.mark.parametrize("current", [-0.3, -1e-6, 0.0, 1e-6, 1e-3, 0.3])
def test_a_bypassed_pair_shares_the_current(current):
    """What the pair takes at that voltage and V / R add up to the current; the pair alone by brentq on its own curve."""
    card = replace(SILICON, bypass=100.0)
    volts = float(diodes.pair_voltage(current, card))
    pair = brentq(lambda i: float(diodes.pair_voltage(i, SILICON)) - volts, -1.0, 1.0, xtol=1e-16)
    assert pair + volts / 100.0 == pytest.approx(current, rel=1e-6, abs=1e-12)


def test_a_reading_by_the_loop_of_ohm_and_shockley():
    """E = I (r + Rm) + U with U across string and bypass, solved by brentq for the current; the reading is I Rm."""
    for emf, pairs, bypass in ((3.0, 3, np.inf), (3.0, 3, 1000.0), (0.4, 1, 5000.0), (12.0, 5, 200.0)):

        def excess(volts: float, emf: float = emf, pairs: int = pairs, bypass: float = bypass) -> float:
            string = brentq(lambda i: float(pairs * diodes.pair_voltage(i)) - volts, 0.0, 500.0, xtol=1e-18)
            return emf - (string + volts / bypass) * (50.0 + 100e3) - volts

        volts = brentq(excess, 0.0, emf, xtol=1e-14)
        expected = (emf - volts) * 100e3 / (100e3 + 50.0)
        found = feedback.sensed_voltage(emf, 50.0, 100e3, pairs, SILICON, bypass)
        assert found == pytest.approx(expected, rel=1e-5)
        assert feedback.emf_behind(found, 50.0, 100e3, pairs, SILICON, bypass) == pytest.approx(emf, rel=1e-9)


def test_at_zero_the_share_is_the_limit_of_ever_smaller_volts():
    """A pair for small volts is a resistor of N Vt / 2 IS: a divider then (computed)."""
    small = SILICON.emission * 0.025864926 / (2 * SILICON.saturation_current) + SILICON.series_resistance
    for bypass in (np.inf, 1e6):
        string = 2 * small if bypass == np.inf else 1 / (1 / (2 * small) + 1 / bypass)
        assert feedback.reading_share(0.0, 50.0, 100e3, 2, SILICON, bypass) == pytest.approx(100e3 / (100e3 + 50.0 + string), rel=1e-6)


def test_without_diodes_a_reading_is_a_divider_both_ways():
    assert feedback.emf_behind(5.0, 100.0, 1e3) == pytest.approx(5.5)
    assert feedback.sensed_voltage(-5.5, 100.0, 1e3) == pytest.approx(-5.0)


@pytest.mark.parametrize("wrong", [
    {"series_resistance": -1e-9}, {"measuring_resistance": 0.0}, {"bypass_resistance": 0.0, "diode_pairs": 1}, {"diode_pairs": -1},
    {"series_resistance": [1.0, -1.0]}, {"measuring_resistance": [1.0, 0.0]},
])  # fmt: skip
def test_each_impossible_part_is_refused_by_both(wrong):
    given = {"series_resistance": 10.0} | wrong
    for function in (feedback.reading_share, feedback.emf_behind):
        with pytest.raises(ValueError, match="must be above zero"):
            function(1.0, **given)
    assert feedback.reading_share(1.0, 0.0) == 1.0  # nothing in series is possible
    assert feedback.emf_behind(0.0, 0.0) == 0.0


def test_steps_of_seeing_and_of_saturation_at_their_edges():
    assert feedback.visible_from_step([0.5, 0.5]) == 1
    assert feedback.visible_from_step([0.6, 0.4]) is None
    assert feedback.visible_from_step([0.4, 0.5]) == 2
    assert feedback.saturation_step([1.0, 2.0], 1.0) == 2
    assert feedback.saturation_step([1.5], 1.0) == 1
    # five time constants leave under one per cent
    assert 0.005 < math.exp(-feedback.DECAY_CONSTANTS) < 0.01


def test_parts_of_a_decoders_input_are_those_of_practice():
    """A divider of some ten to some hundred kilohm; a bypass of about one (common practice)."""
    assert 10e3 <= feedback.MEASURING_RESISTANCE <= 500e3
    assert 330.0 <= feedback.BYPASS_RESISTANCE <= 3300.0


# ------------------------------------------------------------------------------------------ pinions


@pytest.mark.parametrize(("teeth", "shifts"), [(8, (0.0, 6 / 17, 9 / 17)), (14, (0.0, 0.0, 3 / 17)), (17, (0.0, 0.0, 0.0)), (20, (0.0, 0.0, 0.0))])
def test_shifts_of_the_usual_practices(teeth, shifts):
    """x = (14 - z)/17 just tolerates and (17 - z)/17 just avoids undercut at 20° (machine-design books, from memory)."""
    assert [pinion.practice_shift(teeth, practice) for practice in pinion.SHIFT_PRACTICES] == pytest.approx(list(shifts))


@pytest.mark.parametrize(("ratios", "level"), [
    ((0.7, 0.99), "stop"), ((0.7, 1.0), "caution"), ((1.0, 1.5), "caution"), ((1.19, 1.5), "caution"), ((1.2, 1.5), "ok"),
])  # fmt: skip
def test_level_by_lowest_and_highest_contact_ratio(ratios, level):
    swap = pinion.swapped_pinion(10, 12, 30, 0.5e-3)
    found = replace(swap, mesh=replace(swap.mesh, contact_ratio=np.array(ratios)))
    assert found.span == ratios
    assert found.level == level


@pytest.mark.parametrize(("jams", "level"), [((True, True), "stop"), ((True, False), "caution"), ((False, False), "ok")])
def test_level_of_interference(jams, level):
    swap = pinion.swapped_pinion(10, 12, 30, 0.5e-3)
    assert replace(swap, mesh=replace(swap.mesh, interference=np.array(jams))).interference_level == level


def test_one_maker_cuts_alike_and_a_given_shift_leaves_one_assumption():
    swap = pinion.swapped_pinion(10, 12, 30, 0.5e-3)
    assert [bool(same) for same in swap.same_maker] == [old == new for old, new in zip(swap.old_practice, swap.new_practice, strict=True)]
    assert pinion.swapped_pinion(10, 12, 30, 0.5e-3, new_shift=0.2).same_maker.all()
    assert pinion.swapped_pinion(10, 12, 30, 0.5e-3, centre_distance=10e-3).same_maker.all()
