"""The order of work is safe and made for the build."""

import itertools

import pytest

from buildsheets.figures.steps import RULES, step_groups
from buildsheets.records.models import Place, Record, Route

ORDER = [place.value for place in Place]


def record(**fields: object) -> Record:
    return Record.model_validate({"format": 1, "title": "Tank", "status": "planned", **fields})


def texts(groups, place: str) -> str:
    return " ".join(step["text"] for group in groups if group["place"] == place for step in group["steps"])


@pytest.mark.parametrize("routes", list(itertools.combinations([route.value for route in Route], 2)))
def test_locomotive_is_not_powered_between_opening_and_insulation_check(routes):
    """Common practice: after the wiring was touched the meter comes before the power. The motor alone is no locomotive."""
    groups = step_groups(record(route=list(routes), decoder={"name": "d"}, before={}, dropper={"diodes": {"pairs": 2}}))
    places = [group["place"] for group in groups]
    assert places == sorted(places, key=ORDER.index)
    assert "insulation" in places
    opened, checked = ORDER.index("dismantling"), ORDER.index("insulation")
    for group in groups:
        if opened <= ORDER.index(group["place"]) <= checked and group["place"] != "motor":
            assert not any(step["power"] for step in group["steps"])


def test_decoder_goes_in_after_the_insulation_check():
    for route in ("hard-wired decoder", "plug-in decoder"):
        groups = step_groups(record(route=[route], decoder={"name": "d"}))
        assert "until the insulation check has passed" in texts(groups, "wiring")
        assert texts(groups, "programming").startswith("Only now")


def test_direct_current_build_hears_nothing_of_decoders():
    words = " ".join(step["text"] for group in step_groups(record(route=["motor swap"])) for step in group["steps"])
    assert "decoder" not in words
    assert "CV" not in words
    assert "0.3 A" in words


def test_own_steps_and_pictures_stand_at_their_place():
    groups = step_groups(
        record(
            steps=[{"at": "gears", "do": "Shim with *card*."}],
            pictures=[{"file": "pictures/a.png", "shows": "The cradle", "step": "gears"}],
        )
    )
    gears = next(group for group in groups if group["place"] == "gears")
    assert gears["steps"][-1] == {"text": "Shim with *card*.", "own": True, "power": False}
    assert gears["pictures"] == [{"file": "pictures/a.png", "shows": "The cradle"}]


def test_every_rule_fires_for_some_build():
    full = record(
        route=[route.value for route in Route],
        decoder={"name": "d"},
        before={},
        prototype={"type": "steam"},
        gear_train={"stages": [{"driver": 12, "driven": 24}, {"worm": 1, "driven": 20}]},
        dropper={"resistor": {"resistance": "47 ohm"}, "diodes": {"pairs": 2}},
        stay_alive={"capacitor": {}},
        lamps=[{"name": "front"}],
        sound={"speaker": {}},
    )
    silent = [rule.text for rule in RULES if not rule.when(full) and not rule.when(record())]
    assert silent == []
