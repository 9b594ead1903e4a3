"""The charts of a sheet: inline SVG that follows the page's colours and says in words what it shows."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import isnan

from buildsheets.figures.format import (
    BenchPointFigures,
    Curve,
    DropperFigures,
    Feedback,
    Figures,
    Haulage,
    HeatPointFigures,
    NamedCurve,
)
from buildsheets.languages import _
from buildsheets.numerals import given, in_speed_unit, number, quantity, speed, speed_band
from buildsheets.sheet.haulage import grade_words
from buildsheets.sheet.parts import Part, Pen
from buildsheets.sheet.plot import (
    HELD_PEN,
    INCH,
    LIMIT_PEN,
    LINE,
    PENS,
    EndLabel,
    Panel,
    drawing,
    ordinate_words,
    picture,
)
from buildsheets.sheet.scale import ROOM, Span, headroom
from buildsheets.sheet.svg import ACCENT, INK
from buildsheets.sheet.told import said_plainly

STEPS = 126  # speed steps of the 128-step mode, NMRA S-9.2.1: two of the 128 codes stop the locomotive
STEP_MARKS = (0, 32, 64, 96, STEPS)
WIDTH = 268.0  # two beside each other on either paper, and lettering of full size on a phone
TALL, LOW = 2.65 * INCH, 2.0 * INCH  # with many labels, and with few
LEFT = 34.0  # where the axes begin
ACROSS = WIDTH - LEFT - 88.0  # how wide they are, with room for the labels beside them
HEAD, FOOT = 0.27 * INCH, 0.47 * INCH  # room over the axes for what the ordinate counts in, and under them
MARK_NAMES = {"s": "square", "o": "circle"}
ROOM_FOR_WORDS = 0.22  # over the lines, share of what they span, where words stand there
STALLED_PEN = Pen(ACCENT, 1.2, (1.2, 2.0))


@dataclass(frozen=True)
class Chart:
    """One chart.

    Parameters
    ----------
    svg : str
        SVG to set into a page.
    finding : str
        The sentence that says what the chart shows.
    title : str
        What the page writes over it; a drawing has its section's.
    """

    svg: str
    finding: str
    title: str = ""


def _panel(across: Span, up: Span, labels: Sequence[EndLabel], height: float = LOW) -> Panel:
    """Return axes as high as asked for, or higher where the labels beside them want more."""
    wanted = LINE * sum(len(label.lines) for label in labels)
    return Panel((LEFT, HEAD, ACROSS, max(height - HEAD - FOOT, wanted)), across, up)


def finish(name: str, words: tuple[str, str, str], parts: Iterable[Part], size: tuple[float, float]) -> Chart:
    """Return a drawn chart whose ids begin with its name.

    Parameters
    ----------
    name : str
        Of the chart.
    words : tuple of str
        Title, ordinate, finding.
    parts : iterable of Part
        What is drawn under the title.
    size : pair of float
        Width and height [pt].
    """
    title, ordinate, finding = words
    over, rise = ordinate_words(ordinate, size[0])
    return Chart(picture(f"bs-{name}", size, [*over, *parts], title, finding, rise), finding, title)


def _finish(name: str, words: tuple[str, str, str], panel: Panel, axes: Sequence[Part], labels: Sequence[EndLabel]) -> Chart:
    return finish(name, words, [*axes, *panel.ends(labels)], (WIDTH, panel.bottom + FOOT))


def blank_values(values: Curve, unit: str | None = None) -> list[float]:
    """Return values with not-a-number where there is none, speeds in the chosen unit."""
    nan = float("nan")
    return [nan if v is None else in_speed_unit(v, unit) if unit else v for v in values]


def _last(values: Sequence[float]) -> float | None:
    known = [value for value in values if not isnan(value)]
    return known[-1] if known else None


@dataclass(frozen=True)
class _Drawn:
    """One curve as it is drawn, in the chosen unit."""

    name: str
    heights: list[float]
    end: float
    pen: Pen


def _drawn(curves: Sequence[NamedCurve], unit: str) -> list[_Drawn]:
    """Return the curves in the order of drawing: those with feedback on over the others, all in one pen."""
    opened = [curve for curve in curves if curve["feedback"] != "on"]
    pens = [*(PENS[i % len(PENS)] for i in range(len(opened))), *[HELD_PEN] * (len(curves) - len(opened))]
    ordered = [*opened, *(curve for curve in curves if curve["feedback"] == "on")]
    out = []
    for curve, pen in zip(ordered, pens, strict=True):
        heights = blank_values(curve["scale_mph"], unit)
        end = _last(heights)
        if end is not None:
            out.append(_Drawn(curve["name"], heights, end, pen))
    return out


def _band(curves: Sequence[NamedCurve], unit: str) -> tuple[list[float], list[float]]:
    """Return the band to shade: of the first curve alone, where several would cover each other. The data hold all."""
    first = next((curve for curve in curves if curve["feedback"] != "on"), None)
    if first is None or first["scale_mph_low"] is None or first["scale_mph_high"] is None:
        return [], []
    return blank_values(first["scale_mph_low"], unit), blank_values(first["scale_mph_high"], unit)


def _steps(values: Sequence[float]) -> range:
    return range(1, len(values) + 1)


def _draw_points(panel: Panel, points: Sequence[BenchPointFigures], unit: str) -> None:
    """Draw timed runs: filled where feedback was off, open where it was on or nobody said."""
    for point in points:
        height, error = (in_speed_unit(mph, unit) for mph in (point["scale_mph"], point["error_mph"]))
        panel.reading(point["step"], height, error, filled=point["feedback"] == "off")


def _first_moving(values: Curve) -> int | None:
    return next((step for step, value in enumerate(values, start=1) if value), None)


def _sentence_case(text: str) -> str:
    return text[:1].upper() + text[1:]


def _held_words(figures: Figures) -> str | None:
    """Return how far feedback holds the speed, where the record has it on."""
    feedback = figures["feedback"]
    if feedback is None or not any(curve["feedback"] == "on" for curve in figures["curves"]):
        return None
    saturation, cut_off = feedback["saturation_step"], feedback["cut_off_set"]
    if saturation is not None and saturation <= min(cut_off, STEPS):
        words = _("With feedback on it is held up to step {0} and gets all there is above", saturation - 1)
    else:
        words = _("With feedback on it is held up to step {0}", min(cut_off, STEPS))
    return words + (_("; above step {0} feedback is cut off.", cut_off) if cut_off < STEPS else ".")


def _curve_words(curve: NamedCurve, unit: str) -> str:
    top, low, high = curve["scale_mph"][-1], curve["scale_mph_low"], curve["scale_mph_high"]
    words = _("{0}: {1} at the top step", _sentence_case(said_plainly(curve["name"])), speed(top, unit))
    if low is not None and high is not None and low[-1] is not None and high[-1] is not None:
        words += _(" (likely {0})", speed_band([low[-1], high[-1]], unit))
    first = _first_moving(curve["scale_mph"])
    return words if first is None else words + _(", moving from step {0}", first)


def _points_words(points: Sequence[BenchPointFigures]) -> str:
    if not points:
        return _("No timed run has been recorded yet.")
    opened = sum(point["feedback"] != "off" for point in points)
    words = _("Timed runs drawn as points: {0}.", len(points))
    return words if not opened else words + _(" Open points: {0}, with feedback on or not stated.", opened)


def speed_title(figures: Figures) -> str:
    """Return the title of the speed chart: feedback is off unless one of its curves says otherwise."""
    held = any(curve["feedback"] == "on" for curve in figures["curves"])
    return _("Speed against step, feedback off and on") if held else _("Speed against step, feedback off")


def speed_finding(figures: Figures, unit: str) -> str:
    """Return what the speed chart shows, in words.

    Parameters
    ----------
    figures : Figures
        The figures of one build.
    unit : str
        "mph" or "km/h".
    """
    limit = figures["head"]["prototype_top_mph"]
    sentences = [_curve_words(curve, unit) + "." for curve in figures["curves"]]
    held = _held_words(figures)
    if held is not None:
        sentences.append(held)
    if limit is not None:
        sentences.append(_("The prototype’s limit is {0}.", speed(limit, unit)))
    sentences.append(_points_words(figures["bench_points"]))
    return " ".join(sentences)


def speed_chart(figures: Figures, unit: str = "mph") -> Chart | None:
    """Return scale speed against speed step, or None where no curve is known.

    Parameters
    ----------
    figures : Figures
        The figures of one build.
    unit : str
        "mph" or "km/h".
    """
    curves = [curve for curve in figures["curves"] if any(v is not None for v in curve["scale_mph"])]
    if not curves:
        return None
    limit = figures["head"]["prototype_top_mph"]
    drawn, (lows, highs), points = _drawn(curves, unit), _band(curves, unit), figures["bench_points"]
    labels = [EndLabel(curve.end, curve.name, curve.pen.colour) for curve in drawn]
    levels = []
    if limit is not None:
        levels.append(in_speed_unit(limit, unit))
        labels.append(EndLabel(levels[0], _("prototype {0}", speed(limit, unit)), INK))
    tops = [in_speed_unit(point["scale_mph"] + point["error_mph"], unit) for point in points]
    up = headroom(*(curve.heights for curve in drawn), highs, levels, tops)
    with drawing():
        panel = _panel((0, STEPS), up, labels, TALL)
        if lows:
            panel.band(_steps(lows), lows, highs, PENS[0].colour)
        for curve in drawn:
            panel.line(_steps(curve.heights), curve.heights, curve.pen)
        for level in levels:
            panel.level(level)
        _draw_points(panel, points, unit)
        words = (speed_title(figures), _("Scale speed, {0}", unit), speed_finding(figures, unit))
        return _finish("speed", words, panel, panel.axes(_("Speed step"), STEP_MARKS), labels)


def _draw_heat_points(panel: Panel, points: Sequence[HeatPointFigures]) -> None:
    """Draw temperatures of the notebook: filled where feedback was off, open where it was on or nobody said."""
    for point in points:
        panel.reading(point["step"], point["temperature_c"], point["error_k"], filled=point["feedback"] == "off")


def heat_finding(dropper: DropperFigures, points: Sequence[HeatPointFigures] = ()) -> str:
    """Return what the heat chart shows, in words.

    Parameters
    ----------
    dropper : DropperFigures
        The dropper of one build.
    points : sequence of HeatPointFigures
        What the notebook says of it.
    """
    hottest = max((t for t in dropper["temperature_over_steps_c"] or [] if t is not None), default=None)
    words = _("The dropper reaches {0} while running", quantity(hottest, "°C"))
    if dropper["worst_step"] is not None:
        words += _(", hottest at step {0}", dropper["worst_step"])
    words += _("; stalled, {0}.", quantity(dropper["stall_temperature_c"], "°C"))
    limits = [f"{said_plainly(limit['label'])} {given(limit['value'], '°C')}" for limit in dropper["temperature_limits"]]
    words += _(" Limits: {0}.", "; ".join(limits)) if limits else ""
    measured = [_("{0} at step {1}", quantity(point["temperature_c"], "°C"), point["step"]) for point in points]
    return words if not measured else _("{0} Measured, drawn as points: {1}.", words, "; ".join(measured))


def _heat_labels(dropper: DropperFigures, end: float) -> list[EndLabel]:
    labels = [EndLabel(end, _("dropper, running"), ACCENT)]
    for limit in dropper["temperature_limits"]:
        labels.append(EndLabel(limit["value"], f"{said_plainly(limit['label'])} {given(limit['value'])}", INK))
    stalled = dropper["stall_temperature_c"]
    if stalled is not None:
        labels.append(EndLabel(stalled, _("stalled {0}", number(stalled)), ACCENT))
    return labels


def heat_chart(figures: Figures) -> Chart | None:
    """Return dropper temperature against speed step with its limits, or None where it is not known.

    Parameters
    ----------
    figures : Figures
        The figures of one build.
    """
    dropper = figures["dropper"]
    heights = blank_values(dropper["temperature_over_steps_c"] or []) if dropper else []
    end = _last(heights)
    if dropper is None or end is None:
        return None
    points, labels, worst = figures["heat_points"], _heat_labels(dropper, end), dropper["worst_step"]
    tops = [point["temperature_c"] + (point["error_k"] or 0.0) for point in points]
    with drawing():
        panel = _panel((0, STEPS), headroom(heights, tops, [label.height for label in labels]), labels)
        panel.line(_steps(heights), heights, PENS[0])
        for label in labels[1:]:
            panel.level(label.height, STALLED_PEN if label.colour == ACCENT else LIMIT_PEN)
        if worst is not None and 1 <= worst <= len(heights) and not isnan(heights[worst - 1]):
            panel.marks([(worst, heights[worst - 1])], "s", ACCENT, 6.0)
        _draw_heat_points(panel, points)
        words = (_("Dropper heat against step, feedback off"), _("Temperature, °C"), heat_finding(dropper, points))
        return _finish("heat", words, panel, panel.axes(_("Speed step"), STEP_MARKS), labels)


def haulage_finding(haulage: Haulage, unit: str) -> str:
    """Return what the chart of pull shows, in words.

    Parameters
    ----------
    haulage : Haulage
        What one build hauls.
    unit : str
        "mph" or "km/h".
    """
    slip, stall = quantity(haulage["slip_limit_n"], "N", 2), quantity(haulage["stall_force_n"], "N", 2)
    if haulage["slips_before_stall"] is None:
        sentences = [_("The motor would stall at {0}; where the wheels slip is not known.", stall)]
    elif haulage["slips_before_stall"]:
        sentences = [_("The wheels slip first, at {0}; the motor would stall at {1}.", slip, stall)]
    else:
        sentences = [_("The motor stalls first, at {0}; the wheels would slip at {1}.", stall, slip)]
    for place, pull, mph in _train_marks(haulage):
        sentences.append(_("The stated train takes {0} {1} and runs at {2}.", quantity(pull, "N", 2), place, speed(mph, unit)))
    return " ".join(sentences)


def _train_marks(haulage: Haulage) -> list[tuple[str, float, float]]:
    """Return place, pull and speed of the stated train where it pulls at all."""
    marks = (
        (_("on the level"), haulage["train_pull_level_n"], haulage["train_speed_level_mph"]),
        (grade_words(haulage), haulage["train_pull_on_grade_n"], haulage["train_speed_on_grade_mph"]),
    )
    return [(place, pull, mph) for place, pull, mph in marks if pull is not None and pull >= 0 and mph is not None]


def pull_chart(figures: Figures, unit: str = "mph") -> Chart | None:
    """Return scale speed against pull at the top step, or None where it is not known.

    Parameters
    ----------
    figures : Figures
        The figures of one build.
    unit : str
        "mph" or "km/h".
    """
    haulage = figures["haulage"]
    pulls, heights = (blank_values(haulage["pull_n"]), blank_values(haulage["pull_speed_mph"], unit)) if haulage else ([], [])
    end = _last(heights)
    if haulage is None or end is None:
        return None
    slip, labels = haulage["slip_limit_n"], [EndLabel(end, _("step 126"), ACCENT)]
    train = [(pull, in_speed_unit(mph, unit), mark, place)
             for (place, pull, mph), mark in zip(_train_marks(haulage), ("s", "o"), strict=False)]
    labels += [EndLabel(height, _("{0}: train {1}", said_plainly(MARK_NAMES[mark]), place), INK) for _pull, height, mark, place in train]
    across = max(max(pulls) * 1.02, slip or 0.0, 1e-3)
    with drawing():
        panel = _panel((0, across), headroom(heights, [label.height for label in labels]), labels)
        panel.line(pulls, heights, PENS[0])
        for pull, height, mark, _place in train:
            panel.marks([(pull, height)], mark, INK, 7.0)
        if slip is not None:
            panel.plumb(slip, _("wheels slip, {0}", quantity(slip, "N", 2)), low=True)
        words = (_("Pull against speed at the top step, feedback off"), _("Scale speed, {0}", unit), haulage_finding(haulage, unit))
        return _finish("pull", words, panel, panel.axes(_("Pull at the tread, N")), labels)


def feedback_finding(feedback: Feedback) -> str:
    """Return what the chart of the reading shows, in words.

    Parameters
    ----------
    feedback : Feedback
        What one build's feedback sees.
    """
    seen, top = feedback["visible_from_step"], feedback["reading_fraction"][-1]
    if seen is None:
        words = _("Feedback never reads half of what the motor makes.")
    elif seen == 1:
        words = _("Feedback sees the motor from the first step.")
    else:
        words = _("Below step {0} less than half of what the motor makes is read.", seen)
    if top is not None:
        words += _(" At the top step the reading is {0} % of it.", number(100 * top))
    if feedback["bypass_offered_ohm"] is not None and feedback["visible_from_step_with_bypass"] is not None:
        words += _(
            " With {0} across the string it would be seen from step {1}.",
            given(feedback["bypass_offered_ohm"], "ohm"),
            feedback["visible_from_step_with_bypass"],
        )
    if feedback["saturation_step"] is not None:
        words += _(" From step {0} the target is out of reach.", feedback["saturation_step"])
    return words


def _feedback_lines(feedback: Feedback) -> list[tuple[str, Curve, Pen]]:
    lines = [(_("what the motor makes"), feedback["emf_v"], PENS[1]), (_("what is read"), feedback["reading_v"], PENS[0])]
    if feedback["reading_with_bypass_v"] is not None:
        lines.append((_("read with {0} across", given(feedback["bypass_offered_ohm"] or 0, "ohm")), feedback["reading_with_bypass_v"], PENS[3]))
    return lines


def feedback_chart(figures: Figures) -> Chart | None:
    """Return what feedback reads against speed step, or None where it is not known or no matter for the sheet.

    Parameters
    ----------
    figures : Figures
        The figures of one build.
    """
    feedback = figures["feedback"]
    if feedback is None or not feedback["shown"]:
        return None
    lines = [(name, blank_values(curve), pen) for name, curve, pen in _feedback_lines(feedback)]
    labels = [EndLabel(_last(heights) or 0.0, name, pen.colour) for name, heights, pen in lines]
    out_of_reach = feedback["saturation_step"]
    room = ROOM_FOR_WORDS if out_of_reach else ROOM
    with drawing():
        panel = _panel((0, STEPS), headroom(*(heights for _, heights, _ in lines), share=room), labels)
        for _name, heights, pen in lines:
            panel.line(_steps(heights), heights, pen)
        if out_of_reach is not None:
            panel.plumb(out_of_reach, _("target out of reach from {0}", out_of_reach), low=out_of_reach <= STEPS / 2)
        words = (_("What the feedback sees"), _("Volts at the speed of each step, feedback off"), feedback_finding(feedback))
        return _finish("feedback", words, panel, panel.axes(_("Speed step"), STEP_MARKS), labels)
