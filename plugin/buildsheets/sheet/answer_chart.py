"""The chart of how a build under feedback answers: setting off, and meeting its grade."""

from __future__ import annotations

from buildsheets.figures.format import Answer, Figures, LoopFigures, Response
from buildsheets.languages import _, noted
from buildsheets.numerals import in_speed_unit, number, quantity, speed
from buildsheets.sheet.charts import ACROSS, LEFT, WIDTH, Chart, blank_values, finish
from buildsheets.sheet.parts import Lettering, Part, Pen
from buildsheets.sheet.plot import INCH, LIMIT_PEN, PENS, EndLabel, Panel, drawing
from buildsheets.sheet.scale import about, headroom
from buildsheets.sheet.svg import MUTED
from buildsheets.sheet.told import said_plainly

AXES = 0.95 * INCH  # height of a panel; one above the other, so that they share the abscissa and the room for their labels
PANEL = AXES + 24.0  # from one panel to the next
HEAD, FOOT = 0.54 * INCH, 0.48 * INCH  # room over the first panel and under the last
ROOM = 0.12  # over and under the lines, share of what they span
SAME = 0.01  # shares closer than this print as one thing

SUITED, ADVISED, HELD, OFF = noted("as without dropper"), noted("I as advised"), noted("feedback on"), noted("feedback off")


def _lines(loop: LoopFigures, answer: Answer) -> list[tuple[str, Response, Pen]]:
    off = (OFF, answer["off"], PENS[3]._replace(mark=""))
    if _one_setting(loop):
        return [(HELD, answer["advised"], PENS[0]), off]
    # the thin broken line over the thick one: where they run together both are seen
    return [(ADVISED, answer["advised"], PENS[0]), (SUITED, answer["suited"], PENS[1]._replace(mark="")), off]


def _one_setting(loop: LoopFigures) -> bool:
    return abs(loop["i_ratio"] - 1.0) < SAME


def answer_finding(loop: LoopFigures, unit: str) -> str:
    """Return what the chart shows, in words.

    Parameters
    ----------
    loop : LoopFigures
        The closed loop of one build.
    unit : str
        "mph" or "km/h".
    """
    words = [_start_words(loop, unit)]
    if loop["grade"] is not None:
        words.append(_grade_words(loop, loop["grade"]))
    return " ".join(words)


def _start_words(loop: LoopFigures, unit: str) -> str:
    answer = loop["start"]
    words = _("{0}, wanted {1}: ", said_plainly(answer["event"]), speed(loop["wanted_scale_mph"], unit))
    if _one_setting(loop):
        words += _("with feedback on it {0}", _manner(answer["advised"]))
    else:
        words += (
            _(
                "with P and I as they suited the motor without the dropper it {0}; with I at {1} of that it {2}",
                _manner(answer["suited"]),
                number(loop["i_ratio"], 2),
                _manner(answer["advised"]),
            )
        )
    end = answer["off"]["scale_mph"][-1]
    return words + (_("; with feedback off it stands.") if answer["off"]["stalls"] else _("; with feedback off it comes to {0}.", speed(end, unit)))


def _manner(response: Response) -> str:
    if response["stalls"]:
        return "stands"
    over = response["overshoot_share"]
    words = _("runs {0} past it", quantity(100 * over, "%", 2)) if over >= SAME else _("does not run past it")
    settled = response["settling_time_s"]
    return words + (_(" and goes on swinging") if settled is None else _(" and is steady after {0}", quantity(settled, "s", 2)))


def _grade_words(loop: LoopFigures, answer: Answer) -> str:
    words = _("{0}, whole train at once: ", said_plainly(answer["event"]))
    before, after = _loss(answer["suited"]), _loss(answer["advised"])
    if _one_setting(loop):
        words += _("with feedback on it {0}", after)
    elif before == after:
        words += _("with feedback on, set either way, it {0}", after)
    else:
        words += _("set as without the dropper it {0}; with I as advised it {1}", before, after)
    return _("{0}; with feedback off it {1}.", words, _loss(answer["off"]))


def _loss(response: Response) -> str:
    if response["stalls"]:
        return "stalls"
    kept = 1.0 - response["end_share"]
    if kept >= SAME:
        return _("loses {0} of its speed for good", quantity(100 * kept, "%", 2))
    return _("dips by {0} and comes back", quantity(100 * response["dip_share"], "%", 2))


def answer_chart(figures: Figures, unit: str = "mph") -> Chart | None:
    """Return the answers of a build under feedback over time, or None where they are not known or no matter for the sheet.

    Parameters
    ----------
    figures : Figures
        The figures of one build.
    unit : str
        "mph" or "km/h".
    """
    feedback = figures["feedback"]
    loop = feedback["loop"] if feedback else None
    if loop is None:
        return None
    answers = [answer for answer in (loop["start"], loop["grade"]) if answer is not None]
    with drawing():
        parts: list[Part] = []
        for place, answer in enumerate(answers):
            panel, lettering = _panel(HEAD + place * PANEL, loop, answer, unit)
            axes = panel.axes(_("Time, s")) if answer is answers[-1] else panel.axes_of_upper()
            parts += [*axes, *lettering]
        words = (_("How it answers"), _("Scale speed, {0}", unit), answer_finding(loop, unit))
        return finish("answer", words, parts, (WIDTH, HEAD + PANEL * (len(answers) - 1) + AXES + FOOT))


def _panel(top: float, loop: LoopFigures, answer: Answer, unit: str) -> tuple[Panel, list[Part]]:
    """Return a panel with its lines, and the lettering over and beside it."""
    lines = [(name, blank_values(response["scale_mph"], unit), pen) for name, response, pen in _lines(loop, answer)]
    wanted = [] if loop["wanted_scale_mph"] is None else [in_speed_unit(loop["wanted_scale_mph"], unit)]
    labels = [EndLabel(heights[-1], name, pen.colour) for name, heights, pen in lines]
    heights = [wanted, *(heights for _, heights, _ in lines)]
    panel = Panel(
        (LEFT, top, ACROSS, AXES),
        (0, loop["time_s"][-1]),
        headroom(*heights, share=ROOM) if answer is loop["start"] else about(*heights, share=ROOM),
    )
    for height in wanted:
        panel.level(height, LIMIT_PEN._replace(colour=MUTED, width=0.7))
    for _name, values, pen in lines:
        panel.line(loop["time_s"], values, pen)
    return panel, [Lettering(LEFT, top - 6, said_plainly(answer["event"])), *panel.ends(labels)]
