"""What feedback sees through the dropper, in sentences for whoever sets it up."""

from __future__ import annotations

from buildsheets.figures.format import Feedback, Figures
from buildsheets.numerals import given, number, quantity


def feedback_words(figures: Figures) -> list[str]:
    """Return the sentences that belong below the chart; none where feedback is no matter for the sheet.

    Parameters
    ----------
    figures : Figures
        The figures of one build.
    """
    feedback, dropper = figures["feedback"], figures["dropper"]
    if feedback is None or not feedback["shown"]:
        return []
    words = ["To look at the motor the decoder stops its pulses and reads the volts that the turning motor makes, at a few microamps."]
    if feedback["able"] is False:
        words.insert(0, "The decoder fitted has no feedback; this is what one that has it would see.")
    if dropper is not None and dropper["diode_pairs"]:
        words += _string(feedback)
    elif dropper is not None:
        words.append(
            "So small a current loses next to nothing in a resistor bank: the reading stays true, and so does chuff timing "
            "that rides on it."
        )
    else:
        words.append("With no dropper in between, the reading is as good as the brushes allow.")
    return [*words, _held(feedback), *_integral(feedback)]


def _string(feedback: Feedback) -> list[str]:
    if not feedback["diodes_hide"]:
        return ["A diode string would keep back some tenths of a volt a pair; the resistor across it carries the reading past."]
    return [
        "Each diode pair keeps back some tenths of a volt even then, so a crawling motor looks as if it stood: the decoder "
        "pushes too hard and surges, and chuff timing that rides on the reading stumbles or falls silent.",
        "A resistor bank does not do this.",
        f"A resistor of {given(feedback['bypass_offered_ohm'], 'ohm')} across the whole string would carry the reading past it"
        + (f", to be seen from step {step}." if (step := feedback["visible_from_step_with_bypass"]) is not None else "."),
        "Until then the decoder reads less than the motor makes, and runs it faster than its steps ask for; speeds and steps "
        "given here for feedback on count with that reading.",
    ]


def _held(feedback: Feedback) -> str:
    step = feedback["saturation_step"]
    if step is None:
        return "Feedback can hold every step with the stated train on the level."
    words = f"From step {step} on, the motor gets all there is and still falls short"
    words += f"; stop feedback above step {feedback['cut_off_step']}"
    return words + (f" (CV10 = {feedback['cut_off_cv10']})." if feedback["cut_off_cv10"] is not None else " if the decoder can.")


def _integral(feedback: Feedback) -> list[str]:
    scale, built = feedback["integral_scale"], feedback["mechanical_time_constant_ms"]
    if scale is None or built is None or abs(scale - 1.0) < 0.01:
        return []
    bare = feedback["mechanical_time_constant_without_dropper_ms"]
    return [
        f"With the dropper the motor answers in {quantity(built, 'ms', 2)} instead of {quantity(bare, 'ms', 2)}: leave the "
        f"proportional term P, take the integral term I to {number(scale, 2)} of what suited the motor without it, and try."
    ]


def answer_words(figures: Figures) -> list[str]:
    """Return what the chart of answers rests on, in sentences; none without one.

    Parameters
    ----------
    figures : Figures
        The figures of one build.
    """
    loop = figures["feedback"]["loop"] if figures["feedback"] else None
    if loop is None:
        return []
    words = [
        f"Reckoned for a decoder that looks at the motor every {given(loop['sample_period_ms'], 'ms')}, with momentum (CV3, CV4) at 0.",
        "P pushes by how much speed is missing now, I by how long it has been missing. While the motor gets all there is, I goes on "
        "adding up, and must be paid back: that is the run past the wanted speed.",
    ]
    if loop["i_ratio"] < 1.0:
        words.append("A motor behind a dropper answers more slowly, so an I that suited it without one adds up too much on the way.")
    return [*words, "The broken line is the wanted speed. Decoders differ in their rules, so take the manner of the lines, not their numbers."]
