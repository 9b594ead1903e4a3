"""Numbers in words; the expected texts are written by hand from the rules of rounding, the mile from the 1959 agreement."""

from __future__ import annotations

import pytest

from buildsheets import numerals as n


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [
        (78.24, 2, "78"), (78.24, 3, "78.2"), (0.0, 3, "0"), (9.96, 2, "10"), (0.099951, 3, "0.100"), (1234.0, 2, "1234"),
        (12345.0, 3, "12\u202f345"), (-3.25, 2, "\u22123.2"), (None, 3, "not known"), (float("nan"), 3, "not known"),
        (float("inf"), 2, "not known"), (0.000123, 2, "0.00012"),
    ],
)
def test_number(value: float | None, digits: int, text: str) -> None:
    assert n.number(value, digits) == text


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [(0.0042, "H", "4.20 mH"), (0.9996, "A", "1.00 A"), (999.6e-6, "H", "1.00 mH"), (4700.0, "Ω", "4.70 kΩ"), (0.0, "A", "0 A"),
     (1e-12, "F", "0.00100 nF"), (-0.5, "V", "\u2212500 mV")],
)
def test_engineering(value: float, unit: str, text: str) -> None:
    assert n.engineering(value, unit).replace(n.THIN, " ") == text


def test_bands_join_where_both_ends_print_alike() -> None:
    assert n.band([72.1, 84.4], "mph") == "72 to 84\u202fmph"
    assert n.band([72.1, 72.3], "mph") == "72\u202fmph"
    assert n.band([0.96, 1.21], "", 3) == "0.960 to 1.21"
    assert n.band(None, "mph") == n.band([None, 1.0], "mph") == "not known"


def test_speeds_follow_the_club() -> None:
    assert n.in_speed_unit(1.0, "km/h") == pytest.approx(1.609344, abs=0)  # international mile, 1959 agreement: exact
    assert n.speed(60.0, "km/h") == "97\u202fkm/h"
    assert n.speed_band([50.0, 60.0], "km/h") == "80 to 97\u202fkm/h"
    assert n.speed(None) == n.speed_band(None) == "not known"
    with pytest.raises(ValueError, match="mph or km/h"):
        n.in_speed_unit(1.0, "knots")


@pytest.mark.parametrize(
    ("text", "joined"),
    [
        ("reaches 110 °C at step 4", "reaches 110_°C at step 4"),
        ("gears of 35.6 : 1 give 3.2 V", "gears of 35.6_:_1 give 3.2_V"),
        ("2 × 10⁻⁴ N m, 12 mm/s and 5 %.", "2 × 10⁻⁴_N m, 12 mm/s and 5_%."),
        ("1 in 60 at step 3 as built, 4 motors, section 7 in its lead", "1 in 60 at step 3 as built, 4 motors, section 7 in its lead"),
    ],
)
def test_no_line_ends_between_a_number_and_its_unit(text: str, joined: str) -> None:
    assert n.unbroken(text) == joined.replace("_", n.THIN)
    assert n.unbroken(n.unbroken(text)) == n.unbroken(text)


def test_given_values_keep_what_was_written() -> None:
    assert n.given(85.0, "°C") == "85\u202f°C"
    assert n.given(0.9144, "m") == "0.9144\u202fm"
    assert n.given(120.0) == "120"
    assert n.given(None, "m") == "not known"


def test_small_numbers_and_units_as_printed() -> None:
    assert n.given(1.286e-8, "kg m2").replace(n.THIN, " ") == "1.286 × 10⁻⁸ kg m²"
    assert n.number(-0.00002, 2).replace(n.THIN, " ") == "\u22122.0 × 10⁻⁵"
    assert n.given(20.0, "deg") == "20°"
    assert n.quantity(56.7, "degC") == "56.7\u202f°C"


def test_money() -> None:
    assert n.money(31.4, "GBP") == "31.40\u202fGBP"
    assert n.money(12345.0, None) == "12\u202f345.00"
    assert n.money(None, "GBP") == "not known"


def test_a_window_takes_the_prefix_a_meter_shows() -> None:
    assert n.window(0.02557, 0.03028, "A") == f"25.6 to 30.3{n.THIN}mA"
    assert n.window(16.25, 1696.0, "ohm") == f"0.0163 to 1.70{n.THIN}kΩ"
    assert n.window(24.16, 34.73, "°C") == f"24.2 to 34.7{n.THIN}°C"
    assert n.window(5132.1, 5624.3, "rpm") == f"5132 to 5624{n.THIN}rpm"
    assert n.window(0.0, 0.0, "A") == f"0{n.THIN}A"


def test_a_window_may_be_open() -> None:
    assert n.window(1e6, None, "ohm") == f"at least 1.00{n.THIN}MΩ"
    assert n.window(None, 9.0, "V") == f"at most 9.00{n.THIN}V"
    assert n.window(3.0, None, "step") == "at least 3"
    assert n.window(1.0, 15.0, "step") == "1 to 15"
    assert n.window(None, None, "s") == "not known"


def test_shares_in_percent() -> None:
    assert n.percent(0.1234) == f"12{n.THIN}%"
    assert n.percent(None) == "not known"
