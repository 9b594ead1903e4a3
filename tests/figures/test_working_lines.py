"""Working lines redone from nothing but what is printed, as a sceptic with a pocket calculator would.

Source of the expected values: arithmetic on the printed numbers (computed); formulas of ISO 21771 and of machine-design
and motor textbooks (from memory). Three printed figures bound how close the results can come.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from buildsheets.figures import Figures, work_out
from buildsheets.records.library import load_build

BUILDS = sorted((Path(__file__).parents[2] / "builds").glob("*.yml"))
SUMS = {
    "overall ratio",
    "efficiency",
    "winding resistance",
    "EMF constant",
    "friction of the motor",
    "friction of the motor from the bench",
    "drag of the works",
    "torque to break away",
    "volts at the decoder's output when on",
    "resistance of the bank",
    "torque of the train at the motor",
    "thermal resistance of one resistor",
    "power in the bank, shaft held, full on",
    "share of the derated rating",
    "temperature of one resistor",
    "temperature of one resistor, shaft held until nothing rises any more",
    "current with the shaft held, full on",
    "mean volts that CV5 asks for",
    "time to stop from the top step that CV4 is chosen for",
    "motor speed",
    "scale speed",
}
OPEN_ENDED = ("power in the bank at step", "temperature of one diode at step")


def printed_sum(text: str) -> float:
    """Value of a printed sum: units dropped, signs and powers of ten turned into Python's."""
    text = re.sub("\u202f(?=[A-Za-z°%Ω])", " ", text)
    text = text.replace("\u202f", "").replace("×10⁻", "e-").translate(str.maketrans("⁰¹³⁴⁵⁶⁷⁸⁹", "013456789"))
    text = re.sub(r"e-²", "e-2", text).replace("²", "**2").replace("−", "-").replace("×", "*")
    text = re.sub(r" at .*$| m/s in a mph| rad/s| ohm| N(?= )| m(?= )| A$| V$", "", text)
    assert re.fullmatch(r"[-0-9.e+*/() ]+", text), text
    return float(eval(text))  # only digits and signs are left


def printed_numbers(text: str) -> list[float]:
    return [float(number) for number in re.findall(r"\d+(?:\.\d+)?", text)]


@pytest.fixture(scope="module", params=BUILDS, ids=lambda path: path.stem)
def figures(request: pytest.FixtureRequest) -> Figures:
    return work_out(load_build(request.param)[0])


def test_sums_give_the_printed_result(figures: Figures) -> None:
    lines = [line for line in figures["working"] if line["name"] in SUMS or line["name"].startswith(OPEN_ENDED)]
    assert lines
    for line in lines:
        assert printed_sum(line["numbers"]) == pytest.approx(line["result"], rel=0.011), line["name"]


def test_worm_efficiency_from_its_angles(figures: Figures) -> None:
    for line in figures["working"]:
        if line["name"].startswith("efficiency of the worm"):
            lead, friction, coefficient, normal = printed_numbers(line["numbers"])
            phi = math.atan(coefficient / math.cos(math.radians(normal)))
            assert math.degrees(phi) == pytest.approx(friction, rel=2e-3)
            expected = math.tan(math.radians(lead)) / math.tan(math.radians(lead) + phi)
            assert line["result"] == pytest.approx(expected, rel=2e-3)


def test_contact_ratio_from_its_radii(figures: Figures) -> None:
    for line in figures["working"]:
        if line["name"].startswith("contact ratio"):
            base_1, base_2, tip_1, tip_2, centres, module, *rest = printed_numbers(line["numbers"])
            pressure = math.radians(20)
            sine = math.sqrt(1 - ((base_1 + base_2) / centres) ** 2)
            path = math.sqrt(tip_1**2 - base_1**2) + math.sqrt(tip_2**2 - base_2**2) - centres * sine
            textbook = path / (math.pi * module * math.cos(pressure))
            if not rest:
                assert textbook < 0
                assert line["result"] == 0
            else:
                assert textbook == pytest.approx(rest[0], abs=3e-3)
                assert rest[0] - rest[1] == pytest.approx(line["result"], abs=2e-3)


def test_each_line_stands_once(figures: Figures) -> None:
    lines = figures["working"]
    assert all(line not in lines[:place] for place, line in enumerate(lines))


def test_worms_alone_have_no_contact_ratio_to_ask_for(figures: Figures) -> None:
    kinds = {stage["kind"] for stage in figures["gearing"]["stages"]}
    assert any(line["id"] == "mesh" for line in figures["glance"]) == (kinds != {"worm"})


@pytest.fixture
def speed_word(figures_of: Callable[..., Figures]) -> Callable[[str], str]:
    def words(prototype: str) -> str:
        found = figures_of({"prototype.top_speed": prototype})
        return next(verdict["message"] for verdict in found["verdicts"] if verdict["subject"] == "top speed")

    return words


def test_a_quarter_too_fast_is_not_called_close(
    speed_word: Callable[[str], str], figures_of: Callable[..., Figures]
) -> None:
    top = figures_of()["speed"]["top_scale_mph"]
    assert "NEM 661 allows" in speed_word(f"{top / 1.25:.1f} mph")
    assert "close" in speed_word(f"{top / 1.02:.1f} mph")


def test_a_stall_warms_the_air_with_all_its_heat(figures_of: Callable[..., Figures]) -> None:
    found = figures_of()
    current = (14.5 - 1.4 - 0.2) / (28 + 16.5)
    air = 22 + 9 * current * (14.5 - 0.2)
    each = current**2 * 16.5 / 2
    assert found["dropper"]["stall_temperature_c"] == pytest.approx(air + each * 85 * 1.25, rel=2e-3)


@pytest.mark.parametrize(("decoder", "mentioned"), [(True, True), (False, False)])
def test_direct_current_is_not_told_to_raise_a_cv(
    figures_of: Callable[..., Figures], decoder: bool, mentioned: bool
) -> None:
    changes = {"mechanism.start_voltage": "6 V"}
    if not decoder:
        changes |= {"decoder": None, "supply.direct_current": "12 V"}
    message = next(v["message"] for v in figures_of(changes)["verdicts"] if v["subject"] == "start")
    assert ("CV2" in message) is mentioned
    assert "less dropper" in message
