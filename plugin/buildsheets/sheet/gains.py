"""What a measurement would give, in a builder's words instead of the names of the figures."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from buildsheets.languages import translated

# The longest beginning that fits is used, so that single figures can be named apart from their group.
WORDS: dict[str, str] = {
    "bank": "the drawing of the resistors",
    "bench_points": "the bench points on the chart",
    "heat_points": "the heat points on the chart",
    "calibration": "what the bench teaches",
    "cost": "the cost",
    "cost.currency": "the currency of the prices",
    "curves": "the speed curves",
    "decoder": "the decoder’s settings",
    "decoder.advised": "the advised settings",
    "decoder.advised_error_mph": "how near the settings come to the wanted curve",
    "decoder.address": "the address and CV29",
    "decoder.configuration": "the address and CV29",
    "decoder.continuous_margin": "the decoder’s margin",
    "decoder.curve": "the wanted speed curve",
    "decoder.instead": "what does the job of what the decoder lacks",
    "decoder.locked_rotor": "the current with the rotor held",
    "decoder.momentum": "time and distance to start and to stop",
    "decoder.peak_margin": "the decoder’s margin",
    "drive": "the volts of the drive",
    "dropper": "the dropper’s heat",
    "dropper.share_of_rating": "the dropper’s share of its rating",
    "feedback": "what the feedback sees",
    "feedback.loop": "how the closed loop answers",
    "feedback.tuning": "the routine for the feedback’s settings",
    "fit": "the fit plan",
    "gearing": "the gear ratio",
    "gearing.stages": "the mesh of the gears",
    "haulage": "what it hauls",
    "haulage.curve_resistance_n": "what the curve asks of the train",
    "haulage.slip_limit_n": "where the wheels slip",
    "haulage.slips_before_stall": "whether it slips before it stalls",
    "haulage.speed_drop": "how much the train slows it",
    "haulage.steepest_grade": "the steepest grade",
    "haulage.tractive_force_n": "the most it pulls",
    "haulage.train_pull": "the pull of the stated train",
    "haulage.train_speed": "its speed with the stated train",
    "haulage.vehicles": "how many vehicles follow",
    "head.drive": "the drive in the title block",
    "head.prototype_top_mph": "the comparison with the prototype’s speed",
    "head.scale_ratio": "the scale",
    "highest_volts": "heat and current at the highest track volts",
    "hold_points": "the windows of the hold points",
    "lamps": "the resistors of the lamps",
    "lamps.fitted_current_a": "the current of the lamps as fitted",
    "motor": "the motor’s data",
    "motor.winding": "the winding’s heat",
    "motor.stall_time_limit_s": "how long the motor bears a stall",
    "options": "the ways to the target",
    "options_rejected": "why other ways lose",
    "parts": "the parts list",
    "sound": "the chuffs",
    "speakers": "whether the speakers suit the amplifier",
    "speed": "the speeds",
    "speed.top_scale_mph_band": "the band of the top speed",
    "speed_card": "the speed card",
    "spread": "the bands",
    "start": "the first moving step",
    "start.creep": "how slowly it creeps",
    "start.stall_step": "the last moving step",
    "stay_alive": "what the stay-alive does",
    "stay_alive.charging": "what charging the stay-alive takes",
    "stay_alive.hold_time_s": "how long the stay-alive lasts",
    "stay_alive.rated_voltage_v": "whether the stay-alive bears the rails’ volts",
    "trials": "the predictions beside the trials",
    "wiring": "the wiring diagram",
}


@lru_cache(maxsize=1024)
def in_words(key: str) -> str | None:
    """Return the words for a figure, or None where there are none.

    Parameters
    ----------
    key : str
        Name of a figure or of a group of them, parts parted by dots.
    """
    plain = ".".join(part for part in key.split(".") if not part.isdigit())
    fitting = [beginning for beginning in WORDS if f"{plain}.".startswith(beginning if "." in beginning else f"{beginning}.")]
    return WORDS[max(fitting, key=len)] if fitting else None


def would_give(keys: Sequence[str]) -> str:
    """Return what a value would give, each thing once; a figure without words stands under its own name.

    Parameters
    ----------
    keys : sequence of str
        Names of figures that wait for it.
    """
    return ", ".join(dict.fromkeys(translated(in_words(key) or key) for key in keys))
