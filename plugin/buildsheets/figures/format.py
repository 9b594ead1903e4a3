"""The shape of `figures.json`: everything a sheet shows, as plain data.

Names carry their units. Keys may be added under one format number, never renamed or re-purposed. A value that could
not be worked out is None and has an entry in `missing`. Arrays run over the 126 speed steps unless stated.
"""

from __future__ import annotations

from typing import Literal, TypedDict

FORMAT = 1

Level = Literal["ok", "note", "caution", "stop"]
Curve = list[float | None]


class Assumed(TypedDict):
    """A default that was used because the record does not say."""

    name: str  # dotted key of the record that would replace it, e.g. "motor.inductance"
    label: str  # in a builder's words
    value: float | str
    unit: str  # "" for none
    why: str  # what it rests on
    basis: str  # "standard", "data sheet", "common practice", "from memory", "computed"


class Missing(TypedDict):
    """A value the record lacks."""

    name: str  # dotted key of the record
    needed_for: list[str]  # keys of this format that stay None, e.g. "start.start_step"
    how_to_measure: str


class Verdict(TypedDict):
    """A judgement on one subject."""

    subject: str  # "mesh", "dropper heat", "decoder", "top speed", "start", "winding"
    level: Level
    message: str


class Glance(TypedDict):
    """One line of the outcome: a label, a value in words, a level word and one sentence."""

    id: str  # top_speed, first_step, heat, decoder, mesh, cost, bench_time, highest_volts
    label: str
    value: str  # formatted with unit, or "not known"
    level: Level
    sentence: str


class StageFigures(TypedDict):
    """One stage of the gear train."""

    kind: str  # spur | worm | idler
    driver_teeth: int | None
    driven_teeth: int
    ratio: float
    efficiency: float
    contact_ratio: float | None  # undercut taken off; the middle of the span
    contact_ratio_span: list[float] | None  # [low, high] over the profile shifts that are possible
    contact_ratio_textbook: float | None
    working_pressure_angle_deg: float | None
    centre_distance_mm: float | None  # of a worm: to its wheel, both at the pitch circle
    backlash_mm: float | None
    undercut: bool | None
    verdict: str | None
    level: Level | None
    stage: int  # of the record; an idler makes two meshes of one stage
    shares_driver: bool  # whether its driver is the wheel driven by the mesh before
    module_mm: float | None
    driver_reference_diameter_mm: float | None  # of a worm: at the middle of its threads
    driven_reference_diameter_mm: float | None
    driver_tip_diameter_mm: float | None  # the middle of the span where the profile shift is not known
    driven_tip_diameter_mm: float | None


class Gearing(TypedDict):
    """The gear train."""

    ratio: float | None
    efficiency: float | None
    back_drive_efficiency: float | None
    stages: list[StageFigures]


class MotorFigures(TypedDict):
    """The motor as the calculation sees it."""

    name: str | None
    kind: str | None
    resistance_ohm: float | None
    emf_constant_v_s_per_rad: float | None
    inductance_h: float | None
    rotor_inertia_kg_m2: float | None
    running_torque_n_m: float | None
    mechanism_torque_n_m: float | None
    breakaway_torque_n_m: float | None
    stall_current_a: float | None
    no_load_rpm: float | None
    nominal_voltage_v: float | None
    winding_power_w: Curve | None
    winding_temperature_c: Curve | None
    winding_limit_c: float | None
    stall_time_limit_s: float | None


class Drive(TypedDict):
    """What the decoder gives the chain."""

    kind: str  # "decoder" | "direct current"
    bus_voltage_v: float | None
    pwm_frequency_hz: float | None
    off_mode: str | None


class Limit(TypedDict):
    """A line on the heat chart."""

    label: str
    value: float
    basis: str


class DropperFigures(TypedDict):
    """What sits in series with the motor."""

    text: str  # "2 x 47 ohm 0.5 W in parallel"
    resistance_ohm: float | None
    diode_pairs: int
    worst_step: int | None
    running_power_w: float | None  # whole dropper, at the worst step
    power_each_w: float | None
    stall_power_w: float | None
    bypass_power_w: float | None  # in the resistor across a diode string, at the step where it is most; None without one
    resistor_temperature_c: float | None
    diode_temperature_c: float | None
    stall_temperature_c: float | None
    temperature_band_c: list[float] | None  # 5 to 95 %, its hotter part at the hottest step
    share_of_rating: float | None
    air_inside_c: float | None
    temperature_over_steps_c: Curve | None
    power_each_over_steps_w: Curve | None
    temperature_limits: list[Limit]  # in degC


class Speed(TypedDict):
    """Open loop (feedback off), the record's train on the level, forward, warm."""

    step: list[int]
    duty: Curve
    scale_mph: Curve
    scale_km_h: Curve
    true_mm_per_s: Curve
    motor_rpm: Curve
    mean_current_a: Curve
    rms_current_a: Curve
    motor_voltage_v: Curve
    dropper_power_w: Curve
    top_scale_mph: float | None
    top_scale_mph_band: list[float] | None


class Start(TypedDict):
    """Moving off and stopping."""

    start_step: int | None
    stall_step: int | None
    creep_from_step: int | None
    creep_scale_mph: float | None
    start_step_band: list[float | None] | None  # 5 to 95 %; high end None where some samples never start


class NamedCurve(TypedDict):
    """A speed curve for the chart."""

    name: str  # "as built", "as built, light engine", "before", "without the dropper", "as built, feedback on"
    load: str
    grade: str
    feedback: str  # "off" | "on"
    dropper: str  # "fitted" | "none"
    direction: str
    scale_mph: Curve
    scale_mph_low: Curve | None
    scale_mph_high: Curve | None


class BenchPointFigures(TypedDict):
    """A timed run turned into a speed."""

    step: int
    scale_mph: float
    error_mph: float
    load: str
    feedback: str  # on | off | not stated
    direction: str
    trial: str | None


class HeatPointFigures(TypedDict):
    """A temperature of the dropper from the notebook."""

    step: int
    temperature_c: float
    error_k: float | None  # as the reading says
    load: str
    feedback: str  # on | off | not stated
    trial: str | None


class Setting(TypedDict):
    """One CV as set in the record."""

    cv: int
    name: str
    value: int
    page: str | None
    why: str


class Advised(TypedDict):
    """One CV as worked out for this build."""

    cv: int
    name: str
    value: int
    as_set: int | None  # the record's own; None where it has none
    page: str | None  # None: the CVs of NMRA S-9.2.2 lie on no index page
    why: str


class FittedCurve(TypedDict):
    """A drive curve of the decoder that comes nearest to the wanted one."""

    kind: str  # "three-point" | "table"
    chosen: bool
    cvs: list[int]
    at_steps: list[float]  # of 126, where each of them counts
    values: list[int]
    drive_level: Curve  # 255 is full drive; lines between the values, trim included
    scale_mph: Curve  # as the model runs with these values
    error_mph: float  # greatest distance from the wanted curve, from the first running step to `at_step`
    error_step: int | None


class CurveAdvice(TypedDict):
    """The wanted speed curve: the record's train on the level, forward, warm."""

    kind: str  # "straight" | "slow low steps"
    feedback: str  # "on": the decoder holds it | "off"
    from_step: int
    first_mph: float  # the slowest it moves off with
    at_step: int
    wanted_mph: float
    reached_mph: float  # the same, or all there is
    full_drive_reaches: bool
    target_scale_mph: Curve  # None below `from_step`
    as_set_scale_mph: Curve
    fitted: list[FittedCurve]


class AdvisedError(TypedDict):
    """Greatest distance from the wanted curve, over steps at and above the first running one."""

    three_point: float | None
    table: float | None


class ConfigurationFigures(TypedDict):
    """CV29 as a written sum."""

    value: int
    text: str
    as_set: int | None
    as_set_text: str | None


class AddressFigures(TypedDict):
    """How the decoder is called."""

    address: int
    kind: str  # "short" | "long"
    text: str


class MomentumRow(TypedDict):
    """What CV3 and CV4 make of starting and stopping: from rest to the top step and back."""

    name: str  # "as set" | "recommended"
    cv3: int
    cv4: int
    start_s: float
    start_true_m: float
    start_full_size_m: float
    stop_s: float
    stop_true_m: float
    stop_full_size_m: float


class Instead(TypedDict):
    """What does the job of a CV that the decoder lacks, and what that costs."""

    lacks: str  # name of the ability
    instead: str
    start_step: int | None
    heat_w: float | None
    speed_drop_share: float | None  # light engine to stated train
    error_mph: float | None  # greatest distance from the wanted curve
    text: str


class LightResponse(TypedDict):
    """Light engine on the level, forward, warm, feedback off: what any setting of the curve would come to."""

    drive_level: list[int]  # rising, 0 to 255; every one where it begins to run, every fourth elsewhere
    scale_mph: Curve  # None where the balance does not close


class DecoderFigures(TypedDict):
    """Decoder and its margins (rating divided by demand)."""

    name: str | None
    abilities: dict[str, bool]  # by the record's name of them; what it does not say has no entry
    fixed_curve: bool  # the maker's own, in place of CV2, CV5 and CV6
    locked_rotor_current_a: float | None
    locked_rotor_current_without_dropper_a: float | None
    continuous_margin: float | None
    peak_margin: float | None
    locked_rotor_current_band_a: list[float] | None  # 5 to 95 %
    continuous_margin_band: list[float] | None
    peak_margin_band: list[float] | None
    settings: list[Setting]
    lacks: list[str]  # sentences: what it lacks and what does that job instead
    instead: list[Instead]
    silent: list[str]  # what the record does not say of the decoder, by ability: "CV5, top volts"
    advised: list[Advised]
    advised_error_mph: AdvisedError
    curve: CurveAdvice | None
    light_response: LightResponse | None  # None without a decoder too
    configuration: ConfigurationFigures | None
    address: AddressFigures | None
    momentum: list[MomentumRow]
    remarks: list[str]  # what the standard leaves open, and the acknowledge pulse


class HighestVolts(TypedDict):
    """At the highest track volts the loco may meet."""

    track_v: float
    top_scale_mph: float | None
    resistor_temperature_c: float | None
    locked_rotor_current_a: float | None


class CardRow(TypedDict):
    """One row of the speed card."""

    step: int
    scale_mph: float | None
    scale_km_h: float | None
    seconds_over_run: float | None
    chuffs_per_second: float | None
    feedback_on_scale_mph: float | None  # None where the record does not have it on
    feedback_on_seconds_over_run: float | None


class PartRow(TypedDict):
    """One row of the parts list."""

    quantity: int
    name: str
    stock: str | None
    used_for: str
    unit_price: float | None
    line_price: float | None
    resistance_ohm: float | None  # of one, where the stock part is a resistor
    rating_w: float | None
    series: str | None  # of IEC 60063, as the stock says or the first of E6, E12, E24, E96 that holds the value


class Cost(TypedDict):
    """Sum of the priced lines."""

    total: float | None
    currency: str | None
    priced: int
    unpriced: int


class Caution(TypedDict):
    """A caution this build calls for."""

    id: str
    shape: Literal["hazard", "do not"]
    title: str
    text: str
    because: str  # what in the record calls for it
    basis: str


class LeftOut(TypedDict):
    """A reading that was not fitted."""

    reading: str
    why: str


class LearnedValue(TypedDict):
    """A value of the model before and after the readings."""

    name: str  # field of the refinement, e.g. "emf_constant"
    label: str
    factor: float  # after over before
    low: float  # of the factor, 5 %
    high: float  # of the factor, 95 %
    before: float
    after: float
    unit: str
    shrinkage: float  # spread of its logarithm after the readings over that before
    told: bool  # whether the readings said much of it
    says: str  # the same in a word: much, little, nothing


class Residual(TypedDict):
    """A reading that was fitted, beside what the refined values say of it."""

    place: int  # of the reading in the record, from 0
    text: str  # the reading in the notebook's words
    quantity: str
    unit: str
    observed: float
    predicted: float | None
    error: float | None  # one standard deviation: meter, hand and model together
    pull: float  # observed less predicted, over the error
    trial: str | None


class NextReading(TypedDict):
    """The reading that would narrow the top speed most."""

    text: str
    because: str
    narrows: float  # share by which the spread of the top speed would shrink


class Calibration(TypedDict):
    """What the readings taught; all other figures use it."""

    used: int
    left_out: list[LeftOut]
    parameters: list[LearnedValue]
    residuals: list[Residual]
    reduced_chi_square: float
    directions_seen: int  # independent combinations of the values that the readings see
    statements: list[str]  # what they cannot tell apart, or say nothing of
    next_reading: NextReading | None


class TrialRow(TypedDict):
    """What was tried: prediction beside observation. Predictions know earlier trials' readings only."""

    id: str
    date: str | None
    change: str
    verdict: str
    because: str | None
    predicted_top_mph: float | None
    seen_top_mph: float | None
    predicted_start_step: int | None
    seen_start_step: int | None
    behaviour: str | None
    predicted_motor_current_a: float | None  # light engine, step 126
    seen_motor_current_a: float | None
    predicted_dropper_temperature_c: float | None  # light engine, step 126
    seen_dropper_temperature_c: float | None
    learned_from: int  # readings of earlier trials that the prediction knows


class WorkingLine(TypedDict):
    """One formula with its numbers and its source."""

    section: str  # "Gear train", "Motor", "Supply", "Dropper", "Speed at step 126", "Start", "Heat", "Decoder"
    name: str
    formula: str  # plain text with Unicode, e.g. "K = (V_n − I_0 R) / ω_0"
    numbers: str  # the same with numbers filled in
    result: float | None
    unit: str
    source: str


class Head(TypedDict):
    """Title block."""

    number: str | None
    status: str
    aside_because: str | None
    route: list[str]
    builder: str | None
    started: str | None
    finished: str | None
    changed: str | None
    revision_letter: str | None
    revision_hash: str
    scale: str | None
    scale_ratio: float | None
    prototype_type: str | None
    prototype_class: str | None
    prototype_top_mph: float | None
    drive: str | None  # "spur 11:38, worm 1:24, 82.9 : 1"
    drive_in: str | None
    summary: str | None
    bench_time_h: float | None
    formerly: list[str]


class Haulage(TypedDict):
    """What it pulls at step 126: feedback off, forward, winding as warm as the stated train makes it there."""

    tractive_force_n: float | None  # the most it pulls: stall_force_n, no more than slip_limit_n
    slip_limit_n: float | None  # on the level
    vehicles_level: int | None
    vehicles_on_grade: int | None  # on the stated grade, in the stated curve where one is given
    vehicles_on_straight_grade: int | None  # on the stated grade without any curve
    curve_resistance_n: float | None  # what the stated curve asks of the stated train, locomotive included
    stall_force_n: float | None  # at the tread, rotor held, friction of motor and works taken off
    slips_before_stall: bool | None
    speed_drop_share: float | None  # light engine to stated train on the level
    speed_drop_share_without_dropper: float | None
    steepest_grade: float | None  # rise over run, stated train, no curve; negative if it cannot move it on the level
    pull_n: Curve  # 41 points, not steps: from none to stall, or to twice the slip limit where that is less
    pull_speed_mph: Curve  # scale speed at these
    train_pull_level_n: float | None
    train_speed_level_mph: float | None
    train_pull_on_grade_n: float | None  # in the stated curve where one is given
    train_speed_on_grade_mph: float | None


class Feedback(TypedDict):
    """What the decoder's feedback sees and holds: the record's train on the level, forward, warm. Arrays over the steps."""

    reading_fraction: Curve  # what the decoder reads as a share of the true EMF, at the steady EMF of each step
    visible_from_step: int | None  # from here on at least half the EMF is read; None if it never is
    saturation_step: int | None  # from here on the target needs more than full on-time; None if all can be held
    cut_off_step: int  # recommended: the last step it can hold
    mechanical_time_constant_ms: float | None  # held at half step, or lower where feedback ends before; train included
    integral_scale: float | None  # integral term over the one that suited the motor without the dropper; at most 1
    mechanical_time_constant_without_dropper_ms: float | None
    winding_decay_ms: float  # after the last pulse, until a reading is true
    on: bool | None  # as the record says
    able: bool | None  # whether the decoder has feedback
    shown: bool  # whether feedback is a matter for this build's sheet
    cut_off_cv10: int | None  # value for it where the decoder has CV10
    emf_v: Curve  # steady, feedback off
    reading_v: Curve
    measuring_resistance_ohm: float
    diodes_hide: bool  # a diode string without bypass stands between motor and decoder
    bypass_offered_ohm: float | None
    reading_with_bypass_v: Curve | None
    visible_from_step_with_bypass: int | None
    closed_loop_scale_mph: Curve | None  # held, or all there is; feedback off above the cut-off as set; None when off
    cut_off_set: int  # as the record has it; 128 for never
    loop: LoopFigures | None  # None where feedback is not shown, the decoder has none, or the loco is not weighed
    tuning: Tuning | None  # None where feedback is not shown or the decoder has none


class Response(TypedDict):
    """How one setting answers; shares are of the speed wanted, for feedback off of its own steady speed."""

    scale_mph: Curve  # at the times of the loop
    overshoot_share: float
    dip_share: float  # deepest below, after it was first reached
    end_share: float  # at the last time
    settling_time_s: float | None  # None if it still swings at the end
    stalls: bool


class Answer(TypedDict):
    """The answers to one event."""

    event: str  # "setting off to step 60 at once"
    suited: Response  # P and I as suited the motor without the dropper
    advised: Response  # P the same, I times `i_ratio`
    off: Response  # feedback off


class LoopFigures(TypedDict):
    """The closed loop at one step: the record's train, the whole step or grade at once, no momentum."""

    step: int
    sample_period_ms: float
    p_ratio: float  # advised over suited
    i_ratio: float
    gain_margin: list[float]  # of the sampled loop with the dropper, suited and advised
    phase_margin_deg: list[float | None]  # None where the loop's gain is above one at every frequency
    wanted_scale_mph: float | None
    time_s: list[float]
    start: Answer
    grade: Answer | None  # from the level onto the record's grade


class TuningStep(TypedDict):
    """One line of the routine at the bench."""

    do: str
    look_for: str
    then: str


class NextSetting(TypedDict):
    """What to try next, after a trial of the record."""

    text: str
    because: str
    trial: str


class Tuning(TypedDict):
    """How to find the settings of feedback at the bench."""

    routine: list[TuningStep]
    next: NextSetting | None  # None where no trial says what was seen, or nothing is left to change


class LampFigures(TypedDict):
    """One lamp circuit on full bus volts."""

    name: str
    resistors: int  # one for all LEDs in series, one for each LED in parallel
    needed_ohm: float | None  # of one resistor
    nearest_e24_ohm: float | None  # at or above the needed one
    current_a: float | None  # through that resistor
    power_w: float | None  # in it
    output_current_a: float | None  # of the whole circuit, with those resistors
    fitted_current_a: float | None  # through one resistor of the record


class SpeakerFigures(TypedDict):
    """The speakers of the record on the amplifier of its decoder."""

    count: int
    join: str | None  # series | parallel; None for a single one
    joined_impedance_ohm: float | None
    least_impedance_ohm: float | None  # the amplifier's limit
    amplifier_power_w: float | None  # as marked
    power_each_w: float | None  # share of it that each speaker takes at full volume
    rating_each_w: float | None
    rating_total_w: float | None


class StayAliveFigures(TypedDict):
    """The store of charge: motor only, light engine at step 64."""

    hold_time_s: float | None
    stored_energy_j: float | None
    charging_current_a: float | None  # at the first instant
    charging_power_w: float | None  # in the charging resistor, at the first instant
    rail_peak_v: float
    rated_voltage_v: float | None


class StepFigures(TypedDict):
    """One step of the work."""

    text: str  # plain words; Markdown where it is the builder's own
    own: bool  # in the builder's own words
    power: bool  # whether locomotive or motor is under power


class HoldPoint(TypedDict):
    """What to measure before going on. An end that is None is open; `outside` says why."""

    id: str
    place: str  # word of the record for the place in the order of work
    quantity: str  # in the builder's words
    unit: str
    low: float | None
    high: float | None
    expected: float | None  # the middle of the samples
    how: str  # where the probes go
    condition: str
    outside: str  # what to look for outside the window
    reading: dict[str, str]  # the line of `readings` that it fills, with a blank; empty where it fills none


class Contribution(TypedDict):
    """One input's part in the spread of the top speed."""

    name: str  # dotted key of the record, or "readings" for what a fit to them leaves open
    label: str
    share: float  # of the variance, to first order


class ToleranceFigures(TypedDict):
    """How far one input may be off."""

    name: str
    label: str
    half_width: float
    unit: str  # "%" of the value, or a unit
    shape: str  # "uniform" | "normal": the half width is twice the standard deviation
    basis: str


class Narrowing(TypedDict):
    """What would narrow the top speed most."""

    name: str
    label: str
    share: float
    how_to_measure: str


class SpreadFigures(TypedDict):
    """Where the bands come from."""

    samples: int
    contributions: list[Contribution]  # largest first
    explained: float  # share of the variance that a straight line through the samples explains
    tolerances: list[ToleranceFigures]
    half_width_share: float | None  # of the top speed's band, over its middle; None where it stands
    narrow: Narrowing | None
    finding: str  # how good the top speed is and what would narrow it most, in words


class StepGroup(TypedDict):
    """The steps at one place in the order of work."""

    place: str  # word of the record for it; hold points carry the same
    title: str
    steps: list[StepFigures]
    pictures: list[dict[str, str]]  # file, shows


class FitPart(TypedDict):
    """A box at its place, measured from the rear lower left corner of the cavity: along, across, up."""

    number: int  # on the drawing
    name: str
    at_mm: list[float]
    size_mm: list[float]  # as it lies
    gap_mm: float  # air wanted
    given: bool  # place as the record gives it, not worked out
    turned: bool  # lies otherwise than the record's size says
    nearest: str  # what it comes closest to
    nearest_mm: float  # negative where they overlap


class Unplaced(TypedDict):
    """A part that finds no room."""

    name: str
    size_mm: list[float]
    short_by_mm: float  # every side would have to be so much less
    too_large_alone: bool  # for the empty cavity too


class Clearance(TypedDict):
    """The room between two boxes, or a box and the cavity; negative where they overlap."""

    first: str
    second: str
    clearance_mm: float
    wanted_mm: float


class FitProblem(TypedDict):
    """What does not fit, in words and by how much."""

    text: str
    by_mm: float


class FitFigures(TypedDict):
    """What goes where inside."""

    cavity_mm: list[float]  # along, across, up
    keep_outs: list[FitPart]
    placed: list[FitPart]
    unplaced: list[Unplaced]
    clearances: list[Clearance]  # of each part to every other, to what is in the way, to side or ceiling and to the floor
    problems: list[FitProblem]  # the worst first


Wire = TypedDict(
    "Wire",
    {
        "from": str,
        "to": str,
        "wire_colour": str,  # word of the standard; "by leaflet" where no standard gives one
        "name": str,
        "pin": int | None,  # of the plug, where the decoder has a standard one
        "note": str,
    },
)
"""One wire, from end to end."""


class WiringLamp(TypedDict):
    """One lamp circuit as wired."""

    name: str
    wire_colour: str
    leds: int
    join: str  # series | parallel; parallel LEDs have a resistor each
    led_colour: str | None
    resistor_ohm: float | None
    fitted: bool  # whether that resistor is the record's own; else it is worked out


class WiringDropper(TypedDict):
    """What lies between decoder and motor."""

    text: str
    resistance_ohm: float | None  # of the bank; None where it has none or its parts are not known
    resistors: int
    diode_pairs: int
    bypass_ohm: float | None


class WiringSpeakers(TypedDict):
    """Loudspeakers as wired."""

    count: int
    join: str  # series | parallel
    impedance_ohm: float | None  # of one


class WiringStore(TypedDict):
    """Stay-alive as wired."""

    charging_ohm: float | None
    rated_voltage_v: float | None


class Suppression(TypedDict):
    """An interference suppression part and what becomes of it."""

    part: str
    fate: str  # "comes off" | "stays"
    why: str


class WiringFigures(TypedDict):
    """How it is wired."""

    kind: str  # "decoder" | "direct current"
    decoder: str | None
    plug: str | None
    pickups: str
    frame: str  # a sentence: which rail it is live to
    live_rail: str | None  # "left" | "right" | "neither"; None where the record does not say
    insulation: str  # a sentence: what must not touch the frame
    dropper: WiringDropper | None
    lamps: list[WiringLamp]
    speakers: WiringSpeakers | None
    store: WiringStore | None
    suppression: list[Suppression]
    wires: list[Wire]
    sources: list[str]


class ColourBand(TypedDict):
    """One band of a resistor."""

    colour: str
    meaning: str  # "3", "×10", "±5 %"


class BankFigures(TypedDict):
    """The dropper as a thing to be soldered."""

    text: str
    value_ohm: float | None  # across the resistors; None where it has none or their value is not known
    low_ohm: float | None  # what an ohm-meter may show
    high_ohm: float | None
    window: str  # what the window rests on
    each_ohm: float | None
    tolerance_percent: float | None
    bands: list[ColourBand]  # of each resistor, the first nearest its end; empty where they cannot be told
    bands_note: str  # why they cannot, or what tolerance was taken; empty if neither
    parallel: int
    in_series: int
    body_mm: list[float]  # diameter and length of a resistor
    body_basis: str
    diode_pairs: int
    diode_bodies: int  # single diodes, or bridge rectifiers
    bridges: bool
    bypass_ohm: float | None
    bypass_bands: list[ColourBand]
    layout: str | None
    near: str | None
    clearance_mm: float | None
    place: str | None


class OptionSettings(TypedDict):
    """What a way changes; None where the build stays as it is."""

    pinion_teeth: int | None
    motor: str | None
    decoder: str | None
    dropper: str | None  # in words, "no dropper" where it is taken out
    cv5: int | None
    cv6: int | None
    track_v: float | None
    last_step: int | None  # the throttle goes no further


class OptionResults(TypedDict):
    """What a way comes to: the record's train on the level, forward, warm."""

    feedback: str  # whether the decoder holds the speed at the wanted step: "on" | "off"
    speed_at_step_mph: float
    speed_error_mph: float  # above the wanted one, negative below
    top_scale_mph: float  # at the highest step that may be driven
    start_step: int | None
    hottest_c: float | None  # resistor or diode, at the worst step
    share_of_rating: float | None  # of a resistor at the air inside
    stall_temperature_c: float | None
    winding_temperature_c: float  # at the worst step
    locked_rotor_current_a: float
    decoder_margin: float | None  # peak rating over that current, continuous where that is all that is known
    speed_drop_share: float  # light engine to stated train, at the wanted step
    vehicles_on_grade: int | None  # on the level where no grade is stated
    visible_from_step: int | None  # None where feedback is off, or never sees the motor
    contact_ratio: float | None  # of the first pair
    cost: float | None  # of what must be bought


class Option(TypedDict):
    """One way to the target."""

    rank: int
    name: str
    built: bool
    level: Level
    rejected: str | None  # class of loser; only the build itself is shown with one
    settings: OptionSettings
    results: OptionResults
    score: float  # weighted sum, the less the better
    why: str  # one sentence for and against


RejectedClass = TypedDict("RejectedClass", {"class": str, "count": int, "because": str})
"""Ways that lost for one reason; the sentence says by how much the best of them."""


class Figures(TypedDict):
    """Everything a sheet shows."""

    format: int
    slug: str
    title: str
    head: Head
    glance: list[Glance]
    verdicts: list[Verdict]
    cautions: list[Caution]
    assumed: list[Assumed]
    missing: list[Missing]
    gearing: Gearing
    motor: MotorFigures
    drive: Drive
    dropper: DropperFigures | None
    speed: Speed | None
    start: Start
    curves: list[NamedCurve]
    bench_points: list[BenchPointFigures]
    heat_points: list[HeatPointFigures]
    speed_card: list[CardRow]
    run_length_m: float
    decoder: DecoderFigures
    highest_volts: HighestVolts | None
    feedback: Feedback | None
    haulage: Haulage | None
    sound: dict[str, Curve] | None  # chuffs_per_second
    speakers: SpeakerFigures | None
    lamps: list[LampFigures]
    stay_alive: StayAliveFigures | None
    fit: FitFigures | None
    wiring: WiringFigures
    bank: BankFigures | None
    parts: list[PartRow]
    tools: list[str]
    cost: Cost
    trials: list[TrialRow]
    working: list[WorkingLine]
    hold_points: list[HoldPoint]
    spread: SpreadFigures | None
    options: list[Option]  # best first, the build among them; empty without a target
    options_rejected: list[RejectedClass]
    calibration: Calibration | None
    steps: list[StepGroup]
    notes_markdown: str | None
