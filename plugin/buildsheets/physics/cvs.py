"""Configuration variables of a DCC decoder: what NMRA S-9.2.2 makes of them.

The curve functions give the drive as a fraction of the rectified supply. Only the standard's own meanings are
here; CV47 to CV64 have none, so what a maker does with them stays in the record of the decoder.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

SPEED_STEPS = 126
"""Usable steps of 128-step mode [-]: codes 2 to 127 (NMRA S-9.2.1 C, source opened)."""

TABLE_ENTRIES = 28
"""Drive levels of the speed table, CV67 to CV94 [-] (NMRA S-9.2.2, source opened)."""

FULL_DRIVE = 255
"""CV value that stands for the whole rectified supply, linear from 0 [-] (NMRA S-9.2.2, source opened)."""

UNITY_TRIM = 128
"""Value of CV66 and CV95 that leaves the drive as it is [-] (NMRA S-9.2.2, source opened)."""

MOMENTUM_UNIT = 0.896
"""Time from stop to the top step per unit of CV3 or CV4 [s] (NMRA S-9.2.2, source opened)."""

LONG_ADDRESS_LIMIT = 10239
"""Highest long address, CV17 = 231 and CV18 = 255 [-] (computed from NMRA S-9.2.2)."""

ACKNOWLEDGE_CURRENT = 0.060
"""Least rise in current of the acknowledge pulse, held for 6 ms [A] (NMRA S-9.2.3 D, source opened)."""


@dataclass(frozen=True)
class StandardCV:
    """One row of the standard's table of configuration variables.

    Attributes
    ----------
    first, last : int
        Numbers the row covers [-]; equal for a single CV.
    name : str
        Name the standard gives it [text].
    requirement : str
        M mandatory, R recommended, O optional [text].
    lowest, highest : int
        Values the standard allows [-].
    default : int or None
        Value set at the works, where the standard asks for one [-].
    """

    first: int
    last: int
    name: str
    requirement: str
    lowest: int
    highest: int
    default: int | None = None


# NMRA S-9.2.2 (July 2012), Table 1 and the text of each CV; source opened.
STANDARD_CVS: tuple[StandardCV, ...] = (
    StandardCV(1, 1, "Primary address", "M", 0, 127, 3),
    StandardCV(2, 2, "Vstart", "R", 0, 255),
    StandardCV(3, 3, "Acceleration rate", "R", 0, 255),
    StandardCV(4, 4, "Deceleration rate", "R", 0, 255),
    StandardCV(5, 5, "Vhigh", "O", 0, 255),
    StandardCV(6, 6, "Vmid", "O", 0, 255),
    StandardCV(7, 7, "Version", "M", 0, 255),
    StandardCV(8, 8, "Maker id", "M", 0, 255),
    StandardCV(9, 9, "Total PWM period", "O", 0, 255),
    StandardCV(10, 10, "EMF feedback cut-out", "O", 1, 128),
    StandardCV(11, 11, "Packet time-out", "R", 0, 255),
    StandardCV(12, 12, "Power source conversion", "O", 0, 255),
    StandardCV(13, 13, "Analogue functions F1-F8", "O", 0, 255),
    StandardCV(14, 14, "Analogue functions FL F9-F12", "O", 0, 255),
    StandardCV(15, 15, "Decoder lock key", "O", 0, 255),
    StandardCV(16, 16, "Decoder lock id", "O", 0, 255),
    StandardCV(17, 17, "Extended address high", "O", 192, 231),
    StandardCV(18, 18, "Extended address low", "O", 0, 255),
    StandardCV(19, 19, "Consist address", "O", 0, 255),
    StandardCV(21, 21, "Consist active F1-F8", "O", 0, 255),
    StandardCV(22, 22, "Consist active FL F9-F12", "O", 0, 255),
    StandardCV(23, 23, "Acceleration adjustment", "O", 0, 255),
    StandardCV(24, 24, "Deceleration adjustment", "O", 0, 255),
    StandardCV(25, 25, "Speed table select / mid step", "O", 0, 154),
    StandardCV(27, 27, "Automatic stop", "O", 0, 255),
    StandardCV(28, 28, "Bi-directional configuration", "O", 0, 255),
    StandardCV(29, 29, "Configuration", "M", 0, 255),
    StandardCV(30, 30, "Error information", "O", 0, 255, 0),
    StandardCV(31, 31, "Index high", "O", 16, 255),
    StandardCV(32, 32, "Index low", "O", 0, 255),
    StandardCV(33, 46, "Output map", "O", 0, 255),
    StandardCV(47, 64, "Maker specific", "O", 0, 255),
    StandardCV(65, 65, "Kick start", "O", 0, 255),
    StandardCV(66, 66, "Forward trim", "O", 0, 255),
    StandardCV(67, 94, "Speed table", "O", 0, 255),
    StandardCV(95, 95, "Reverse trim", "O", 0, 255),
    StandardCV(105, 106, "User id", "O", 0, 255),
    StandardCV(112, 256, "Maker specific", "O", 0, 255),
)

# NMRA S-9.2.2 CV29; source opened. Weight, meaning when clear, meaning when set. Bit 6 is reserved.
CONFIGURATION_BITS: tuple[tuple[int, str, str], ...] = (
    (1, "normal direction", "direction reversed"),
    (2, "14 steps", "28 or 128 steps"),
    (4, "digital only", "other power source allowed"),
    (8, "bi-directional communication off", "bi-directional communication on"),
    (16, "curve from CV2, CV5 and CV6", "speed table"),
    (32, "short address", "long address"),
    (128, "locomotive decoder", "accessory decoder"),
)

RESERVED_BIT = 64
"""Bit 6 of CV29, which the standard keeps for itself [-] (NMRA S-9.2.2, source opened)."""


def standard_cv(number: int) -> StandardCV | None:
    """Row of the standard's table that covers a CV number.

    Parameters
    ----------
    number : int
        CV number [-].

    Returns
    -------
    StandardCV or None
        The row; None where the standard reserves the number.

    References
    ----------
    NMRA S-9.2.2 (July 2012), Table 1; source opened.
    """
    return next((row for row in STANDARD_CVS if row.first <= number <= row.last), None)


def _byte(value: int, name: str) -> int:
    if not 0 <= value <= FULL_DRIVE:
        raise ValueError(f"{name} must be 0 to 255, not {value}")
    return value


def drive_volts(level: npt.ArrayLike, supply: npt.ArrayLike) -> Floats:
    """Mean motor voltage that a drive level asks for.

    Parameters
    ----------
    level : array_like
        Value of CV2, CV5, CV6 or of a table entry, 0 to 255 [-].
    supply : array_like
        Rectified supply [V].

    Returns
    -------
    ndarray
        Voltage, broadcast over the inputs [V].

    References
    ----------
    NMRA S-9.2.2, CV2: 255 is the full rectified supply, 0 none, linear; source opened.
    """
    volts: Floats = np.asarray(supply, dtype=float) * np.asarray(level, dtype=float) / FULL_DRIVE
    return volts


def _used(level: int | None, name: str) -> bool:
    return level is not None and _byte(level, name) > 1


def three_point_curve(
    vstart: int | None = None,
    vmid: int | None = None,
    vhigh: int | None = None,
    steps: int = SPEED_STEPS,
    middle_step: int | None = None,
) -> Floats:
    """Drive over the speed steps from CV2, CV6 and CV5, joined by straight lines.

    Parameters
    ----------
    vstart : int, optional
        CV2, drive at step 1 [-]. Without it the line starts from nothing at stop, so that a bare decoder
        drives step s with s/steps.
    vmid : int, optional
        CV6, drive at the middle step [-]; 0 and 1 mean not used.
    vhigh : int, optional
        CV5, drive at the top step [-]; 0 and 1 mean not used, which is full drive.
    steps : int
        Steps of the mode: 14, 28 or 126 [-].
    middle_step : int, optional
        Step that CV6 stands for [-]; half of `steps` unless CV25 moves it.

    Returns
    -------
    ndarray
        Shape (steps,), fraction of the rectified supply at steps 1 to `steps` [-].

    Raises
    ------
    ValueError
        A CV outside 0 to 255.

    Notes
    -----
    The standard does not say how the points are joined; straight lines are common practice.

    References
    ----------
    NMRA S-9.2.2, CV2, CV5, CV6, CV25; source opened.
    """
    first = (0, 0.0) if vstart is None else (1, _byte(vstart, "CV2") / FULL_DRIVE)
    points = [first]
    if vmid is not None and _used(vmid, "CV6"):
        points.append((steps // 2 if middle_step is None else middle_step, vmid / FULL_DRIVE))
    top = vhigh if vhigh is not None and _used(vhigh, "CV5") else FULL_DRIVE
    points.append((steps, top / FULL_DRIVE))
    places, fractions = zip(*points, strict=True)
    curve: Floats = np.interp(np.arange(1, steps + 1), places, fractions)
    return curve


def table_curve(table: Sequence[int], steps: int = SPEED_STEPS) -> Floats:
    """Drive over the speed steps from the 28-entry table CV67 to CV94.

    Parameters
    ----------
    table : sequence of int
        The 28 entries, CV67 first [-].
    steps : int
        Steps of the mode: 28 or 126 [-].

    Returns
    -------
    ndarray
        Shape (steps,), fraction of the rectified supply at steps 1 to `steps` [-].

    Raises
    ------
    ValueError
        Not 28 entries, or one outside 0 to 255.

    Notes
    -----
    Entry n sits at step ``steps * n / 28``, so that entry 28 is the top step; straight lines between. Below
    entry 1 the line comes from nothing at stop, the one drive that the standard fixes there. Some decoders
    hold entry 1 down to step 1 instead; of 126 steps this touches only the first four. Common practice.

    References
    ----------
    NMRA S-9.2.2, CV67 to CV94: step n of 28 in CV(66 + n); source opened.
    """
    if len(table) != TABLE_ENTRIES:
        raise ValueError(f"a speed table has {TABLE_ENTRIES} entries, not {len(table)}")
    levels = [_byte(level, f"CV{67 + index}") for index, level in enumerate(table)]
    places = steps * np.arange(TABLE_ENTRIES + 1) / TABLE_ENTRIES
    curve: Floats = np.interp(np.arange(1, steps + 1), places, np.array([0, *levels]) / FULL_DRIVE)
    return curve


def points_curve(points: Sequence[tuple[float, float]], steps: int = SPEED_STEPS) -> Floats:
    """Drive over the speed steps from a list of points, for a curve that the maker fixed.

    Parameters
    ----------
    points : sequence of (step, fraction)
        Step [-], rising, and fraction of the rectified supply [-]. Straight lines between, from nothing at
        stop to the first point, and level after the last.
    steps : int
        Steps of the mode [-].

    Returns
    -------
    ndarray
        Shape (steps,), fraction of the rectified supply at steps 1 to `steps` [-].

    Raises
    ------
    ValueError
        No point, steps that do not rise or lie outside the mode, or a fraction outside 0 to 1.

    References
    ----------
    Straight lines between points: common practice.
    """
    if not points:
        raise ValueError("a curve needs at least one point")
    places, fractions = np.array(points, dtype=float).T
    if np.any(np.diff(places) <= 0) or places[0] < 0 or places[-1] > steps:
        raise ValueError(f"steps of a curve must rise and lie within 0 to {steps}")
    if np.any((fractions < 0) | (fractions > 1)):
        raise ValueError("drive fractions must lie within 0 to 1")
    if places[0] > 0:
        places, fractions = np.insert(places, 0, 0.0), np.insert(fractions, 0, 0.0)
    curve: Floats = np.interp(np.arange(1, steps + 1), places, fractions)
    return curve


def trim_factor(value: int | None) -> float:
    """Factor that CV66 or CV95 puts on the drive.

    Parameters
    ----------
    value : int or None
        CV value, 0 to 255 [-]; None and 0 mean that the decoder has no trim.

    Returns
    -------
    float
        Factor [-], 1 where there is no trim.

    Raises
    ------
    ValueError
        A value outside 0 to 255.

    References
    ----------
    NMRA S-9.2.2, CV66 and CV95: n/128, 0 is "not implemented"; source opened.
    """
    if value is None or _byte(value, "a trim") == 0:
        return 1.0
    return value / UNITY_TRIM


def duty_curve(
    vstart: int | None = None,
    vmid: int | None = None,
    vhigh: int | None = None,
    *,
    table: Sequence[int] | None = None,
    points: Sequence[tuple[float, float]] | None = None,
    forward_trim: int | None = None,
    reverse_trim: int | None = None,
    direction: str = "forward",
    steps: int = SPEED_STEPS,
    middle_step: int | None = None,
) -> Floats:
    """On-time fraction over the speed steps as the decoder is set, for one direction.

    Parameters
    ----------
    vstart, vmid, vhigh : int, optional
        CV2, CV6, CV5 [-]; see `three_point_curve`.
    table : sequence of int, optional
        CV67 to CV94 [-]; takes the place of the three points.
    points : sequence of (step, fraction), optional
        A curve the maker fixed [-]; takes the place of the three points.
    forward_trim, reverse_trim : int, optional
        CV66 and CV95 [-]. The standard counts them to the table (CV29 bit 4); pass them with another curve
        only for a decoder that trims that too.
    direction : {"forward", "reverse"}
        Direction whose trim applies [text].
    steps : int
        Steps of the mode [-].
    middle_step : int, optional
        Step that CV6 stands for [-].

    Returns
    -------
    ndarray
        Shape (steps,), fraction of full drive at steps 1 to `steps`, at most 1 [-].

    Raises
    ------
    ValueError
        Both a table and points, an unknown direction, or a value out of its range.

    References
    ----------
    NMRA S-9.2.2, CV2, CV5, CV6, CV66 to CV95; source opened.
    """
    if direction not in ("forward", "reverse"):
        raise ValueError(f"direction must be forward or reverse, not {direction!r}")
    if table is not None and points is not None:
        raise ValueError("a curve comes from a table or from points, not from both")
    if table is not None:
        curve = table_curve(table, steps)
    elif points is not None:
        curve = points_curve(points, steps)
    else:
        curve = three_point_curve(vstart, vmid, vhigh, steps, middle_step)
    trim = trim_factor(forward_trim if direction == "forward" else reverse_trim)
    return np.minimum(trim * curve, 1.0)


def momentum_time(rate: int, adjustment: int = 0) -> float:
    """Time from stop to the top step, or back.

    Parameters
    ----------
    rate : int
        CV3 or CV4, 0 to 255 [-].
    adjustment : int
        CV23 or CV24, 0 to 255 [-]: bits 0 to 6 are added, or taken off when bit 7 is set.

    Returns
    -------
    float
        Time, the same in every step mode [s].

    Raises
    ------
    ValueError
        A value outside 0 to 255.

    References
    ----------
    NMRA S-9.2.2, CV3, CV4, CV23, CV24; source opened.
    """
    change = _byte(adjustment, "CV23 or CV24") & 127
    total = _byte(rate, "CV3 or CV4") + (-change if adjustment & 128 else change)
    return MOMENTUM_UNIT * min(max(total, 0), FULL_DRIVE)


def momentum_step_time(rate: int, steps: int = SPEED_STEPS, adjustment: int = 0) -> float:
    """Time spent on each speed step while the speed changes.

    Parameters
    ----------
    rate : int
        CV3 or CV4, 0 to 255 [-].
    steps : int
        Steps of the mode [-].
    adjustment : int
        CV23 or CV24 [-]; see `momentum_time`.

    Returns
    -------
    float
        Time per step [s].

    References
    ----------
    NMRA S-9.2.2, CV3: value x 0.896 / number of speed steps in use; source opened.
    """
    return momentum_time(rate, adjustment) / steps


def momentum_rate(time: float) -> int:
    """CV3 or CV4 for a wanted time from stop to the top step, or back.

    Parameters
    ----------
    time : float
        Wanted time, not negative [s].

    Returns
    -------
    int
        Nearest value, at most 255 [-].

    References
    ----------
    NMRA S-9.2.2, CV3 and CV4, solved for the value; computed.
    """
    return min(round(time / MOMENTUM_UNIT), FULL_DRIVE)


def momentum_distance(speed: npt.ArrayLike, rate: int, adjustment: int = 0) -> float:
    """Distance run while the decoder goes through all steps from stop to the top, or back.

    Parameters
    ----------
    speed : array_like, shape (n,)
        Speed along the rail at steps 1 to n [m/s].
    rate, adjustment : int
        As in `momentum_time` [-].

    Returns
    -------
    float
        Distance [m].

    Notes
    -----
    Each step takes the same time. The speed is taken to follow its step and to go evenly to the next one, from nothing
    at stop.

    References
    ----------
    NMRA S-9.2.2, CV3: value x 0.896 / number of speed steps in use; source opened. Trapezoidal rule.
    """
    steps = np.asarray(speed, dtype=float)
    return float(steps.sum() - steps[-1] / 2) * momentum_step_time(rate, steps.size, adjustment)


def pwm_period(value: int) -> float:
    """Period of the motor pulses from CV9.

    Parameters
    ----------
    value : int
        CV9, 0 to 255 [-].

    Returns
    -------
    float
        Period [s]; one over it is the pulse frequency.

    Raises
    ------
    ValueError
        A value outside 0 to 255.

    References
    ----------
    NMRA S-9.2.2, CV9, a recommended formula; source opened.
    """
    mantissa, exponent = _byte(value, "CV9") & 31, value >> 5
    return 1e-6 * (131 + 4 * mantissa) * 2.0**exponent


def pwm_value(period: float) -> int:
    """CV9 whose pulse period is nearest to a wanted one, as a ratio.

    Parameters
    ----------
    period : float
        Wanted period, above zero [s].

    Returns
    -------
    int
        CV9 [-]; 0, the fastest pulses there are, for anything shorter than 131 us.

    References
    ----------
    NMRA S-9.2.2, CV9, solved for the value; computed.
    """
    return min(range(FULL_DRIVE + 1), key=lambda value: abs(math.log(pwm_period(value) / period)))


def feedback_cut_off_step(value: int, steps: int = SPEED_STEPS) -> int:
    """Speed step above which back-EMF control stops, in the mode in use.

    Parameters
    ----------
    value : int
        CV10, 1 to 128 [-].
    steps : int
        Steps of the mode: 14, 28 or 126 [-].

    Returns
    -------
    int
        Step [-]; above the top step it means that control never cuts out.

    Raises
    ------
    ValueError
        CV10 outside 1 to 128, or an unknown mode.

    Notes
    -----
    The standard only says that the low bits are dropped in 14- and 28-step mode. Read as a code instead of a
    step, the 28-step result would be 3 less: print it with "about".

    References
    ----------
    NMRA S-9.2.2, CV10; source opened, the shift computed.
    """
    if not 1 <= value <= 128:
        raise ValueError(f"CV10 must be 1 to 128, not {value}")
    shifts = {14: 3, 28: 2, SPEED_STEPS: 0}
    if steps not in shifts:
        raise ValueError(f"modes have 14, 28 or {SPEED_STEPS} steps, not {steps}")
    return value >> shifts[steps]


def configuration_value(
    *,
    reversed_direction: bool = False,
    steps_28: bool = True,
    other_power: bool = False,
    bidirectional: bool = False,
    speed_table: bool = False,
    long_address: bool = False,
    accessory: bool = False,
) -> int:
    """Value of CV29 for a set of choices.

    Parameters
    ----------
    reversed_direction : bool
        Forward and reverse exchanged in digital mode, bit 0 [-].
    steps_28 : bool
        28 or 128 steps rather than 14, bit 1 [-].
    other_power : bool
        Another power source (CV12) is allowed, bit 2 [-].
    bidirectional : bool
        The decoder may answer, bit 3 [-].
    speed_table : bool
        CV66 to CV95 make the curve, not CV2, CV5 and CV6, bit 4 [-].
    long_address : bool
        CV17 and CV18 hold the address, not CV1, bit 5 [-].
    accessory : bool
        Accessory decoder, bit 7 [-].

    Returns
    -------
    int
        CV29 [-].

    References
    ----------
    NMRA S-9.2.2, CV29; source opened.
    """
    choices = (reversed_direction, steps_28, other_power, bidirectional, speed_table, long_address, accessory)
    return sum(bit[0] for bit, chosen in zip(CONFIGURATION_BITS, choices, strict=True) if chosen)


def configuration_terms(value: int) -> tuple[tuple[int, str], ...]:
    """Terms of the sum that makes CV29, for writing it out.

    Parameters
    ----------
    value : int
        CV29, 0 to 255 [-].

    Returns
    -------
    tuple of (int, str)
        What each bit adds, 0 or its weight [-], and what that means; lowest bit first.

    Raises
    ------
    ValueError
        A value outside 0 to 255.

    References
    ----------
    NMRA S-9.2.2, CV29; source opened.
    """
    _byte(value, "CV29")
    return tuple(
        (weight, when_set) if value & weight else (0, when_clear) for weight, when_clear, when_set in CONFIGURATION_BITS
    )


def long_address_cvs(address: int) -> tuple[int, int]:
    """CV17 and CV18 for a long address.

    Parameters
    ----------
    address : int
        Address, 0 to 10239 [-].

    Returns
    -------
    tuple of int
        CV17 and CV18 [-]. They are a pair: a write to CV17 takes effect when CV18 is written.

    Raises
    ------
    ValueError
        An address out of range.

    References
    ----------
    NMRA S-9.2.2, CV17 and CV18; source opened, formula computed.
    """
    if not 0 <= address <= LONG_ADDRESS_LIMIT:
        raise ValueError(f"a long address is 0 to {LONG_ADDRESS_LIMIT}, not {address}")
    return 192 + address // 256, address % 256


def long_address(cv17: int, cv18: int) -> int:
    """Long address that CV17 and CV18 hold.

    Parameters
    ----------
    cv17 : int
        192 to 231 [-].
    cv18 : int
        0 to 255 [-].

    Returns
    -------
    int
        Address, 0 to 10239 [-].

    Raises
    ------
    ValueError
        A value out of its range.

    References
    ----------
    NMRA S-9.2.2, CV17 and CV18; source opened, formula computed.
    """
    if not 192 <= cv17 <= 231:
        raise ValueError(f"CV17 must be 192 to 231, not {cv17}")
    return (cv17 - 192) * 256 + _byte(cv18, "CV18")
