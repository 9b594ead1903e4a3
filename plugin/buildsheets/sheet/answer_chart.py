"""The chart of how a build under feedback answers: setting off, and meeting its grade."""

from __future__ import annotations

from typing import TYPE_CHECKING

from buildsheets.figures.format import Answer, Figures, LoopFigures, Response
from buildsheets.numerals import in_speed_unit, number, quantity, speed
from buildsheets.sheet.charts import (
    ACROSS,
    LEFT,
    SETTINGS,
    STYLES,
    WIDTH,
    Chart,
    EndLabel,
    blank_values,
    finish,
    label_ends,
)
from buildsheets.sheet.svg import LETTERING, MUTED

if TYPE_CHECKING:
    from matplotlib.figure import Figure

PANEL = 1.75  # in; panels stand one above the other, so that both share the room for their labels
SAME = 0.01  # shares closer than this print as one thing

SUITED, ADVISED, HELD, OFF = "as without dropper", "I as advised", "feedback on", "feedback off"


def _lines(loop: LoopFigures, answer: Answer) -> list[tuple[str, Response, tuple[str, str, str, float]]]:
    off = (OFF, answer["off"], STYLES[3])
    if _one_setting(loop):
        return [(HELD, answer["advised"], STYLES[0]), off]
    # the thin broken line over the thick one: where they run together both are seen
    return [(ADVISED, answer["advised"], STYLES[0]), (SUITED, answer["suited"], STYLES[1]), off]


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
    words = f"{answer['event']}, wanted {speed(loop['wanted_scale_mph'], unit)}: "
    if _one_setting(loop):
        words += f"with feedback on it {_manner(answer['advised'])}"
    else:
        words += (
            f"with P and I as they suited the motor without the dropper it {_manner(answer['suited'])}; "
            f"with I at {number(loop['i_ratio'], 2)} of that it {_manner(answer['advised'])}"
        )
    end = answer["off"]["scale_mph"][-1]
    return words + ("; with feedback off it stands." if answer["off"]["stalls"] else f"; with feedback off it comes to {speed(end, unit)}.")


def _manner(response: Response) -> str:
    if response["stalls"]:
        return "stands"
    over = response["overshoot_share"]
    words = f"runs {quantity(100 * over, '%', 2)} past it" if over >= SAME else "does not run past it"
    settled = response["settling_time_s"]
    return words + (" and goes on swinging" if settled is None else f" and is steady after {quantity(settled, 's', 2)}")


def _grade_words(loop: LoopFigures, answer: Answer) -> str:
    words = f"{answer['event']}, whole train at once: "
    before, after = _loss(answer["suited"]), _loss(answer["advised"])
    if _one_setting(loop):
        words += f"with feedback on it {after}"
    elif before == after:
        words += f"with feedback on, set either way, it {after}"
    else:
        words += f"set as without the dropper it {before}; with I as advised it {after}"
    return f"{words}; with feedback off it {_loss(answer['off'])}."


def _loss(response: Response) -> str:
    if response["stalls"]:
        return "stalls"
    kept = 1.0 - response["end_share"]
    if kept >= SAME:
        return f"loses {quantity(100 * kept, '%', 2)} of its speed for good"
    return f"dips by {quantity(100 * response['dip_share'], '%', 2)} and comes back"


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
    import matplotlib as mpl
    from matplotlib.figure import Figure

    answers = [answer for answer in (loop["start"], loop["grade"]) if answer is not None]
    title = "How it answers"
    with mpl.rc_context(SETTINGS):
        height = PANEL * len(answers) + 0.45
        figure = Figure(figsize=(WIDTH, height), facecolor="none")
        figure.text(0.015, 1 - 0.2 / height, title, fontsize=LETTERING + 1, fontweight="bold")
        figure.text(0.015, 1 - 0.4 / height, f"Scale speed, {unit}", fontsize=LETTERING)
        for place, answer in enumerate(answers):
            bottom = (PANEL * (len(answers) - 1 - place) + 0.48) / height
            _panel(figure, (LEFT, bottom, ACROSS, (PANEL - 0.8) / height), loop, answer, unit)
        return finish(figure, "answer", title, answer_finding(loop, unit))


def _panel(figure: Figure, box: tuple[float, float, float, float], loop: LoopFigures, answer: Answer, unit: str) -> None:
    axes = figure.add_axes(box, facecolor="none")
    axes.set_title(answer["event"], loc="left", fontsize=LETTERING)
    axes.set_xlabel("Time, s", loc="left")
    axes.set_xlim(0, loop["time_s"][-1])
    if loop["wanted_scale_mph"] is not None:
        axes.axhline(in_speed_unit(loop["wanted_scale_mph"], unit), color=MUTED, linewidth=0.7, dashes=(9, 3))
    labels = []
    for name, response, (colour, dash, _, width) in _lines(loop, answer):
        heights = blank_values(response["scale_mph"], unit)
        axes.plot(loop["time_s"], heights, color=colour, linestyle=dash, linewidth=width)
        labels.append(EndLabel(heights[-1], name, colour))
    axes.margins(y=0.12)
    if answer is loop["start"]:
        axes.set_ylim(bottom=0)
    label_ends(axes, labels)
