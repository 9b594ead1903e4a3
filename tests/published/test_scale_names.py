"""Named scales against the standards.

Basis: S the source was opened, M from memory, D worked out.
"""

from __future__ import annotations

import pytest

from buildsheets.records.scales import SCALES, alike, scale_named


# Source: NEM 010 (2011), sheet 1: scale, ratio, track gauge in mm (S).
@pytest.mark.parametrize(
    ("name", "ratio", "gauge"),
    [("Z", 220, 6.5), ("N", 160, 9), ("TT", 120, 12), ("H0", 87, 16.5), ("S", 64, 22.5), ("0", 45, 32), ("1", 32, 45),
     ("IIm", 22.5, 45)],
)
def test_a_scale_of_nem_010_has_its_ratio_and_gauge(name: str, ratio: float, gauge: float) -> None:
    scale = scale_named(name)
    assert scale.ratio == ratio
    assert scale.track_gauge * 1000 == pytest.approx(gauge, rel=1e-12)


# Source: NEM 010 (2011), notes 3.4 (S): "3.5 mm" is 1:87, "4 mm" is 1:76 (00), "7 mm" is 1:43.5, as printed.
@pytest.mark.parametrize(("name", "printed"), [("OO", 76.0), ("O (British)", 43.5)])
def test_a_british_scale_agrees_with_the_digits_nem_010_prints(name: str, printed: float) -> None:
    assert scale_named(name).ratio == pytest.approx(printed, abs=0.25)


# Millimetres to the foot give the ratio exactly: 304.8 mm is a foot (D).
@pytest.mark.parametrize(
    ("name", "mm_per_foot"),
    [("2 mm fine", 2), ("TT (British 3 mm)", 3), ("OO", 4), ("EM", 4), ("P4", 4), ("O (British)", 7), ("Scale 7", 7),
     ("1 (British 10 mm)", 10)],
)
def test_a_scale_named_by_millimetres_to_the_foot_has_that_ratio(name: str, mm_per_foot: float) -> None:
    assert 304.8 / scale_named(name).ratio == pytest.approx(mm_per_foot, rel=1e-12)


# Source: NMRA S-1.2, ratios of the named scales (HO: S by a list that cites it; the rest M).
@pytest.mark.parametrize(("name", "ratio"), [("HO", 87.1), ("O", 48), ("S", 64), ("N", 160), ("TT", 120), ("Z", 220)])
def test_a_scale_of_nmra_s_1_2_has_its_ratio(name: str, ratio: float) -> None:
    assert scale_named(name).ratio == ratio


# P4 and Scale 7 are dead scale: the track gauge is 1435 mm over the ratio, to the digit the lists print (S, D).
@pytest.mark.parametrize(("name", "printed_to"), [("P4", 0.005e-3), ("Scale 7", 0.01e-3)])
def test_a_dead_scale_gauge_follows_from_the_ratio(name: str, printed_to: float) -> None:
    scale = scale_named(name)
    assert scale.track_gauge == pytest.approx(1.435 / scale.ratio, abs=printed_to)


# Source: club scale lists print the gauge error of OO as -12.4 % and of British O as -3 % (S).
@pytest.mark.parametrize(("name", "printed", "digits"), [("OO", -12.4, 0.05), ("O (British)", -3.0, 0.5)])
def test_a_gauge_error_is_the_one_the_lists_print(name: str, printed: float, digits: float) -> None:
    scale = scale_named(name)
    assert 100 * (scale.track_gauge * scale.ratio / 1.435 - 1) == pytest.approx(printed, abs=digits)


def test_h_nought_and_h_o_differ_and_o_has_three_ratios() -> None:
    assert (scale_named("H0").ratio, scale_named("ho").ratio) == (87.0, 87.1)
    assert {scale.ratio for scale in [scale_named("O"), *alike("O")]} == {48.0, 45.0, 304.8 / 7}


def test_every_row_says_where_it_comes_from() -> None:
    assert {scale.basis for scale in SCALES} <= {"S", "M", "C"}
    assert all(scale.practice and scale.region for scale in SCALES)
