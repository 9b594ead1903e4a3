"""Every unit of a record against pint, a reference library for unit conversion with its own tables.

A float carries about 16 digits; the comparison allows for the rounding of pint's own arithmetic.
"""

from __future__ import annotations

import math

import pint
import pytest

from buildsheets.records.quantities import parse_quantity
from buildsheets.records.units import KINDS, Kind

UREG = pint.UnitRegistry()

# Our spelling where pint's grammar or naming differs from that of the bench.
PINT_NAMES = {
    "gf cm": "gram_force * cm", "g cm": "gram_force * cm", "ozf in": "ounce_force * inch", "oz in": "ounce_force * inch",
    "in": "inch", "mohm": "milliohm", "g cm2": "g * cm ** 2", "kg m2": "kg * m ** 2", "g mm2": "g * mm ** 2",
    "kg cm2": "kg * cm ** 2", "N m": "N * m", "mN m": "mN * m", "uN m": "uN * m", "N cm": "N * cm", "gf": "gram_force",
    "V s/rad": "V * s / rad", "mV s/rad": "mV * s / rad", "N m/A": "N * m / A", "mN m/A": "mN * m / A",
    "degC/W": "delta_degC / W", "in/s": "inch / s", "rev/s": "revolution / s", "rev/min": "revolution / min",
    "mph": "mile / hour", "rpm": "revolution / min", "mV/rpm": "mV / (revolution / min)",
    "rpm/V": "revolution / min / V", "%": "percent", "‰": "permille", "": "dimensionless",
}
SI = {
    "a length": "m", "a mass": "kg", "a time": "s", "a voltage": "V", "a current": "A", "a resistance": "ohm",
    "a power": "W", "an inductance": "H", "a capacitance": "F", "a frequency": "Hz", "a speed": "m/s",
    "a rotational speed": "rad/s", "a torque": "N*m", "a moment of inertia": "kg*m**2", "a temperature": "degC",
    "a temperature rise": "K", "a thermal resistance": "K/W", "an EMF constant": "V*s/rad", "an angle": "rad",
    "a force": "N", "a tolerance": "dimensionless", "a share": "dimensionless", "a grade": "dimensionless",
    "a plain number": "dimensionless", "a price": "dimensionless",
}
CASES = [(kind, unit) for kind in KINDS for unit in kind.units]


@pytest.mark.parametrize(("kind", "unit"), CASES, ids=[f"{kind.name} {unit}" for kind, unit in CASES])
def test_a_unit_is_worth_what_the_reference_library_says(kind: Kind, unit: str) -> None:
    number = _plausible_number(kind, unit)
    ours = parse_quantity(f"{number} {unit}", kind).value
    assert ours == pytest.approx(_reference(number, unit, kind), rel=1e-14, abs=1e-12 if unit in ("degF", "K") else 0)


def _reference(number: str, unit: str, kind: Kind) -> float:
    magnitude = float(number)
    if unit == "‰":  # not in every release of the reference; one per thousand by definition
        return magnitude / 1000
    if unit == "rpm/V":  # the speed constant is the inverse of the EMF constant
        return 1 / UREG.Quantity(magnitude, PINT_NAMES[unit]).to("rad/s/V").magnitude
    return float(UREG.Quantity(magnitude, PINT_NAMES.get(unit, unit)).to(SI[kind.name]).magnitude)


def _plausible_number(kind: Kind, unit: str) -> str:
    """A number with odd digits that lies in the range the kind allows."""
    if unit == "K" and kind.name == "a temperature":
        return "293.17"
    size = float(kind.units[unit].factor)
    middle = math.sqrt(max(kind.low, 1e-9) * kind.high)
    wanted = size / middle if kind.units[unit].inverted else middle / size
    return f"{1.237 * 10 ** math.floor(math.log10(wanted) - 0.2):.12f}".rstrip("0").rstrip(".") or "1"


# Definitions a reader can look up: the international yard and pound agreement of 1959 (inch 25.4 mm, pound 0.45359237 kg)
# and standard gravity 9.80665 m/s2 (CGPM 1901). From memory.
@pytest.mark.parametrize(
    ("text", "name", "value"),
    [
        ("1 in", "a length", 0.0254),
        ("1 ft", "a length", 0.3048),
        ("1 thou", "a length", 25.4e-6),
        ("1 lb", "a mass", 0.45359237),
        ("1 gf", "a force", 9.80665e-3),
        ("1 mph", "a speed", 0.44704),
        ("212 degF", "a temperature", 100.0),
        ("32 degF", "a temperature", 0.0),
        ("0 K", "a temperature", -273.15),
    ],
)
def test_a_defined_unit_is_exact(text: str, name: str, value: float) -> None:
    kind = next(kind for kind in KINDS if kind.name == name)
    assert parse_quantity(text, kind).value == value


# Source: IEC 60062, letter code for resistance values: the letter stands for the decimal point. From memory.
@pytest.mark.parametrize(
    ("code", "ohms"),
    [("R47", 0.47), ("4R7", 4.7), ("47R", 47.0), ("220R", 220.0), ("1K0", 1e3), ("2k2", 2.2e3), ("47K3", 47.3e3),
     ("1M0", 1e6), ("3M32", 3.32e6), ("59R04", 59.04)],
)
def test_a_resistor_code_means_what_the_standard_says(code: str, ohms: float) -> None:
    kind = next(kind for kind in KINDS if kind.name == "a resistance")
    assert parse_quantity(code, kind).value == ohms
