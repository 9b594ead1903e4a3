"""What feedback sees through the dropper, in sentences for whoever sets it up."""

from __future__ import annotations

from buildsheets.figures.format import Feedback, Figures
from buildsheets.languages import _
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
    words = [_("To look at the motor the decoder stops its pulses and reads the volts that the turning motor makes, at a few microamps.")]
    if feedback["able"] is False:
        words.insert(0, _("The decoder fitted has no feedback; this is what one that has it would see."))
    if dropper is not None and dropper["diode_pairs"]:
        words += _string(feedback)
    elif dropper is not None:
        words.append(
            _(
                "So small a current loses next to nothing in a resistor bank: the reading stays true, and so does chuff timing "
                "that rides on it."
            )
        )
    else:
        words.append(_("With no dropper in between, the reading is as good as the brushes allow."))
    return [*words, _held(feedback), *_integral(feedback)]


def _string(feedback: Feedback) -> list[str]:
    if not feedback["diodes_hide"]:
        return [_("A diode string would keep back some tenths of a volt a pair; the resistor across it carries the reading past.")]
    return [
        _(
            "Each diode pair keeps back some tenths of a volt even then, so a crawling motor looks as if it stood: the decoder "
            "pushes too hard and surges, and chuff timing that rides on the reading stumbles or falls silent."
        ),
        _("A resistor bank does not do this."),
        _bypass(given(feedback["bypass_offered_ohm"], "ohm"), feedback["visible_from_step_with_bypass"]),
        _(
            "Until then the decoder reads less than the motor makes, and runs it faster than its steps ask for; speeds and steps "
            "given here for feedback on count with that reading."
        ),
    ]


def _bypass(resistor: str, step: int | None) -> str:
    if step is None:
        return _("A resistor of {resistor} across the whole string would carry the reading past it.", resistor=resistor)
    return _(
        "A resistor of {resistor} across the whole string would carry the reading past it, to be seen from step {step}.",
        resistor=resistor,
        step=step,
    )


def _held(feedback: Feedback) -> str:
    step = feedback["saturation_step"]
    if step is None:
        return _("Feedback can hold every step with the stated train on the level.")
    last, cv10 = feedback["cut_off_step"], feedback["cut_off_cv10"]
    if cv10 is not None:
        return _(
            "From step {step} on, the motor gets all there is and still falls short; stop feedback above step {last} (CV10 = {cv10}).",
            step=step,
            last=last,
            cv10=cv10,
        )
    return _(
        "From step {step} on, the motor gets all there is and still falls short; stop feedback above step {last} if the decoder can.",
        step=step,
        last=last,
    )


def _integral(feedback: Feedback) -> list[str]:
    scale, built = feedback["integral_scale"], feedback["mechanical_time_constant_ms"]
    if scale is None or built is None or abs(scale - 1.0) < 0.01:
        return []
    bare = feedback["mechanical_time_constant_without_dropper_ms"]
    return [
        _(
            "With the dropper the motor answers in {built} instead of {bare}: leave the proportional term P, take the integral term "
            "I to {scale} of what suited the motor without it, and try.",
            built=quantity(built, "ms", 2),
            bare=quantity(bare, "ms", 2),
            scale=number(scale, 2),
        )
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
        _(
            "Reckoned for a decoder that looks at the motor every {period}, with momentum (CV3, CV4) at 0.",
            period=given(loop["sample_period_ms"], "ms"),
        ),
        _(
            "P pushes by how much speed is missing now, I by how long it has been missing. While the motor gets all there is, I goes on "
            "adding up, and must be paid back: that is the run past the wanted speed."
        ),
    ]
    if loop["i_ratio"] < 1.0:
        words.append(_("A motor behind a dropper answers more slowly, so an I that suited it without one adds up too much on the way."))
    last = _("The broken line is the wanted speed. Decoders differ in their rules, so take the manner of the lines, not their numbers.")
    return [*words, last]
