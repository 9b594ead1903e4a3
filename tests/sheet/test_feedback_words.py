"""The sheet on feedback: says what hides the motor, what a bypass would do, and nothing where it is no matter."""

from __future__ import annotations

from sample import empty_figures, sample_figures

from buildsheets.figures.format import Figures
from buildsheets.sheet import data_files, render_sheet
from buildsheets.sheet.charts import feedback_chart
from buildsheets.sheet.feedback import answer_words, feedback_words


def words(figures: Figures) -> str:
    return " ".join(feedback_words(figures)).replace("\u202f", " ")


def with_string(**changes: object) -> Figures:
    figures = sample_figures()
    assert figures["dropper"] is not None
    assert figures["feedback"] is not None
    figures["dropper"]["diode_pairs"] = 3
    figures["feedback"].update(changes)  # type: ignore[typeddict-item]
    return figures


def test_a_string_upsets_feedback_and_a_bypass_helps() -> None:
    text = words(with_string())
    assert "chuff timing" in text
    assert "1000 ohm across the whole string" in text.replace("1 000", "1000")
    assert "from step 1." in text
    assert "runs it faster" in text
    bypassed = words(with_string(diodes_hide=False, bypass_offered_ohm=None))
    assert "carries the reading past" in bypassed
    assert "runs it faster" not in bypassed


def test_a_bank_does_not() -> None:
    text = words(sample_figures())
    assert "the reading stays true" in text
    assert "above step 96 (CV10 = 96)" in text
    assert "to 0.55 of what suited" in text


def test_limits_are_said_in_words() -> None:
    assert words(with_string(able=False)).startswith("The decoder fitted has no feedback;")
    assert "if the decoder can" in words(with_string(cut_off_cv10=None))
    assert "hold every step" in words(with_string(saturation_step=None))
    assert "integral" not in words(with_string(integral_scale=1.0))
    figures = sample_figures()
    figures["dropper"] = None
    assert "no dropper" in words(figures)


def test_the_chart_says_its_finding() -> None:
    chart = feedback_chart(with_string())
    assert chart is not None
    text = chart.finding.replace("\u202f", " ")
    assert "Below step 39 less than half" in text
    assert "would be seen from step 1." in text
    assert "From step 97 the target is out of reach." in text
    never, first = feedback_chart(with_string(visible_from_step=None)), feedback_chart(with_string(visible_from_step=1))
    assert never is not None
    assert first is not None
    assert "never reads half" in never.finding
    assert "from the first step" in first.finding


def test_shown_only_where_it_matters() -> None:
    assert 'id="chart-feedback"' in render_sheet(sample_figures())
    for figures in (with_string(shown=False), empty_figures()):
        assert 'id="chart-feedback"' not in render_sheet(figures)
        assert not words(figures)
        assert "feedback.csv" not in data_files(figures)


def test_routine_and_next_setting_are_printed() -> None:
    html = render_sheet(sample_figures())
    assert 'id="tuning"' in html
    assert "after trial T2:</strong> I from 40 to 22." in html
    assert 'id="tuning"' not in render_sheet(with_string(tuning=None, loop=None))
    figures = with_string()
    assert figures["feedback"] is not None
    assert figures["feedback"]["tuning"] is not None
    figures["feedback"]["tuning"]["next"] = None
    assert "Next setting" not in render_sheet(figures)


def test_answers_say_what_they_rest_on() -> None:
    text = " ".join(answer_words(sample_figures())).replace("\u202f", " ")
    assert "every 10 ms" in text
    assert "behind a dropper" in text
    assert answer_words(empty_figures()) == []
    assert "answer.csv" in data_files(sample_figures())


def test_card_has_columns_for_feedback_on() -> None:
    html = render_sheet(sample_figures())
    assert "Scale speed, feedback on" in html
    figures = sample_figures()
    for row in figures["speed_card"]:
        row["feedback_on_scale_mph"] = None
    assert "Scale speed, feedback on" not in render_sheet(figures)
    assert "Speed card, feedback off" in render_sheet(figures)
