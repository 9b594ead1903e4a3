"""An invented but plausible build, as figures: OO 0-6-2 tank with a can motor and a dropper; and one of which nothing is known."""

from __future__ import annotations

from copy import deepcopy
from typing import cast

from buildsheets.figures.format import Curve, Figures

STEPS = list(range(1, 127))


def _curve(start: int, top: float, power: float = 1.15) -> Curve:
    span = 126 - start
    return [0.0 if s < start else round(top * ((s - start + 1) / (span + 1)) ** power, 4) for s in STEPS]


def _times(values: Curve, factor: float) -> Curve:
    return [None if v is None else round(v * factor, 5) for v in values]


def _named(name: str, values: Curve, banded: bool = False, dropper: str = "fitted") -> dict[str, object]:
    return {
        "name": name, "load": "train", "grade": "level", "feedback": "off", "dropper": dropper,
        "direction": "forward", "scale_mph": values,
        "scale_mph_low": _times(values, 0.92) if banded else None,
        "scale_mph_high": _times(values, 1.08) if banded else None,
    }


def _answer(event: str, begin: float, overshoot: tuple[float, float]) -> dict[str, object]:
    """Answers that come to 34 mph, and with feedback off to 21 mph."""
    return {"event": event} | {
        name: {
            "scale_mph": [round(end + (start - end) * 0.7**n, 3) for n in range(len(TIMES))], "overshoot_share": over,
            "dip_share": 0.06, "end_share": share, "settling_time_s": 0.5, "stalls": False,
        }
        for name, start, end, over, share in (
            ("suited", begin, 34.0, overshoot[0], 1.0), ("advised", begin, 33.9, overshoot[1], 1.0),
            ("off", begin and 23.0, 21.0, 0.0, 0.91 if begin else 1.0),
        )
    }


def _wired(start: str, end: str, colour: str, pin: int | None) -> dict[str, object]:
    return {"from": start, "to": end, "wire_colour": colour, "name": f"{start} to {end}", "pin": pin, "note": ""}


TIMES = [round(0.02 * n, 2) for n in range(41)]
HELD: Curve = [round(min(0.57 * s, 61.4 - (126 - s) * 0.02), 4) for s in STEPS]
BUILT = _curve(11, 61.4)
HEAT: Curve = [round(38 + 64 * (s / 126) * (1.55 - s / 126) / 0.6, 2) for s in STEPS]

ALONE: Curve = [0.0 if level < 18 else round(64.9 * ((level - 17) / 238) ** 1.15, 4) for level in range(256)]

SAMPLE: dict[str, object] = {
    "format": 1,
    "slug": "0-6-2t-tidewell",
    "title": "0-6-2 tank “Tidewell” with a can motor",
    "head": {
        "number": "SLR-014", "status": "running", "aside_because": None, "route": ["motor swap", "dropper", "decoder"],
        "builder": "M. Marsh", "started": "2024-02-03", "finished": "2024-05-18", "changed": "2024-06-02",
        "revision_letter": "C", "revision_hash": "8f3a21c", "scale": "OO", "scale_ratio": 76.2,
        "prototype_type": "0-6-2 tank", "prototype_class": "N1 mixed traffic", "prototype_top_mph": 55.0,
        "drive": "spur 11:38, worm 1:24, 82.9 : 1", "drive_in": "middle axle",
        "summary": "A five-pole can in place of an open-frame motor, slowed at the top by two resistors.",
        "bench_time_h": 6.5, "formerly": [],
    },
    "glance": [
        {"id": "top_speed", "label": "Top scale speed", "value": "56 to 66 mph", "level": "caution",
         "sentence": "Above the prototype’s 55 mph; limit it with CV5."},
        {"id": "first_step", "label": "First moving step", "value": "step 11", "level": "ok",
         "sentence": "Starts smoothly with the train."},
        {"id": "heat", "label": "Dropper heat", "value": "102 °C", "level": "note",
         "sentence": "Keep the resistors 5 mm clear of the shell."},
        {"id": "decoder", "label": "Decoder margin", "value": "2.1", "level": "ok",
         "sentence": "The decoder gives twice what the held rotor takes."},
        {"id": "mesh", "label": "Contact ratio", "value": "0.96 to 1.21", "level": "stop",
         "sentence": "An unshifted pinion of 8 teeth loses contact between teeth."},
        {"id": "cost", "label": "Cost", "value": "31.40 GBP", "level": "ok", "sentence": "One part has no price."},
    ],
    "verdicts": [
        {"subject": "winding", "level": "caution", "message": "Held still at full step the winding passes its limit in 40 s."},
        {"subject": "decoder", "level": "ok", "message": "Fits."},
    ],
    "cautions": [
        {"id": "iron", "shape": "hazard", "title": "Hot iron and fumes", "text": "Stand the iron in its rest and "
         "work where the air moves.", "because": "wires are soldered", "basis": "common practice"},
        {"id": "live", "shape": "do not", "title": "power the track before the insulation check",
         "text": "Both motor tags must be free of the chassis first.", "because": "the old motor was live to chassis",
         "basis": "common practice"},
    ],
    "assumed": [
        {"name": "motor.inductance", "label": "Motor inductance", "value": 0.0063, "unit": "H",
         "why": "0.3 ms times resistance, iron core", "basis": "from memory"},
        {"name": "dropper.air_inside", "label": "Air inside the body", "value": 38.0, "unit": "°C",
         "why": "closed plastic body", "basis": "common practice"},
        {"name": "mechanism.kind", "label": "Kind of mechanism", "value": "worm and spur", "unit": "",
         "why": "not stated", "basis": "common practice"},
    ],
    "missing": [
        {"name": "decoder.peak_current", "needed_for": ["decoder.peak_margin"],
         "how_to_measure": "Read the peak rating in the decoder’s leaflet."},
    ],
    "gearing": {"ratio": 82.9, "efficiency": 0.31, "back_drive_efficiency": -0.4, "stages": [
        {"kind": "spur", "driver_teeth": 11, "driven_teeth": 38, "ratio": 38 / 11, "efficiency": 0.9, "contact_ratio": 1.09,
         "contact_ratio_span": [0.96, 1.21], "contact_ratio_textbook": 1.3, "working_pressure_angle_deg": 21.0,
         "centre_distance_mm": 9.87, "backlash_mm": 0.03, "undercut": True, "verdict": "marginal", "level": "caution", "stage": 1,
         "shares_driver": False, "module_mm": 0.4, "driver_reference_diameter_mm": 4.4, "driven_reference_diameter_mm": 15.2,
         "driver_tip_diameter_mm": 5.3, "driven_tip_diameter_mm": 16.0},
        {"kind": "worm", "driver_teeth": 1, "driven_teeth": 24, "ratio": 24.0, "efficiency": 0.45, "contact_ratio": None,
         "contact_ratio_span": None, "contact_ratio_textbook": None, "working_pressure_angle_deg": None,
         "centre_distance_mm": 7.05, "backlash_mm": None, "undercut": None, "verdict": None, "level": None, "stage": 2,
         "shares_driver": False, "module_mm": 0.4, "driver_reference_diameter_mm": 4.5, "driven_reference_diameter_mm": 9.6,
         "driver_tip_diameter_mm": 5.3, "driven_tip_diameter_mm": 10.4},
    ]},
    "motor": {
        "name": "12 x 20 mm five-pole can, 12 V", "kind": "iron core", "resistance_ohm": 21.0,
        "emf_constant_v_s_per_rad": 0.0081, "inductance_h": 0.0063, "rotor_inertia_kg_m2": 1.2e-7,
        "running_torque_n_m": 0.0004, "mechanism_torque_n_m": 0.0003, "breakaway_torque_n_m": 0.0009,
        "stall_current_a": 0.57, "no_load_rpm": 13800.0, "nominal_voltage_v": 12.0, "winding_power_w": None,
        "winding_temperature_c": None, "winding_limit_c": 130.0, "stall_time_limit_s": 40.0,
    },
    "drive": {"kind": "decoder", "bus_voltage_v": 13.2, "pwm_frequency_hz": 16000.0, "off_mode": "brake"},
    "dropper": {
        "text": "2 x 47 ohm 0.5 W in parallel", "resistance_ohm": 23.5, "diode_pairs": 0, "worst_step": 98,
        "running_power_w": 0.62, "power_each_w": 0.31, "stall_power_w": 1.9, "bypass_power_w": None, "resistor_temperature_c": 102.0,
        "diode_temperature_c": None, "stall_temperature_c": 171.0, "temperature_band_c": [91.0, 114.0], "share_of_rating": 0.74, "air_inside_c": 38.0,
        "temperature_over_steps_c": HEAT, "power_each_over_steps_w": _times(HEAT, 0.003),
        "temperature_limits": [
            {"label": "plastic softens", "value": 85.0, "basis": "from memory"},
            {"label": "resistor rating", "value": 155.0, "basis": "data sheet"},
        ],
    },
    "speed": {
        "step": STEPS, "duty": [round(s / 126, 6) for s in STEPS], "scale_mph": BUILT,
        "scale_km_h": _times(BUILT, 1.609344), "true_mm_per_s": _times(BUILT, 5.867), "motor_rpm": _times(BUILT, 190.0),
        "mean_current_a": _times(BUILT, 0.003), "rms_current_a": _times(BUILT, 0.0034),
        "motor_voltage_v": _times(BUILT, 0.15), "dropper_power_w": _times(BUILT, 0.01),
        "top_scale_mph": 61.4, "top_scale_mph_band": [56.5, 66.3],
    },
    "start": {"start_step": 11, "stall_step": 7, "creep_from_step": 9, "creep_scale_mph": 0.6, "start_step_band": [9.0, 14.0]},
    "curves": [
        _named("as built", BUILT, banded=True),
        _named("before", _curve(24, 112.0, 0.9), dropper="none"),
        _named("without the dropper", _curve(7, 83.0), dropper="none"),
        _named("as built, light engine", _curve(9, 64.9)),
        _named("as built, feedback on", HELD) | {"feedback": "on"},
    ],
    "heat_points": [
        {"step": 126, "temperature_c": 61.0, "error_k": 2.0, "load": "light", "feedback": "off", "trial": None},
    ],
    "bench_points": [
        {"step": 40, "scale_mph": 14.6, "error_mph": 1.2, "load": "train", "feedback": "off", "direction": "forward",
         "trial": "T2"},
        {"step": 80, "scale_mph": 35.9, "error_mph": 2.0, "load": "train", "feedback": "off", "direction": "forward",
         "trial": "T2"},
        {"step": 126, "scale_mph": 63.0, "error_mph": 3.1, "load": "train", "feedback": "not stated",
         "direction": "forward", "trial": "T2"},
    ],
    "speed_card": [
        {"step": s, "scale_mph": BUILT[s - 1], "scale_km_h": None, "seconds_over_run": 80.0 / s if s > 8 else None,
         "chuffs_per_second": s / 11 if s > 8 else None, "feedback_on_scale_mph": HELD[s - 1],
         "feedback_on_seconds_over_run": 88.0 / s}
        for s in (8, 16, 32, 48, 64, 80, 96, 112, 126)
    ],
    "run_length_m": 1.0,
    "decoder": {
        "name": "six-pin decoder, 0.75 A", "abilities": {"start_voltage": True, "top_voltage": True, "middle_voltage": False, "speed_table": True},
        "fixed_curve": False, "light_response": {"drive_level": list(range(256)), "scale_mph": ALONE},
        "locked_rotor_current_a": 0.285,
        "locked_rotor_current_without_dropper_a": 0.57, "continuous_margin": 2.1, "peak_margin": None,
        "locked_rotor_current_band_a": [0.26, 0.31], "continuous_margin_band": [1.9, 2.3], "peak_margin_band": None,
        "settings": [
            {"cv": 2, "name": "Vstart", "value": 6, "page": None, "why": "first step below the breakaway step"},
            {"cv": 3, "name": "Acceleration rate", "value": 12, "page": None, "why": "a tank engine with a short train"},
            {"cv": 5, "name": "Vhigh", "value": 220, "page": None, "why": "holds the top to the prototype’s limit"},
            {"cv": 257, "name": "Sound volume", "value": 90, "page": "16, 0", "why": "small loudspeaker"},
        ],
        "lacks": ["It has no middle voltage, CV6; the speed table does that job."],
        "instead": [
            {"lacks": "middle_voltage", "instead": "speed table", "start_step": 5, "heat_w": 0.0, "speed_drop_share": 0.054,
             "error_mph": 0.4, "text": "The speed table bends the curve where CV6 would."},
            {"lacks": "top_voltage", "instead": "dropper", "start_step": 14, "heat_w": 0.62, "speed_drop_share": None,
             "error_mph": None, "text": "A bank before the motor."},
        ],
        "silent": ["pulse period (CV9)"],
        "advised": [
            {"cv": 2, "name": "Vstart", "value": 21, "as_set": 6, "page": None, "why": "step 1 just moves off"},
            {"cv": 29, "name": "Configuration", "value": 18, "as_set": None, "page": None, "why": "written out below"},
            *({"cv": 66 + n, "name": "Speed table", "value": 9 * n, "as_set": None, "page": None, "why": ""} for n in range(1, 29)),
        ],
        "advised_error_mph": {"three_point": 4.2, "table": 0.4},
        "curve": {
            "kind": "straight", "feedback": "off", "from_step": 1, "first_mph": 1.2, "at_step": 126, "wanted_mph": 55.0,
            "reached_mph": 55.0, "full_drive_reaches": True, "target_scale_mph": _curve(1, 55.0, 1.0), "as_set_scale_mph": BUILT,
            "fitted": [
                {"kind": "three-point", "chosen": False, "cvs": [2], "at_steps": [1.0], "values": [21],
                 "drive_level": _curve(1, 255.0, 1.0), "scale_mph": BUILT, "error_mph": 4.2, "error_step": 126},
                {"kind": "table", "chosen": True, "cvs": list(range(67, 95)), "at_steps": [4.5 * n for n in range(1, 29)],
                 "values": [9 * n for n in range(1, 29)], "drive_level": _curve(1, 252.0, 1.0), "scale_mph": _curve(5, 54.8, 1.0),
                 "error_mph": 0.4, "error_step": 77},
            ],
        },
        "configuration": {"value": 18, "text": "2 + 16 = 18: 28 or 128 steps (2), speed table (16)", "as_set": 2,
                          "as_set_text": "2: 28 or 128 steps (2)"},
        "address": {"address": 14, "kind": "short", "text": "Short address 14: CV1 = 14."},
        "momentum": [
            {"name": "recommended", "cv3": 16, "cv4": 11, "start_s": 14.3, "start_true_m": 2.3, "start_full_size_m": 176.0,
             "stop_s": 9.9, "stop_true_m": 1.6, "stop_full_size_m": 121.0},
        ],
        "remarks": ["CV65, kick start: the standard gives no formula. Try on the track."],
    },
    "highest_volts": {"track_v": 16.0, "top_scale_mph": 76.0, "resistor_temperature_c": 131.0, "locked_rotor_current_a": 0.34},
    "feedback": {
        "reading_fraction": [round(0.9 * (s / 126) ** 0.5, 5) for s in STEPS], "visible_from_step": 39,
        "saturation_step": 97, "cut_off_step": 96, "mechanical_time_constant_ms": 120.0, "integral_scale": 0.55,
        "mechanical_time_constant_without_dropper_ms": 66.0, "winding_decay_ms": 0.7, "on": True, "able": True, "shown": True,
        "cut_off_cv10": 96, "emf_v": [round(s / 14, 4) for s in STEPS],
        "reading_v": [round(0.9 * s / 14 * (s / 126) ** 0.5, 4) for s in STEPS], "measuring_resistance_ohm": 1e5,
        "diodes_hide": True, "bypass_offered_ohm": 1000.0, "reading_with_bypass_v": [round(0.99 * s / 14, 4) for s in STEPS],
        "visible_from_step_with_bypass": 1, "closed_loop_scale_mph": HELD, "cut_off_set": 128,
        "loop": {
            "step": 60, "sample_period_ms": 10.0, "p_ratio": 1.0, "i_ratio": 0.55, "gain_margin": [6.0, 6.4],
            "phase_margin_deg": [63.0, 76.0], "wanted_scale_mph": 34.0, "time_s": TIMES,
            "start": _answer("Set off to step 60 at once", 0.0, (0.19, 0.02)),
            "grade": _answer("Meeting 1 in 60 at step 60", 34.0, (0.0, 0.0)),
        },
        "tuning": {
            "routine": [
                {"do": "Feedback off. Run it warm.", "look_for": "An even run.", "then": "Cure tight spots first."},
                {"do": "Raise P.", "look_for": "A fast buzz.", "then": "Go back to half that P."},
            ],
            "next": {"text": "I from 40 to 22.", "because": "With the dropper the motor answers more slowly.", "trial": "T2"},
        },
    },
    "haulage": {
        "tractive_force_n": 0.47, "slip_limit_n": 0.47, "vehicles_level": 29, "vehicles_on_grade": 12,
        "vehicles_on_straight_grade": 12, "curve_resistance_n": None,
        "stall_force_n": 0.72, "slips_before_stall": True, "speed_drop_share": 0.054,
        "speed_drop_share_without_dropper": 0.028, "steepest_grade": 0.04,
        "pull_n": [round(0.018 * n, 4) for n in range(41)],
        "pull_speed_mph": [round(64.9 * (1 - n / 40), 4) for n in range(41)],
        "train_pull_level_n": 0.065, "train_speed_level_mph": 61.4,
        "train_pull_on_grade_n": 0.183, "train_speed_on_grade_mph": 48.4,
    },
    "sound": None,
    "speakers": {"count": 2, "join": "series", "joined_impedance_ohm": 16.0, "least_impedance_ohm": 8.0, "amplifier_power_w": 1.0,
                 "power_each_w": 0.5, "rating_each_w": 1.0, "rating_total_w": 2.0},
    "lamps": [{"name": "front lamp", "resistors": 1, "needed_ohm": 5150.0, "nearest_e24_ohm": 5600.0, "current_a": 0.00184,
               "power_w": 0.019, "output_current_a": 0.00184, "fitted_current_a": 0.0022}],
    "stay_alive": {"hold_time_s": 4.2, "stored_energy_j": 18.2, "charging_current_a": 0.16, "charging_power_w": 2.6,
                   "rail_peak_v": 16.0, "rated_voltage_v": 16.2},
    "fit": {
        "cavity_mm": [60.0, 22.0, 20.0],
        "keep_outs": [{"number": 1, "name": "worm and its bearing", "at_mm": [44.0, 5.0, 0.0], "size_mm": [12.0, 12.0, 12.0],
                       "gap_mm": 0.0, "given": True, "turned": False, "nearest": "can motor", "nearest_mm": 2.0}],
        "placed": [
            {"number": 2, "name": "can motor", "at_mm": [22.0, 5.0, 0.0], "size_mm": [20.0, 12.0, 12.0], "gap_mm": 0.5,
             "given": True, "turned": False, "nearest": "worm and its bearing", "nearest_mm": 2.0},
            {"number": 3, "name": "decoder", "at_mm": [1.0, 1.0, 13.0], "size_mm": [30.0, 15.0, 6.0], "gap_mm": 1.0,
             "given": False, "turned": True, "nearest": "side or ceiling", "nearest_mm": 1.0},
        ],
        "unplaced": [{"name": "loudspeaker", "size_mm": [30.0, 20.0, 14.0], "short_by_mm": 3.5, "too_large_alone": False}],
        "clearances": [
            {"first": "can motor", "second": "decoder", "clearance_mm": 1.0, "wanted_mm": 1.0},
            {"first": "can motor", "second": "worm and its bearing", "clearance_mm": 2.0, "wanted_mm": 0.5},
        ],
        "problems": [{"text": "loudspeaker finds no room beside the others.", "by_mm": 3.5}],
    },
    "wiring": {
        "kind": "decoder", "decoder": "four-function decoder", "plug": "NEM 652 (8-pin)", "pickups": "loco",
        "frame": "The frame is live to the right rail.", "live_rail": "right",
        "insulation": "Both brushes, and every wire to them, stay insulated from the frame.",
        "dropper": {"text": "2 × 47 ohm side by side", "resistance_ohm": 23.5, "resistors": 2, "diode_pairs": 0, "bypass_ohm": None},
        "lamps": [{"name": "front lamp", "wire_colour": "white", "leds": 1, "join": "series", "led_colour": "warm white",
                   "resistor_ohm": 4700.0, "fitted": True}],
        "speakers": {"count": 2, "join": "series", "impedance_ohm": 8.0},
        "store": {"charging_ohm": 100.0, "rated_voltage_v": 16.2},
        "suppression": [{"part": "capacitor across the motor’s tags", "fate": "comes off", "why": "It loads every pulse."}],
        "wires": [
            _wired("right-rail pick-ups", "decoder", "red", 8), _wired("left-rail pick-ups", "decoder", "black", 4),
            _wired("decoder", "dropper", "orange", 1), _wired("dropper", "motor, tag that is + forward", "orange", None),
            _wired("decoder", "motor, other tag", "grey", 5), _wired("decoder", "front lamp: cathode of LED", "white", 6),
            _wired("decoder", "front lamp: resistor, then anode of LED", "blue", 7),
        ],
        "sources": ["NMRA S-9.1.1"],
    },
    "bank": {
        "text": "2 × 47 ohm side by side", "value_ohm": 23.5, "low_ohm": 22.1, "high_ohm": 24.9, "window": "parts as marked",
        "each_ohm": 47.0, "tolerance_percent": 5.0, "bands_note": "", "parallel": 2, "in_series": 1, "body_mm": [2.5, 6.8],
        "bands": [{"colour": "yellow", "meaning": "4"}, {"colour": "violet", "meaning": "7"}, {"colour": "black", "meaning": "×1"},
                  {"colour": "gold", "meaning": "±5 %"}],
        "body_basis": "as recorded", "diode_pairs": 0, "diode_bodies": 0, "bridges": False, "bypass_ohm": None, "bypass_bands": [],
        "layout": "row", "near": "polystyrene", "clearance_mm": 4.0, "place": "bunker",
    },
    "parts": [
        {"quantity": 1, "name": "12 x 20 mm five-pole can, 12 V", "stock": "M-07", "used_for": "drive", "unit_price": 9.5,
         "line_price": 9.5, "resistance_ohm": None, "rating_w": None, "series": None},
        {"quantity": 2, "name": "resistor 47 ohm 0.5 W, metal film", "stock": "R-47", "used_for": "dropper, under the "
         "footplate", "unit_price": 0.2, "line_price": 0.4, "resistance_ohm": 47.0, "rating_w": 0.5, "series": "E12"},
        {"quantity": 1, "name": "six-pin decoder, 0.75 A", "stock": None, "used_for": "bunker", "unit_price": 21.5,
         "line_price": 21.5, "resistance_ohm": None, "rating_w": None, "series": None},
        {"quantity": 1, "name": "heat-shrink sleeve", "stock": None, "used_for": "joints", "unit_price": None,
         "line_price": None, "resistance_ohm": None, "rating_w": None, "series": None},
    ],
    "tools": ["soldering iron, 25 W, with rest", "meter", "pinion puller", "small screwdrivers", "rolling road"],
    "cost": {"total": 31.4, "currency": "GBP", "priced": 3, "unpriced": 1},
    "trials": [
        {"id": "T1", "date": "2024-03-10", "change": "one resistor, 47 ohm 0.5 W", "verdict": "dropped",
         "because": "too hot to touch after ten minutes", "predicted_top_mph": 52.0, "seen_top_mph": 50.0,
         "predicted_start_step": 15, "seen_start_step": 16, "behaviour": "Slow to start on the curve.",
         "predicted_motor_current_a": 0.121, "seen_motor_current_a": 0.118, "predicted_dropper_temperature_c": 71.2,
         "seen_dropper_temperature_c": 68.0, "learned_from": 0},
        {"id": "T2", "date": None, "change": "two in parallel", "verdict": "kept", "because": None,
         "predicted_top_mph": 61.4, "seen_top_mph": 63.0, "predicted_start_step": 11, "seen_start_step": None,
         "behaviour": None, "predicted_motor_current_a": 0.124, "seen_motor_current_a": None,
         "predicted_dropper_temperature_c": None, "seen_dropper_temperature_c": None, "learned_from": 2},
    ],
    "working": [
        {"section": "Motor", "name": "EMF constant", "formula": "K = (V_n − I_0 R) / ω_0",
         "numbers": "K = (12 − 0.06 × 21) / 1445", "result": 0.00743, "unit": "V s/rad", "source": "motor equation; computed"},
        {"section": "Motor", "name": "Inductance", "formula": "L = τ R", "numbers": "L = 0.0003 × 21", "result": 0.0063,
         "unit": "H", "source": "from memory"},
        {"section": "Dropper", "name": "Resistance", "formula": "R_d = R / n", "numbers": "R_d = 47 / 2", "result": 23.5,
         "unit": "Ω", "source": "Ohm’s law"},
    ],
    "hold_points": [
        {"id": "bank-resistance", "place": "dropper", "quantity": "resistance across the finished bank", "unit": "ohm", "low": 22.1,
         "high": 24.9, "expected": 23.5, "how": "Ohm-meter across the ends.", "condition": "power off, cold",
         "outside": "Read each resistor alone.", "reading": {"hold_point": "bank-resistance", "resistance": "…"}},
        {"id": "insulation", "place": "insulation", "quantity": "resistance from motor tag to wheels", "unit": "ohm", "low": 1e6,
         "high": None, "expected": None, "how": "Ohm-meter, highest range.", "condition": "power off",
         "outside": "No upper end.", "reading": {}},
    ],
    "spread": {
        "samples": 128, "explained": 0.99,
        "contributions": [{"name": "motor.no_load_speed", "label": "no-load speed of the data sheet", "share": 0.71},
                          {"name": "supply.track", "label": "track volts", "share": 0.2}],
        "tolerances": [
            {"name": "supply.track", "label": "track volts", "half_width": 3.0, "unit": "%", "shape": "normal", "basis": "the record"},
            {"name": "dropper.resistor.resistance", "label": "dropper resistors", "half_width": 5.0, "unit": "%",
             "shape": "uniform", "basis": "as marked"},
            {"name": "model.driving_wheel", "label": "driving wheel", "half_width": 0.1, "unit": "mm", "shape": "normal",
             "basis": "common practice"},
        ],
        "narrow": {"name": "motor.no_load_speed", "label": "no-load speed of the data sheet", "share": 0.71,
                   "how_to_measure": "Take its speed with a tachometer."},
        "half_width_share": 0.08, "finding": "The top speed is good to about ±8 %. What would narrow it most: its no-load speed.",
    },
    "options": [], "options_rejected": [], "steps": [], "calibration": {
        "used": 2,
        "left_out": [{"reading": "step 64, light, 2 m in 9.8 s", "why": "it does not say whether feedback was on"}],
        "parameters": [
            {"name": "emf_constant", "label": "EMF constant", "factor": 0.981, "low": 0.962, "high": 1.0, "before": 0.00743,
             "after": 0.00729, "unit": "V s/rad", "shrinkage": 0.41, "told": True, "says": "much"},
            {"name": "rolling", "label": "rolling resistance of the train", "factor": 1.0, "low": 0.85, "high": 1.18,
             "before": 0.015, "after": 0.015, "unit": "", "shrinkage": 1.0, "told": False, "says": "nothing"},
        ],
        "residuals": [
            {"place": 0, "text": "step 126, light, 3 m in 8.8 s", "quantity": "speed along the rail", "unit": "mm/s",
             "observed": 340.9, "predicted": 338.0, "error": 11.5, "pull": 0.25, "trial": "T2"},
            {"place": 1, "text": "step 126, light, 53 mA", "quantity": "motor current", "unit": "A", "observed": 0.053,
             "predicted": None, "error": 0.003, "pull": -1.2, "trial": None},
        ],
        "reduced_chi_square": 0.74, "directions_seen": 1,
        "statements": ["The 2 readings see 1 combination of 2 values; for the rest the record's word stands."],
        "next_reading": {"text": "The motor current at step 126.", "because": "It parts friction from volts.", "narrows": 0.3},
    },
    "notes_markdown": "## Fitting\n\nThe brush end goes **towards the smokebox**. See [the wiring page]"
    "(wiring.md).\n\n- file the mount\n- shim 0.3 mm",
}


def sample_figures() -> Figures:
    """Return a fresh full sample."""
    return cast(Figures, deepcopy(SAMPLE))


def _emptied(value: object) -> object:
    if isinstance(value, dict):
        return {key: _emptied(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return []
    return None


BARE_WIRING: dict[str, object] = {
    "kind": "decoder", "decoder": None, "plug": None, "pickups": "", "frame": "Which rail the frame is live to is not known.",
    "live_rail": None, "insulation": "Both brushes stay insulated.", "dropper": None, "lamps": [], "speakers": None, "store": None,
    "suppression": [], "sources": ["NMRA S-9.1.1"],
    "wires": [_wired("right-rail pick-ups", "decoder", "red", None), _wired("left-rail pick-ups", "decoder", "black", None),
              _wired("decoder", "motor, tag that is + forward", "orange", None), _wired("decoder", "motor, other tag", "grey", None)],
}


def empty_figures() -> Figures:
    """Return figures in which everything that may be None is None and every list is empty."""
    empty = cast(dict[str, object], _emptied(deepcopy(SAMPLE)))
    empty |= {"stay_alive": None, "speakers": None, "format": 1,
              "slug": "bare", "title": "Bare", "dropper": None, "speed": None,
              "highest_volts": None, "haulage": None, "feedback": None, "fit": None, "spread": None, "calibration": None,
              "bank": None, "wiring": BARE_WIRING, "run_length_m": 1.0}
    cast(dict[str, object], empty["decoder"]).update(
        curve=None, light_response=None, configuration=None, address=None, abilities={}
    )
    cast(dict[str, object], empty["head"]).update(status="planned", revision_hash="0000000")
    cast(dict[str, object], empty["drive"]).update(kind="decoder")
    cast(dict[str, object], empty["cost"]).update(priced=0, unpriced=0)
    empty["missing"] = [
        {"name": "motor.resistance", "needed_for": ["speed", "speed_card", "curves", "dropper", "decoder.continuous_margin"],
         "how_to_measure": "Hold the rotor and read volts and amps."},
    ]
    return cast(Figures, empty)
