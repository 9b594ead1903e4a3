from __future__ import annotations

import datetime
import math
import re
import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from buildsheets.records import quantities, units
from buildsheets.records.quantities import QuantityError, parse_date, parse_quantity, text_pattern
from buildsheets.records.units import KINDS, Kind

WIDE = st.text(st.characters(exclude_categories=("Cs",)), max_size=70)
TELLING = st.text("0123456789.,-+±/%'\" einmVAkRMft:½¾Ω²·*^rpdegCs", max_size=30)


@pytest.mark.parametrize(
    ("text", "kind", "value", "tolerance"),
    [
        ("20.3 mm", units.LENGTH, 0.0203, None),
        ("20.3mm", units.LENGTH, 0.0203, None),
        (" .5 in ", units.LENGTH, 0.0127, None),
        ("5 ft 2 in", units.LENGTH, 1.5748, None),
        ("5' 2\"", units.LENGTH, 1.5748, None),
        ("5’2”", units.LENGTH, 1.5748, None),
        ("4 ft 7.5 in", units.LENGTH, 1.4097, None),
        ("4 ft 7 1/2 in", units.LENGTH, 1.4097, None),
        ("4 ft 7½ in", units.LENGTH, 1.4097, None),
        ("3/8 in", units.LENGTH, 0.009525, None),
        ("14.5 V ± 3 %", units.VOLTAGE, 14.5, 0.435),
        ("14.5 V +/- 0.2 V", units.VOLTAGE, 14.5, 0.2),
        ("14.5 V +- 200 mV", units.VOLTAGE, 14.5, 0.2),
        ("2k2", units.RESISTANCE, 2200.0, None),
        ("4R7 ± 5 %", units.RESISTANCE, 4.7, 0.235),
        ("2.2 kΩ", units.RESISTANCE, 2200.0, None),
        ("220 \u2126", units.RESISTANCE, 220.0, None),
        ("10 µH", units.INDUCTANCE, 10e-6, None),
        ("0.3 mN·m", units.TORQUE, 0.3e-3, None),
        ("0.3 mNm", units.TORQUE, 0.3e-3, None),
        ("1.2 g cm²", units.INERTIA, 1.2e-7, None),
        ("1.2 g*cm^2", units.INERTIA, 1.2e-7, None),
        ("25 °C ± 2 K", units.TEMPERATURE, 25.0, 2.0),
        ("-4 degF ± 9 degF", units.TEMPERATURE, -20.0, 5.0),
        ("1 in 50", units.GRADE, 0.02, None),
        ("-1 in 50", units.GRADE, -0.02, None),
        ("2 %", units.GRADE, 0.02, None),
        ("20 ‰", units.GRADE, 0.02, None),
        ("level", units.GRADE, 0.0, None),
        ("0.2", units.FRACTION, 0.2, None),
        ("20 % ± 2 %", units.FRACTION, 0.2, 0.02),
        ("0.2 ± 0.02", units.FRACTION, 0.2, 0.02),
        ("1 in 80", units.FRACTION, 0.0125, None),
        ("1:76.2", units.SCALE_RATIO, 76.2, None),
        ("1 : 87", units.SCALE_RATIO, 87.0, None),
        ("5 %", units.TOLERANCE, 0.05, None),
        ("14.50", units.MONEY, 14.5, None),
        ("-0.3", units.DECIMAL, -0.3, None),
        ("6 h 30 min", units.TIME, 23400.0, None),
        ("60 km/h", units.SPEED, 60 / 3.6, None),
        ("1e-3 H", units.INDUCTANCE, 1e-3, None),
    ],
)
def test_what_is_written_is_what_is_meant(text: str, kind: Kind, value: float, tolerance: float | None) -> None:
    quantity = parse_quantity(text, kind)
    assert quantity.value == pytest.approx(value, rel=1e-15, abs=0 if value else 1e-15)
    assert quantity.text == text.strip()
    assert quantity.tolerance == (None if tolerance is None else pytest.approx(tolerance, rel=1e-12))


def test_the_width_of_a_speed_constant_is_the_same_share_of_the_emf_constant() -> None:
    quantity = parse_quantity("750 rpm/V ± 75 rpm/V", units.EMF_CONSTANT)
    assert quantity.value == pytest.approx(60 / (2 * math.pi * 750))
    assert quantity.tolerance == pytest.approx(0.1 * quantity.value)


@pytest.mark.parametrize(
    ("text", "kind", "message"),
    [
        ("20.3", units.LENGTH, '20.3 has no unit; write "20.3 mm"'),
        ("", units.LENGTH, '"" is not a length; write it like "20.3 mm"'),
        ("4m7", units.RESISTANCE, '"m" is not a unit of a resistance; units here are ohm, kohm, Mohm, as in "220 ohm"'),
        ("2 in 5 ft", units.LENGTH, '"2 in 5 ft" is not a length; write it like "20.3 mm"'),
        ("1/0 in", units.LENGTH, '"1/0 in" divides by zero; write it like "20.3 mm"'),
        ("5 m ± 1 m ± 2 m", units.LENGTH, '"5 m ± 1 m ± 2 m" has a ± that does not belong there; write it like "20.3 mm"'),
        ("2 % ± 1 %", units.GRADE, '"2 % ± 1 %" has a ± that does not belong there; write it like "1 in 60"'),
        ("5 ft ± 1 ft 2 in", units.LENGTH, 'the tolerance of "5 ft ± 1 ft 2 in" is not clear; write it like "20.3 mm"'),
        ("9 mN m/A ± 9 rpm/V", units.EMF_CONSTANT,
         'the tolerance of "9 mN m/A ± 9 rpm/V" is not clear; write it like "11.2 mV s/rad"'),
        ("0.2 ± 2 %", units.FRACTION,
         'the tolerance of "0.2 ± 2 %" is not clear; write both as decimals or both in percent'),
        ("0 rpm/V", units.EMF_CONSTANT, '"0 rpm/V" must be more than zero; write it like "11.2 mV s/rad"'),
        ("-300 degC", units.TEMPERATURE, '"-300 degC" is below absolute zero; write it like "25 degC"'),
        ("1 nV", units.VOLTAGE, '"nV" is not a unit of a voltage; units here are V, mV, as in "14.5 V"'),
        ("0.00000001 mm", units.LENGTH,
         '"0.00000001 mm" is too small for a length here; check number and unit, as in "20.3 mm"'),
        ("92 deg", units.ANGLE, '"92 deg" is too large for an angle here; check number and unit, as in "20 deg"'),
        ("1 in 0", units.GRADE, '"in" is not a unit of a grade; units here are %, ‰, as in "1 in 60"'),
        ("76.2", units.SCALE_RATIO, '"76.2" is not a scale ratio; write it like "1:76.2"'),
        ("1:0", units.SCALE_RATIO,
         '"1:0" is zero; write a value such as "1:76.2", or leave the line out when it is unknown'),
        ("0.3 x", units.DECIMAL, '"x" is not a unit of a plain number; write it like "0.3"'),
        ("3 MV", units.VOLTAGE, '"MV" is not a unit of a voltage, capitals matter; write "mV"'),
    ],
)
def test_what_cannot_be_meant_is_refused_with_a_right_form(text: str, kind: Kind, message: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse_quantity(text, kind)
    assert str(caught.value) == message


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
@settings(max_examples=150, deadline=None)
@given(text=WIDE | TELLING)
def test_no_text_does_more_than_be_refused(kind: Kind, text: str) -> None:
    quantity = refusal = None
    try:
        quantity = parse_quantity(text, kind)
    except QuantityError as error:
        refusal = str(error)
    if quantity is None:
        assert "; " in str(refusal)
    else:
        assert math.isfinite(quantity.value)
        assert quantity.tolerance is None or math.isfinite(quantity.tolerance)
        assert re.search(text_pattern(kind), text), "an editor would mark what the reader takes"


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind.units], ids=lambda kind: kind.name)
@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_a_value_written_out_reads_back(kind: Kind, data: st.DataObject) -> None:
    name, unit = data.draw(st.sampled_from(sorted(kind.units.items())))
    low, high = max(kind.low, 1e-12) * 1.001, kind.high * 0.999
    value = data.draw(st.floats(low, high))
    factor, offset = float(unit.factor), float(unit.offset)
    number = factor / value if unit.inverted else (value - offset) / factor
    quantity = parse_quantity(f"{number:.15e} {name}", kind)
    assert quantity.value == pytest.approx(value, rel=1e-12, abs=1e-9 if unit.offset else 0)
    assert re.search(text_pattern(kind), quantity.text)


@pytest.mark.parametrize("text", ["1" * 60, "1 " * 30, "- " * 30, "5 ft " * 12, "1/" * 30, "mm " * 20, "9**" * 20])
def test_hostile_text_costs_nothing(text: str) -> None:
    start = time.perf_counter()
    for kind in KINDS:
        with pytest.raises(QuantityError):
            parse_quantity(text[:58] + " q", kind)
    assert time.perf_counter() - start < 1.0


def test_longer_text_is_not_even_looked_at() -> None:
    with pytest.raises(QuantityError, match="too long"):
        parse_quantity("1" * 100_000 + " mm", units.LENGTH)


@pytest.mark.parametrize(
    ("declared", "value", "message"),
    [
        (quantities.Length, 20, '20 has no unit; write "20 mm"'),
        (quantities.Length, True, 'true is not a length; write it like "20.3 mm"'),
        (quantities.Length, {}, 'a mapping stands where a length belongs; write it like "20.3 mm"'),
        (quantities.Length, [], 'a list stands where a length belongs; write it like "20.3 mm"'),
        (quantities.Length, None, 'nothing stands where a length belongs; write it like "20.3 mm"'),
        (quantities.PlainDate, "2026-3-2", '"2026-3-2" is not a date; write year-month-day as in "2026-03-02"'),
        (quantities.PlainDate, "2026-02-30", '"2026-02-30" is not in the calendar; write year-month-day as in "2026-03-02"'),
    ],
)
def test_a_field_passes_the_complaint_on(declared: object, value: object, message: str) -> None:
    with pytest.raises(ValidationError) as caught:
        TypeAdapter(declared).validate_python(value)
    (error,) = caught.value.errors()
    assert error["msg"].format(example=error["ctx"]["example"]) == message


def test_zero_is_for_places_that_bear_it() -> None:
    assert TypeAdapter(quantities.LengthOrZero).validate_python("0 mm").value == 0
    assert TypeAdapter(quantities.FractionOrZero).validate_python("0 %").value == 0
    assert TypeAdapter(quantities.FractionOrZero).validate_python("1 in 50").value == 0.02
    with pytest.raises(ValidationError, match="is zero"):
        TypeAdapter(quantities.Length).validate_python("0 mm")


def test_a_field_keeps_what_is_read_already_and_writes_the_text() -> None:
    adapter = TypeAdapter(quantities.Length)
    read = adapter.validate_python("20.3 mm")
    assert adapter.validate_python(read) is read
    assert adapter.dump_python(read) == "20.3 mm"
    days = TypeAdapter(quantities.PlainDate)
    day = days.validate_python("2026-03-02")
    assert day == datetime.date(2026, 3, 2) == parse_date(" 2026-03-02 ")
    assert days.validate_python(day) is day
    assert days.dump_python(day) == "2026-03-02"


def test_an_editor_is_told_pattern_units_and_example() -> None:
    told = TypeAdapter(quantities.Length).json_schema()
    assert told["examples"] == ["20.3 mm"]
    assert told["description"] == "Units: mm, cm, m, um, in, ft, thou."
    assert not re.search(told["pattern"], "20.3")
    assert not re.search(told["pattern"], "20.3 V")
    assert TypeAdapter(quantities.Decimal).json_schema()["type"] == ["string", "number"]
    assert "pattern" in TypeAdapter(quantities.PlainDate).json_schema()
