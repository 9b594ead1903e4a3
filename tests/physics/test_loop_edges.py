"""The averaged motor and its controller on a linear table that can be worked by hand, and what is said of made-up courses."""

from __future__ import annotations

import math

import numpy as np
import pytest

from buildsheets.physics import loop
from buildsheets.physics.diodes import SILICON
from buildsheets.physics.loop import Controller, CurrentTable, Lag, OpenLoop, Plant, PulsedChain

BUS, R, K, INERTIA = 12.0, 24.0, 0.01, 4e-7
TAU = INERTIA * R / K**2  # 96 ms, the textbook's J R / K²


def linear_table(count: int = 5) -> CurrentTable:
    """I = (d V - E) / R, what braked fast pulses give."""
    duty, emf = np.linspace(0.0, 1.0, count)[:, None], np.linspace(0.0, BUS, count)
    return CurrentTable(BUS, ((duty * BUS - emf) / R).tolist(), (2.0 * duty[:, 0] * BUS / R).tolist())


def plant(running: float = 0.1, breakaway: float = 0.3) -> Plant:
    return Plant(linear_table(), [0.0, 2.0, 6.0, 9.0, 12.0], K, INERTIA, K * running, K * breakaway)


@pytest.mark.parametrize(("duty", "emf"), [(0.0, 0.0), (0.3, 1.0), (0.5, 6.0), (0.77, 11.9), (1.0, 12.0), (1.0, 15.0), (0.2, -1.0)])
def test_a_table_of_a_plane_is_that_plane_everywhere(duty, emf):
    """Between its points and beyond them; the slope with EMF is -1/R."""
    current, slope = linear_table().at(duty, emf)
    assert current == pytest.approx((duty * BUS - emf) / R)
    assert slope == pytest.approx(-1.0 / R)
    assert linear_table().peak(duty) == pytest.approx(2.0 * duty * BUS / R)


def test_a_table_follows_its_own_points_where_it_bends():
    table = CurrentTable(8.0, [[0.0, 0.0, 0.0], [4.0, 1.0, 0.0], [8.0, 6.0, 2.0]], [0.0, 4.0, 9.0])
    # on-time 0.75 is half way between rows two and three, 6 V between columns two and three: (1 + 0 + 6 + 2) / 4
    assert table.at(0.75, 6.0) == pytest.approx((2.25, (1.0 - 3.5) / 4.0))
    assert table.peak(0.75) == pytest.approx(6.5)
    assert table.duty_for(2.25, 6.0) == pytest.approx(0.75)
    assert table.duty_for(4.0, 6.0) == 1.0
    assert table.duty_for(1.0, 4.0) == pytest.approx(0.5)


@pytest.mark.parametrize("mode", ["brake", "coast"])
@pytest.mark.parametrize(("pairs", "count"), [(0, 33), (2, 17)])
def test_table_of_a_chain_holds_what_the_solver_gives_at_its_points(mode, pairs, count):
    of = PulsedChain(13.0, 40.0, 6e-3, 20e3, mode, 0.7, pairs, SILICON)
    table = of.table()
    assert (len(table.mean), len(table.mean[0]), len(table.standing_peak)) == (count, count, count)
    assert table.top == 13.0
    exact, slope = loop.mean_current(0.5, 13.0, 6.5, 40.0, 6e-3, 20e3, mode, 0.7, pairs)
    assert table.at(0.5, 6.5)[0] == pytest.approx(float(exact), abs=1e-9)
    assert of.slopes(0.5, 3.0)[1] == pytest.approx(float(loop.mean_current(0.5, 13.0, 3.0, 40.0, 6e-3, 20e3, mode, 0.7, pairs)[1]))
    assert slope < 0.0


def test_slopes_of_a_braked_chain_by_hand():
    """I = (d V - E) / R at every on-time, the two ends as well, where one side has no room."""
    of = PulsedChain(13.0, 40.0, 6e-3, 20e3, "brake", 0.7)
    for duty in (0.0, 0.4, 1.0):
        assert of.slopes(duty, 3.0) == pytest.approx((13.0 / 40.0, -1.0 / 40.0), rel=1e-6)


def test_lag_by_hand():
    """g = -(∂I/∂d) / (∂I/∂E), τ = -J / (K² ∂I/∂E); after one τ e-folds to 1/e."""
    found = loop.lag(INERTIA, K, BUS / R, -1.0 / R)
    assert (found.gain, found.time_constant) == pytest.approx((BUS, TAU))
    keeps, gives = found.sampled(TAU)
    assert (keeps, gives) == pytest.approx((math.exp(-1.0), BUS * (1.0 - math.exp(-1.0))))


@pytest.mark.parametrize("time", [1e-3, 0.02, 0.096, 0.7])
def test_a_running_motor_nears_its_end_by_the_exponential(time):
    """E∞ = d V - R I_need, E = E∞ + (E0 - E∞) exp(-t / τ): the step is exact on a plane, however long."""
    of = plant()
    end = 0.5 * BUS - R * 0.1
    for start in (1.0, 10.0):
        assert of.advance(start, 0.5, time) == pytest.approx(end + (start - end) * math.exp(-time / TAU), rel=1e-9)
    assert loop.steady_emf(of, 0.5) == pytest.approx(end, rel=1e-9)
    assert of.need == pytest.approx(0.1)


def test_a_motor_stands_where_pulses_or_mean_are_too_weak_and_stops_at_nothing():
    """Breakaway 0.3 A of peak (twice the mean here), running 0.1 A: on-time 0.2 gives a mean of 0.1, 0.3 a peak of 0.3."""
    of = plant()
    assert of.advance(0.0, 0.19, 0.1) == 0.0
    assert of.advance(0.0, 0.29, 0.1) == 0.0  # the mean would do, the peak does not
    assert of.advance(0.0, 0.31, 0.1) > 0.0
    assert of.advance(0.5, 0.0, 1.0) == 0.0  # rolls out, never backwards
    assert loop.steady_emf(of, 0.2) == 0.0
    assert loop.steady_emf(of, 0.21) == pytest.approx(0.12, rel=1e-6)
    heavy = Plant(linear_table(), [0.0, BUS], K, INERTIA, K * 0.2, K * 0.0)
    assert heavy.advance(0.0, 0.3, 0.1) == 0.0  # the peak would do, the mean does not


def test_what_the_decoder_reads_follows_its_points():
    of = plant()
    assert [of.reading(emf) for emf in (0.0, 1.5, 3.0, 4.5, 12.0)] == pytest.approx([0.0, 1.0, 2.0, 4.0, 12.0])


def test_parts_grow_with_time_and_end_at_eight(monkeypatch):
    """Four parts a time constant: one for a short look, two for 0.3 τ, never more than `MOST_PARTS`."""
    seen = []
    at = CurrentTable.at
    monkeypatch.setattr(CurrentTable, "at", lambda self, duty, emf: (seen.append(emf), at(self, duty, emf))[1])
    for time, parts in ((0.2 * TAU, 1), (0.3 * TAU, 2), (100 * TAU, 8)):
        seen.clear()
        plant().advance(3.0, 0.8, time)
        assert len(seen) == parts


def test_two_looks_by_hand():
    """d = P e + I Σ e takes effect one look later. Reading equal to EMF; P 0.05, I 0.02, target 6 V, from 2 V and on-time 0.3."""
    of = Plant(linear_table(), [0.0, BUS], K, INERTIA, K * 0.1, K * 0.3)
    controller, period = Controller(0.05, 0.02, 0.01), 0.01
    keeps = math.exp(-period / TAU)

    def after(emf: float, duty: float) -> float:
        end = duty * BUS - R * 0.1
        return end + (emf - end) * keeps

    one = after(2.0, 0.3)
    total = 0.3 + 0.02 * 4.0
    two = after(one, 0.05 * 4.0 + total)
    total += 0.02 * (6.0 - one)
    three = after(two, 0.05 * (6.0 - one) + total)
    assert loop.held_response(of, controller, 6.0, 3, 2.0, 0.3) == pytest.approx([2.0, one, two, three])
    assert loop.free_response(of, 0.3, period, 2, 2.0) == pytest.approx([2.0, one, after(one, 0.3)])


def by_hand(emf: float, duties: list[float]) -> list[float]:
    """EMF at each look, 10 ms apart, under given on-times."""
    course = [emf]
    for duty in duties:
        end = duty * BUS - R * 0.1
        course.append(end + (course[-1] - end) * math.exp(-0.01 / TAU))
    return course


@pytest.mark.parametrize("winds_up", [True, False])
def test_the_sum_at_the_upper_limit(winds_up):
    """Integral of 4 from 9 V at rest, target 9.05 V: two looks ask for more than all, the third is above the target.

    With winding up the sum has grown by 0.2 twice and holds the on-time at 1; without, it falls at once by 4 e.
    """
    found = loop.held_response(plant(), Controller(0.0, 4.0, 0.01, winds_up), 9.05, 4, 9.0, 0.95)
    early = by_hand(9.0, [0.95, 1.0])
    past = 4.0 * (early[2] - 9.05)
    assert 0.0 < past < 0.35
    assert found == pytest.approx(by_hand(9.0, [0.95, 1.0, 1.0, 1.0 if winds_up else 0.95 - past]))


@pytest.mark.parametrize("winds_up", [True, False])
def test_the_sum_at_the_lower_limit(winds_up):
    """Integral of 3 from 0.6 V at rest, target 0.5 V: two looks ask for less than nothing, the third is below the target."""
    reads_all = Plant(linear_table(), [0.0, BUS], K, INERTIA, K * 0.1, K * 0.3)
    found = loop.held_response(reads_all, Controller(0.0, 3.0, 0.01, winds_up), 0.5, 4, 0.6, 0.25)
    early = by_hand(0.6, [0.25, 0.0])
    missing = 3.0 * (0.5 - early[2])
    assert missing > 0.0
    assert 0.6 - 0.25 < missing < 0.75
    wanted = 0.25 - 0.6 + missing if winds_up else 0.25 + missing
    assert found == pytest.approx(by_hand(0.6, [0.25, 0.0, 0.0, wanted]))


def test_courses_begin_at_rest_unless_told():
    assert loop.free_response(plant(), 0.5, 0.01, 1)[0] == 0.0
    assert loop.held_response(plant(), Controller(0.1, 0.0, 0.01), 5.0, 1) == pytest.approx([0.0, 0.0])  # the first on-time is none


def test_only_the_integral_is_scaled():
    scaled = Controller(0.1, 0.1, 0.01, False).scaled(0.5)
    assert (scaled.proportional, scaled.integral, scaled.period, scaled.winds_up) == (0.1, 0.05, 0.01, False)


def test_with_and_without_winding_up_both_end_at_all_there_is():
    for winds_up in (True, False):
        course = loop.held_response(plant(), Controller(0.02, 0.05, 0.01, winds_up), 12.0, 400, 9.0, 0.95)
        assert course[-1] == pytest.approx(BUS - R * 0.1, rel=1e-4)


def test_the_setting_that_suits_by_hand():
    """z0 = a and k = b (P + I) = 1/4; the closed loop's polynomial then has (z - 1/2)² and (z - a)."""
    motor, period = Lag(10.0, 0.05), 0.01
    keeps = math.exp(-0.2)
    found = loop.setting_that_suits(motor, period)
    assert found.proportional / (found.proportional + found.integral) == pytest.approx(keeps)
    assert (found.proportional + found.integral) * 10.0 * (1 - keeps) == pytest.approx(0.25)
    of = loop.open_loop(motor, found)
    assert of == OpenLoop(pytest.approx(0.25), pytest.approx(keeps), pytest.approx(keeps))
    assert of.closed_polynomial() == pytest.approx(np.polymul([1.0, -1.0, 0.25], [1.0, -keeps]))
    assert found.period == period
    assert found.winds_up


def test_margins_of_the_setting_that_suits_by_hand():
    """L = k / (z (z - 1)) on the circle: |L| = 1 at 2 sin(φ/2) = k; its phase there is -(φ + π/2 + φ/2)."""
    of = OpenLoop(0.25, 0.8, 0.8)
    angle = 2 * math.asin(0.125)
    assert of.crossover_angle() == pytest.approx(angle)
    assert of.phase_margin() == pytest.approx(math.pi / 2 - 1.5 * angle)
    assert of.gain_margin() == pytest.approx(4.0)
    # k = 1.5 lies beyond its margin: the phase margin is below zero, not a turn above
    assert OpenLoop(1.5, 0.8, 0.8).phase_margin() == pytest.approx(math.pi / 2 - 3 * math.asin(0.75))


def test_manner_counts_from_where_it_first_arrives_and_settles():
    """At 98 % it has arrived; a fall before that is no dip; within five per cent of its own end it has settled."""
    course = np.array([0.0, 0.6, 0.3, 0.981, 0.9, 1.04, *[1.0] * 40])
    went = loop.manner(2.0 * course, 2.0, 0.5)
    assert went.dip == pytest.approx(0.1)
    assert went.overshoot == pytest.approx(0.04)
    assert went.settling_time == pytest.approx(2.5)
    assert not went.stalls
    assert loop.manner(np.array([0.0, 0.979, 0.5, *[0.97] * 30]), 1.0, 0.5).dip == 0.0


def test_manner_of_a_course_that_ends_elsewhere_or_still_swings():
    low = loop.manner(np.array([0.0, 0.4, *[0.5] * 30]), 1.0, 0.1)
    assert (low.overshoot, low.dip, low.end, low.settling_time) == (0.0, 0.0, 0.5, pytest.approx(0.2))
    swinging = loop.manner(np.array([1.0, 0.8] * 20), 1.0, 0.1)
    assert swinging.settling_time is None
    assert loop.manner(np.full(11, 1.0), 1.0, 0.1).settling_time == 0.0
    late = np.ones(21)
    late[17] = 1.2  # still for the last three of twenty: settled at 18 of 20, the last tenth
    assert loop.manner(late, 1.0, 0.1).settling_time == pytest.approx(1.8)
    late[18] = 1.2
    assert loop.manner(late, 1.0, 0.1).settling_time is None
    assert loop.manner(np.array([1.0, 0.5, 0.0]), 1.0, 0.1).stalls


def test_looks_and_bands_are_those_of_practice():
    """Fifty to a hundred and fifty looks a second have been seen; five per cent is the band of control textbooks."""
    assert 1 / 150 <= loop.SAMPLE_PERIOD <= 1 / 50
    assert pytest.approx(0.05) == loop.BAND
    assert 0.0 < loop.NEAR < loop.BAND
