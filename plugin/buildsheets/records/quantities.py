"""Quantities as written by hand: a number, a unit from the kind's own list, and if need be a tolerance.

The grammar is small and read in linear time; text of a record never reaches a general parser.
"""

from __future__ import annotations

import datetime
import re
from dataclasses import dataclass
from decimal import Decimal as Exact
from typing import Annotated, Any

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from buildsheets.records import units
from buildsheets.records.units import EXACT, Kind, Unit

LONGEST_TEXT = 60

_NUMBER = r"(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][-+]?[0-9]+)?"
# A number, the common fraction that may follow it, and a unit; a unit may end in a 2 for "squared".
_TERM = re.compile(
    rf"(?P<number>{_NUMBER})(?:(?: (?P<top>[0-9]+))?/(?P<bottom>[0-9]+))?"
    r"(?P<unit>[^0-9.,+±\-]*(?:(?<=[m^])2(?![0-9.]))?)"
)
_BARE = re.compile(rf"[-+]?{_NUMBER}")
_PLUS_MINUS = re.compile(r"±|\+/-|\+-")
_ONE_IN = re.compile(r"(-?) ?1 in ([0-9]+(?:\.[0-9]+)?)")
_RATIO = re.compile(r"1 ?: ?([0-9]+(?:\.[0-9]+)?)")
_RESISTOR_CODE = re.compile(r"([0-9]{0,4})([RKkMG])([0-9]{0,3})")
_CODE_FACTOR = {"R": Exact(1), "K": Exact(1000), "k": Exact(1000), "M": Exact(10) ** 6, "G": Exact(10) ** 9}
_DATE = re.compile(r"([0-9]{4})-([0-9]{2})-([0-9]{2})")

# Other ways of typing the same sign. Both micro signs and both omegas are in use.
_SIGNS = str.maketrans(
    {
        "\u2126": "ohm",
        "Ω": "ohm",
        "\u00b5": "u",
        "μ": "u",
        "°": "deg",
        "º": "deg",
        "²": "^2",
        "−": "-",
        "–": "-",
        "½": " 1/2",
        "¼": " 1/4",
        "¾": " 3/4",
        "⅛": " 1/8",
        "⅜": " 3/8",
        "⅝": " 5/8",
        "⅞": " 7/8",
        "\u00a0": " ",
        "\u202f": " ",
        "\u2009": " ",
    }
)
_PRODUCT = re.compile(r"(?<=\w) ?[·⋅*] ?(?=[A-Za-z])")
_LONGEST_EXPONENT = 2


class QuantityError(ValueError):
    """Text that is not a quantity of the wanted kind.

    `problem` says what is wrong. `advice` says what would be right; `{example}` in it stands for an example,
    so that whoever knows the field can put a closer one there.
    """

    def __init__(self, problem: str, advice: str, example: str) -> None:
        self.problem, self.advice, self.example = problem, advice, example
        super().__init__(f"{problem}; {advice.replace('{example}', example)}")


@dataclass(frozen=True, slots=True)
class Quantity:
    """One quantity of a record.

    `value` is in SI units (temperatures in degC); `text` is what was written; `tolerance` is the half width
    in the unit of `value`, where one was written.
    """

    value: float
    text: str
    tolerance: float | None = None


def parse_quantity(text: str, kind: Kind) -> Quantity:
    """Read a quantity.

    Parameters
    ----------
    text : str
        As written, for example `14.5 V ± 3 %`.
    kind : Kind
        What is wanted.

    Returns
    -------
    Quantity
        Value and tolerance in SI units, with the text.

    Raises
    ------
    QuantityError
        If the text is no quantity of this kind or its value is not plausible.

    Notes
    -----
    A tolerance in percent is a share of the value. Only for shares (efficiency, adhesion), which may be in
    percent themselves, does it count in points: `92 % ± 2 %` is 0.90 to 0.94.
    """
    written = text.strip()
    if not written or len(written) > LONGEST_TEXT:
        raise _wrong(_short(written) + (" is too long for" if written else " is not") + f" {kind.name}", kind)
    plain = " ".join(written.translate(_SIGNS).split())
    main, *widths = (part.strip() for part in _PLUS_MINUS.split(plain))
    if len(widths) > 1 or (widths and not kind.tolerated):
        raise _wrong(f"{_quoted(written)} has a ± that does not belong there", kind)
    value, unit = _magnitude(main, written, kind)
    _plausible(value, written, kind)
    return Quantity(value, written, _half_width(widths[0], value, unit, written, kind) if widths else None)


def _magnitude(main: str, written: str, kind: Kind) -> tuple[float, Unit | None]:
    """Value in SI and the single unit it was written in, if there is just one."""
    special = _special_form(main, kind)
    if special is not None:
        return special, None
    if kind.form == "ratio":
        raise _no_quantity(written, kind)
    negative = main.startswith("-")
    terms = _terms(main[1:].lstrip() if main[:1] in ("-", "+") else main, written, kind)
    names = tuple(name for _, name in terms)
    if len(terms) == 1:
        number, unit = terms[0][0], kind.units[names[0]]
        return _to_si(EXACT.copy_negate(number) if negative else number, unit, written, kind), unit
    if names not in kind.compounds:
        raise _no_quantity(written, kind)
    total = Exact(0)
    for number, name in terms:
        total = EXACT.fma(number, kind.units[name].factor, total)
    return float(EXACT.copy_negate(total) if negative else total), None


def _special_form(main: str, kind: Kind) -> float | None:
    """Value of the forms without a unit: `1 in 50`, `level`, `1:76.2`, `4k7`."""
    if kind.form == "grade":
        return 0.0 if main == "level" else _one_in(main)
    if kind.form == "share":
        return _one_in(main)
    if kind.form == "ratio":
        match = _RATIO.fullmatch(main)
        return float(match[1]) if match else None
    return _resistor_code(main) if kind.form == "resistance" else None


def _one_in(main: str) -> float | None:
    match = _ONE_IN.fullmatch(main)
    if match is None or not float(match[2]):
        return None
    return (-1.0 if match[1] else 1.0) / float(match[2])


def _resistor_code(main: str) -> float | None:
    """Resistance from a code of IEC 60062 such as 4R7 or 2k2, in ohm."""
    match = _RESISTOR_CODE.fullmatch(main)
    if match is None or not (match[1] or match[3]):
        return None
    return float(EXACT.multiply(Exact(f"{match[1] or '0'}.{match[3] or '0'}"), _CODE_FACTOR[match[2]]))


def _terms(body: str, written: str, kind: Kind) -> list[tuple[Exact, str]]:
    """Split `5 ft 2 in` into numbers and unit names; complain about what does not belong."""
    if "," in body:
        raise _wrong(
            f"{_quoted(written)} has a comma",
            kind,
            'use a decimal point and no thousands separator, as in "{example}"',
        )
    terms, place = [], 0
    while place < len(body):
        match = _TERM.match(body, place)
        if match is None:
            raise _no_quantity(written, kind)
        terms.append((_number(match, written, kind), _unit_name(match["unit"].strip(), written, kind)))
        place = match.end()
    if not terms:
        raise _no_quantity(written, kind)
    return terms


def _number(match: re.Match[str], written: str, kind: Kind) -> Exact:
    """Number with the common fraction that may follow it: 7, 7.5, 1/2, 7 1/2."""
    exponent = match["number"].lower().partition("e")[2].lstrip("+-")
    if len(exponent) > _LONGEST_EXPONENT:
        raise _wrong(f"{_quoted(written)} is out of all range", kind)
    number = EXACT.create_decimal(match["number"])
    if match["bottom"] is None:
        return number
    bottom = Exact(match["bottom"])
    if not bottom:
        raise _wrong(f"{_quoted(written)} divides by zero", kind)
    if match["top"] is None:
        return EXACT.divide(number, bottom)
    return EXACT.add(number, EXACT.divide(Exact(match["top"]), bottom))


def _unit_name(spelled: str, written: str, kind: Kind) -> str:
    """Name of the unit in the kind's table."""
    plain = _PRODUCT.sub(" ", spelled).replace("m^2", "m2")
    if plain in kind.known:
        return kind.known[plain]
    if not plain:
        raise _unit_missing(written, kind)
    if not any(character.isalpha() for character in plain):
        raise _no_quantity(written, kind)
    near = sorted({name for text, name in kind.known.items() if name and text.casefold() == plain.casefold()})
    problem = f"{_quoted(spelled)} is not a unit of {kind.name}"
    if near:
        advice = "write " + " or ".join(_quoted(name) for name in near)
        raise QuantityError(f"{problem}, capitals matter", advice, kind.example)
    listed = _unit_list(kind)
    raise _wrong(problem, kind, f'units here are {listed}, as in "{{example}}"' if listed else None)


def _unit_missing(written: str, kind: Kind) -> QuantityError:
    if "±" in written or "+" in written:
        advice = f'give value and tolerance a unit each, as in "{kind.example} ± 5 %"'
        return _wrong(f"{_quoted(written)} lacks a unit", kind, advice)
    if not _BARE.fullmatch(written):
        return _no_quantity(written, kind)
    if kind.form == "grade":
        return QuantityError(f"{written} has no unit", 'write "1 in 60", "2 %" or "level"', kind.example)
    return QuantityError(f"{written} has no unit", f'write "{written} {kind.first_unit}"', kind.example)


def _to_si(number: Exact, unit: Unit, written: str, kind: Kind) -> float:
    if not unit.inverted:
        return float(EXACT.add(EXACT.multiply(number, unit.factor), unit.offset))
    if number <= 0:
        raise _wrong(f"{_quoted(written)} must be more than zero", kind)
    return float(EXACT.divide(unit.factor, number))


def _half_width(width: str, value: float, unit: Unit | None, written: str, kind: Kind) -> float:
    """Half width in the unit of `value`."""
    if kind.form == "share":
        return _points(width, unit, written)
    if width.endswith("%"):
        return abs(value) * parse_quantity(width, units.TOLERANCE).value
    ((number, name), *more) = _terms(width, written, kind)
    given = kind.units[name]
    if more or (unit is not None and unit.inverted != given.inverted):
        raise _wrong(f"the tolerance of {_quoted(written)} is not clear", kind)
    if given.inverted:  # to first order, the inverse has the same share of error as the number written
        return value * value * float(number) / float(given.factor)
    return float(EXACT.multiply(number, given.factor))


def _points(width: str, unit: Unit | None, written: str) -> float:
    in_percent = unit is units.FRACTION.units["%"]
    if width.endswith("%") != in_percent:
        raise _wrong(
            f"the tolerance of {_quoted(written)} is not clear",
            units.FRACTION,
            "write both as decimals or both in percent",
        )
    return parse_quantity(width, units.FRACTION).value


def _plausible(value: float, written: str, kind: Kind) -> None:
    if value < 0 and not kind.negative:
        raise _wrong(f"{_quoted(written)} is negative", kind, 'write a positive value such as "{example}"')
    if value == 0 and not kind.zero:
        advice = 'write a value such as "{example}", or leave the line out when it is unknown'
        raise _wrong(f"{_quoted(written)} is zero", kind, advice)
    if kind is units.TEMPERATURE and value < -273.15:
        raise _wrong(f"{_quoted(written)} is below absolute zero", kind)
    if value != 0 and not kind.low <= abs(value) <= kind.high:
        limit = "large" if abs(value) > kind.high else "small"
        advice = 'check number and unit, as in "{example}"'
        raise _wrong(f"{_quoted(written)} is too {limit} for {kind.name} here", kind, advice)


def _no_quantity(written: str, kind: Kind) -> QuantityError:
    return _wrong(f"{_quoted(written)} is not {kind.name}", kind)


def _wrong(problem: str, kind: Kind, advice: str | None = None) -> QuantityError:
    return QuantityError(problem, advice or 'write it like "{example}"', kind.example)


def _quoted(text: str) -> str:
    return f'"{text}"'


def _short(text: str) -> str:
    return _quoted(text if len(text) <= LONGEST_TEXT else text[:20] + "...")


def _unit_list(kind: Kind) -> str:
    return ", ".join(name for name in kind.units if name)


@dataclass(frozen=True, slots=True)
class QuantityField:
    """Tells pydantic how to read, write and describe a field of one kind."""

    kind: Kind

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Return the schema of a field read by `parse_quantity`."""
        return core_schema.no_info_plain_validator_function(
            self._read,
            serialization=core_schema.plain_serializer_function_ser_schema(lambda quantity: quantity.text),
        )

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        """Return what an editor can check and show."""
        described: JsonSchemaValue = {
            "type": "string",
            "pattern": text_pattern(self.kind),
            "examples": [self.kind.example],
        }
        if "" in self.kind.units:  # an editor reads 0.3 as a number
            described["type"] = ["string", "number"]
        unit_list = _unit_list(self.kind)
        if unit_list:
            described["description"] = f"Units: {unit_list}."
        return described

    def _read(self, value: Any) -> Quantity:
        if isinstance(value, Quantity):
            return value
        try:
            return parse_quantity(_as_text(value, self.kind), self.kind)
        except QuantityError as error:
            raise PydanticCustomError(
                "quantity",
                "{problem}; {advice}",
                {"problem": error.problem, "advice": error.advice, "example": error.example},
            ) from None


def _as_text(value: Any, kind: Kind) -> str:
    """Text of a scalar; an integer is the only thing besides text that the reader leaves."""
    if isinstance(value, str):
        return value
    if isinstance(value, int | float) and not isinstance(value, bool):
        return str(value)
    if isinstance(value, bool):
        raise _wrong(f"{str(value).lower()} is not {kind.name}", kind)
    what = "a mapping" if isinstance(value, dict) else "a list" if isinstance(value, list) else "nothing"
    raise _wrong(f"{what} stands where {kind.name} belongs", kind)


def text_pattern(kind: Kind) -> str:
    """Regular expression (ECMA 262) that all text of this kind matches; looser than the reader."""
    if kind.form == "ratio":
        return r"^\s*1\s*:\s*[0-9]+(\.[0-9]+)?\s*$"
    names = [*kind.units, *kind.spellings]
    endings = [_unit_pattern(name) for name in names]
    if kind.form == "resistance":
        endings.append("[RKkMG][0-9]*")
    width = "" if not kind.tolerated else r"(\s*(±|\+/-|\+-).*)?"
    body = rf"\s*[-+−–]?.*[0-9½¼¾⅛⅜⅝⅞.]\s*({'|'.join(endings)})\s*"
    if kind.form == "resistance":
        body = rf"({body}|\s*[RKkMG][0-9]+\s*)"
    if kind.form in ("grade", "share"):
        body = rf"({body}|\s*(level|[-−–]?\s*1 in .*))"
    return f"^{body}{width}$"


def _unit_pattern(name: str) -> str:
    """Pattern of one unit with the signs people type for its letters."""
    signs = {"u": "[uµμ]", "ohm": "(ohm|Ω|\u2126)", "deg": "(deg|°|º)", "2": r"\^?[2²]", " ": "[ ·⋅*]*"}
    pattern = re.sub(r"ohm|deg|[u2 ]", lambda match: signs[match.group()], name.replace("/", r" ?\/ ?"))
    return pattern.replace(" ?", "[ ]?") if "/" in name else pattern


def parse_date(text: str) -> datetime.date:
    """Return the day written as year-month-day; raises QuantityError."""
    match = _DATE.fullmatch(text.strip())
    if match is None:
        raise QuantityError(
            f"{_short(text.strip())} is not a date", 'write year-month-day as in "{example}"', "2026-03-02"
        )
    try:
        return datetime.date(int(match[1]), int(match[2]), int(match[3]))
    except ValueError:
        raise QuantityError(
            f"{_quoted(text.strip())} is not in the calendar",
            'write year-month-day as in "{example}"',
            "2026-03-02",
        ) from None


class DateField:
    """Tells pydantic how to read, write and describe a date."""

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Return the schema of a field read by `parse_date`."""
        return core_schema.no_info_plain_validator_function(
            self._read,
            serialization=core_schema.plain_serializer_function_ser_schema(lambda day: day.isoformat()),
        )

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        """Return what an editor can check and show."""
        return {"type": "string", "pattern": "^[0-9]{4}-[0-9]{2}-[0-9]{2}$", "examples": ["2026-03-02"]}

    def _read(self, value: Any) -> datetime.date:
        if isinstance(value, datetime.date):
            return value
        try:
            return parse_date(str(value))
        except QuantityError as error:
            raise PydanticCustomError(
                "quantity",
                "{problem}; {advice}",
                {"problem": error.problem, "advice": error.advice, "example": error.example},
            ) from None


Length = Annotated[Quantity, QuantityField(units.LENGTH)]
LengthOrZero = Annotated[Quantity, QuantityField(units.LENGTH.or_zero())]
Mass = Annotated[Quantity, QuantityField(units.MASS)]
Time = Annotated[Quantity, QuantityField(units.TIME)]
TimeOrZero = Annotated[Quantity, QuantityField(units.TIME.or_zero())]
Voltage = Annotated[Quantity, QuantityField(units.VOLTAGE)]
VoltageOrZero = Annotated[Quantity, QuantityField(units.VOLTAGE.or_zero())]
Current = Annotated[Quantity, QuantityField(units.CURRENT)]
CurrentOrZero = Annotated[Quantity, QuantityField(units.CURRENT.or_zero())]
Resistance = Annotated[Quantity, QuantityField(units.RESISTANCE)]
Power = Annotated[Quantity, QuantityField(units.POWER)]
Inductance = Annotated[Quantity, QuantityField(units.INDUCTANCE)]
Capacitance = Annotated[Quantity, QuantityField(units.CAPACITANCE)]
Frequency = Annotated[Quantity, QuantityField(units.FREQUENCY)]
Speed = Annotated[Quantity, QuantityField(units.SPEED)]
Rotation = Annotated[Quantity, QuantityField(units.ROTATION)]
RotationOrZero = Annotated[Quantity, QuantityField(units.ROTATION.or_zero())]
Torque = Annotated[Quantity, QuantityField(units.TORQUE)]
TorqueOrZero = Annotated[Quantity, QuantityField(units.TORQUE.or_zero())]
Inertia = Annotated[Quantity, QuantityField(units.INERTIA)]
Temperature = Annotated[Quantity, QuantityField(units.TEMPERATURE)]
TemperatureRise = Annotated[Quantity, QuantityField(units.TEMPERATURE_RISE)]
ThermalResistance = Annotated[Quantity, QuantityField(units.THERMAL_RESISTANCE)]
EmfConstant = Annotated[Quantity, QuantityField(units.EMF_CONSTANT)]
Angle = Annotated[Quantity, QuantityField(units.ANGLE)]
Force = Annotated[Quantity, QuantityField(units.FORCE)]
Tolerance = Annotated[Quantity, QuantityField(units.TOLERANCE)]
Fraction = Annotated[Quantity, QuantityField(units.FRACTION)]
FractionOrZero = Annotated[Quantity, QuantityField(units.FRACTION.or_zero())]
Grade = Annotated[Quantity, QuantityField(units.GRADE)]
Decimal = Annotated[Quantity, QuantityField(units.DECIMAL)]
Money = Annotated[Quantity, QuantityField(units.MONEY)]
ScaleRatio = Annotated[Quantity, QuantityField(units.SCALE_RATIO)]
PlainDate = Annotated[datetime.date, DateField()]
