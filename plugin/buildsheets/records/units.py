"""The units a record may use: for each kind of quantity its spellings, exact factors and plausible range.

Factors are decimal numbers, exact by definition (inch, pound, standard gravity), so that `20.3 mm` becomes the
float nearest to 0.0203 m. No general unit parser ever sees record text: it would read `1 in 50` as inches.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from decimal import Context
from decimal import Decimal as Exact
from functools import cached_property
from typing import Literal

EXACT = Context(prec=40)  # of our own, so that nobody's change to the global context moves a figure

PI = Exact("3.14159265358979323846264338327950288")
INCH = Exact("0.0254")  # m, international inch, exact
POUND = Exact("0.45359237")  # kg, international avoirdupois pound, exact
OUNCE = EXACT.divide(POUND, Exact(16))  # kg
GRAVITY = Exact("9.80665")  # m/s2, standard acceleration of free fall, exact
MILE = Exact("1609.344")  # m, international mile, exact
TURN = EXACT.multiply(Exact(2), PI)  # rad


@dataclass(frozen=True, slots=True)
class Unit:
    """How a number becomes SI: `number * factor + offset`, or `factor / number` when inverted."""

    factor: Exact
    offset: Exact = Exact(0)
    inverted: bool = False


@dataclass(frozen=True, eq=False)
class Kind:
    """What a quantity is, which units it is written in, and what range is plausible.

    `low` and `high` bound the size of a value other than zero, in SI; a value beyond is taken for a slip.
    `form` says what may be written besides a number with unit: 4k7, 1 in 67, level, 1:76.2. `tolerated` says whether
    a tolerance may follow.
    """

    name: str
    units: Mapping[str, Unit]
    example: str
    low: float
    high: float
    compounds: tuple[tuple[str, ...], ...] = ()
    zero: bool = False
    negative: bool = False
    form: Literal["unit", "resistance", "share", "grade", "ratio"] = "unit"
    tolerated: bool = True
    spellings: Mapping[str, str] = field(default_factory=dict)

    @cached_property
    def known(self) -> dict[str, str]:
        """Every accepted spelling with the name of its unit; a product may be written without the space."""
        names = {name: name for name in self.units}
        return names | {name.replace(" ", ""): name for name in self.units} | dict(self.spellings)

    @property
    def first_unit(self) -> str:
        """The unit to offer when none was written."""
        return next(iter(self.units))

    def or_zero(self) -> Kind:
        """Return the same kind with zero allowed, for drops, positions and readings that may be nil."""
        return replace(self, zero=True)


def _plain(**factors: str) -> dict[str, Unit]:
    return {name: Unit(Exact(factor)) for name, factor in factors.items()}


def _scaled(factors: Mapping[str, Exact]) -> dict[str, Unit]:
    return {name: Unit(factor) for name, factor in factors.items()}


def _product(*factors: Exact | str) -> Exact:
    result = Exact(1)
    for factor in factors:
        result = EXACT.multiply(result, Exact(factor))
    return result


_FOOT = _product(INCH, "12")
_PER_HOUR = EXACT.divide(Exact(1), Exact(3600))
_PER_MINUTE = EXACT.divide(Exact(1), Exact(60))
_RPM = _product(TURN, _PER_MINUTE)

LENGTH = Kind(
    "a length",
    _plain(mm="0.001", cm="0.01", m="1", um="0.000001")
    | _scaled({"in": INCH, "ft": _FOOT, "thou": _product(INCH, "0.001")}),
    "20.3 mm",
    1e-7,
    1e5,
    compounds=(("ft", "in"),),
    spellings={
        "'": "ft",
        '"': "in",
        "’": "ft",
        "”": "in",
        "′": "ft",
        "″": "in",
        "inch": "in",
        "inches": "in",
        "feet": "ft",
    },
)
MASS = Kind(
    "a mass",
    _plain(g="0.001", kg="1", mg="0.000001") | _scaled({"oz": OUNCE, "lb": POUND}),
    "285 g",
    1e-7,
    1e6,
    compounds=(("lb", "oz"),),
)
TIME = Kind(
    "a time",
    _plain(s="1", ms="0.001", us="0.000001", min="60", h="3600"),
    "9.8 s",
    1e-7,
    1e8,
    compounds=(("h", "min"), ("min", "s"), ("h", "min", "s")),
)
VOLTAGE = Kind("a voltage", _plain(V="1", mV="0.001"), "14.5 V", 1e-6, 1e4)
CURRENT = Kind("a current", _plain(A="1", mA="0.001", uA="0.000001"), "120 mA", 1e-9, 1e3)
RESISTANCE = Kind(
    "a resistance",
    _plain(ohm="1", kohm="1000", Mohm="1000000"),
    "220 ohm",
    1e-5,
    1e9,
    form="resistance",
)
POWER = Kind("a power", _plain(W="1", mW="0.001"), "0.5 W", 1e-6, 1e4)
INDUCTANCE = Kind("an inductance", _plain(mH="0.001", uH="0.000001", H="1"), "4 mH", 1e-9, 1e3)
CAPACITANCE = Kind(
    "a capacitance",
    _plain(uF="0.000001", F="1", mF="0.001", nF="0.000000001", pF="0.000000000001"),
    "1000 uF",
    1e-13,
    1e4,
)
FREQUENCY = Kind("a frequency", _plain(kHz="1000", Hz="1", MHz="1000000"), "16 kHz", 1e-3, 1e8)
SPEED = Kind(
    "a speed",
    _scaled(
        {
            "mph": _product(MILE, _PER_HOUR),
            "km/h": _product("1000", _PER_HOUR),
            "mm/s": Exact("0.001"),
            "cm/s": Exact("0.01"),
            "m/s": Exact(1),
            "m/min": _PER_MINUTE,
            "in/s": INCH,
            "ft/s": _FOOT,
            "ft/min": _product(_FOOT, _PER_MINUTE),
        }
    ),
    "55 mph",
    1e-6,
    200.0,
    spellings={"kph": "km/h", "kmh": "km/h"},
)
ROTATION = Kind(
    "a rotational speed",
    _scaled({"rpm": _RPM, "rad/s": Exact(1), "rev/s": TURN, "rev/min": _RPM}),
    "9500 rpm",
    1e-4,
    1e5,
    spellings={"r/min": "rpm"},
)
TORQUE = Kind(
    "a torque",
    _scaled(
        {
            "mN m": Exact("0.001"),
            "N m": Exact(1),
            "uN m": Exact("0.000001"),
            "N cm": Exact("0.01"),
            "g cm": _product(GRAVITY, "0.00001"),
            "gf cm": _product(GRAVITY, "0.00001"),
            "oz in": _product(OUNCE, GRAVITY, INCH),
            "ozf in": _product(OUNCE, GRAVITY, INCH),
        }
    ),
    "0.3 mN m",
    1e-9,
    1e3,
)
INERTIA = Kind(
    "a moment of inertia",
    _scaled({"g cm2": Exact("1e-7"), "kg m2": Exact(1), "g mm2": Exact("1e-9"), "kg cm2": Exact("1e-4")}),
    "1.2 g cm2",
    1e-14,
    1.0,
)
TEMPERATURE = Kind(
    "a temperature",
    {
        "degC": Unit(Exact(1)),
        "K": Unit(Exact(1), Exact("-273.15")),
        "degF": Unit(EXACT.divide(Exact(5), Exact(9)), EXACT.divide(Exact(-160), Exact(9))),
    },
    "25 degC",
    0.0,
    2000.0,
    zero=True,
    negative=True,
    spellings={"C": "degC", "F": "degF"},
)
TEMPERATURE_RISE = Kind("a temperature rise", _plain(K="1"), "15 K", 1e-3, 2000.0, zero=True)
THERMAL_RESISTANCE = Kind(
    "a thermal resistance",
    _plain(**{"K/W": "1", "degC/W": "1"}),
    "170 K/W",
    1e-3,
    1e5,
    spellings={"C/W": "K/W"},
)
EMF_CONSTANT = Kind(
    "an EMF constant",
    _scaled(
        {
            "mV s/rad": Exact("0.001"),
            "V s/rad": Exact(1),
            "mN m/A": Exact("0.001"),
            "N m/A": Exact(1),
            "mV/rpm": EXACT.divide(Exact("0.001"), _RPM),
        }
    )
    | {"rpm/V": Unit(EXACT.divide(Exact(1), _RPM), inverted=True)},
    "11.2 mV s/rad",
    1e-7,
    1e2,
)
# Flanks of teeth alone are stated so; at half a right angle no tooth is left of them.
ANGLE = Kind("an angle", _scaled({"deg": EXACT.divide(PI, Exact(180)), "rad": Exact(1)}), "20 deg", 1e-5, 0.75)
FORCE = Kind(
    "a force",
    _scaled({"N": Exact(1), "mN": Exact("0.001"), "gf": _product(GRAVITY, "0.001")}),
    "0.4 N",
    1e-7,
    1e4,
)
TOLERANCE = Kind("a tolerance", _plain(**{"%": "0.01"}), "5 %", 1e-6, 0.9999, zero=True, tolerated=False)
FRACTION = Kind("a share", _plain(**{"": "1", "%": "0.01"}), "0.25", 1e-9, 1.0, form="share")
GRADE = Kind(
    "a grade",
    _plain(**{"%": "0.01", "‰": "0.001"}),
    "1 in 60",
    1e-7,
    0.5,
    zero=True,
    negative=True,
    form="grade",
    tolerated=False,
)
DECIMAL = Kind("a plain number", _plain(**{"": "1"}), "0.3", 1e-9, 1e9, zero=True, negative=True)
MONEY = Kind("a price", _plain(**{"": "1"}), "14.50", 1e-4, 1e7, zero=True, tolerated=False)
SCALE_RATIO = Kind("a scale ratio", {}, "1:76.2", 1.0, 1000.0, form="ratio", tolerated=False)

KINDS = (
    LENGTH,
    MASS,
    TIME,
    VOLTAGE,
    CURRENT,
    RESISTANCE,
    POWER,
    INDUCTANCE,
    CAPACITANCE,
    FREQUENCY,
    SPEED,
    ROTATION,
    TORQUE,
    INERTIA,
    TEMPERATURE,
    TEMPERATURE_RISE,
    THERMAL_RESISTANCE,
    EMF_CONSTANT,
    ANGLE,
    FORCE,
    TOLERANCE,
    FRACTION,
    GRADE,
    DECIMAL,
    MONEY,
    SCALE_RATIO,
)
