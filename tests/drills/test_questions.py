"""What is asked and what is right, on the demo captures; expected by how each was made (its scenario's `shows`)."""

from functools import cache
from pathlib import Path

import pytest

from relearn.drills.drill_file import Drill, Kind, Stop
from relearn.drills.happenings import HAPPENINGS, happenings
from relearn.drills.questions import (
    CHANNELS,
    KINDS,
    NOTHING,
    places,
    question,
    questions,
    restless,
    right,
    shown,
    together,
    truth,
)
from relearn.drills.scene import scene
from relearn.drills.wording import kinds, titles
from relearn.findings.base import EvidenceDoc
from relearn.j1979.names import known
from relearn.procedures.sheets import load_sheet, sheet_path
from relearn.recording import Recording, read
from relearn.verdict import Outcome

CAPTURES = Path(__file__).parents[2] / "captures"
SHEET = load_sheet(sheet_path("demo-car"))
IDLE = "idle-air-volume"


@cache
def recorded(name: str) -> Recording:
    return read(CAPTURES / name)


def drill(*stops: tuple[str, float, Kind]) -> Drill:
    made = tuple(
        Stop(capture=name, at_s=at_s, kind=kind, relearn=IDLE if kind in ("ready", "missing") else None)
        for name, at_s, kind in stops
    )
    return Drill(Path("drill.toml"), "Monday", SHEET, made, {one.capture: recorded(one.capture) for one in made})


@pytest.mark.parametrize(
    ("name", "at_s", "happened"),
    [
        ("demo-before.log", 70, set()),
        ("stall.log", 30, set()),  # not yet
        ("stall.log", 36, {"stalled"}),
        ("stop-start.log", 80, {"stopped-itself", "moved", "pedal-pressed"}),
        ("hunting.log", 80, {"hunting"}),
        ("drive-off.log", 70, {"moved", "pedal-pressed"}),
        ("low-voltage.log", 60, {"supply-sagged"}),
        ("sagging-supply.csv", 200, set()),
        ("sagging-supply.csv", 240, {"supply-sagged"}),
        ("open-coolant-circuit.log", 50, {"coolant-circuit-open"}),
        ("stale.log", 80, {"data-stopped"}),
        ("lamp-on.log", 50, {"lamp-lit", "codes-stored"}),
        ("air-leak.log", 118, {"pedal-pressed", "unmetered-air"}),
        ("metering-error.log", 118, {"pedal-pressed", "metering-or-fuel"}),
        ("pedal-not-released.log", 20, {"pedal-pressed"}),
        ("steps-throttle-engine-started.log", 33, {"switched-off"}),
    ],
)
def test_what_has_happened(name: str, at_s: float, happened: set[str]) -> None:
    judged = happenings(scene(recorded(name), at_s, SHEET))
    assert {key for key, one in judged.items() if one.outcome is Outcome.YES} == happened
    assert all(one.evidence for one in judged.values() if one.outcome is not Outcome.CANNOT_TELL)


@pytest.mark.parametrize(
    ("name", "at_s", "unknown"),
    [
        ("sagging-supply.csv", 240, "stalled"),  # a meter knows no engine speed
        ("steps-throttle-engine-started.log", 33, "data-stopped"),  # the whole module is silent: the key was turned
        ("lacking-parameter.log", 50, "supply-sagged"),  # it was never asked
        ("demo-after.log", 70, "hunting"),  # two idles, and only one is judged
        ("demo-before.log", 70, "unmetered-air"),  # an idle alone does not tell
        ("stop-start.log", 55, "stalled"),  # in a car that moved: it may yet start by itself
        ("steps-idle-supply-sag.log", 75, "stalled"),  # the same, at another fraction of a millisecond
        ("steps-idle-late-release.log", 40, "stalled"),  # silence before the engine stood: it was switched off
    ],
)
def test_what_cannot_be_told_is_never_offered(name: str, at_s: float, unknown: str) -> None:
    assert happenings(scene(recorded(name), at_s, SHEET))[unknown].outcome is Outcome.CANNOT_TELL
    assert unknown not in {one.id for one in question(drill((name, at_s, "happened")), 0).choices}


@pytest.mark.parametrize(
    ("name", "at_s", "kind", "right"),
    [
        ("stall.log", 31, "ready", ("yes",)),
        ("stall.log", 36, "ready", ("no",)),
        ("stale.log", 80, "ready", ("cannot tell",)),
        ("stall.log", 31, "missing", (NOTHING,)),
        ("stale.log", 80, "missing", ("coolant-warm",)),
        ("lamp-on.log", 50, "missing", ("no-stored-codes", "lamp-off")),
        ("demo-before.log", 20, "settle", ("cannot tell",)),  # 12 s of idle: too short
        ("demo-before.log", 70, "settle", ("yes",)),
        ("hunting.log", 80, "settle", ("no",)),
        ("stall.log", 31, "happened", (NOTHING,)),
        ("stall.log", 36, "happened", ("stalled",)),
    ],
)
def test_the_truth_by_what_was_known_then(name: str, at_s: float, kind: Kind, right: tuple[str, ...]) -> None:
    asked = drill((name, at_s, kind))
    found, offered = truth(asked, 0), [one.id for one in question(asked, 0).choices]
    assert set(found.right) == set(right) <= set(offered)
    assert found.decided_by and found.reasons and places(question(asked, 0), found, found.right)
    evidence = [one for part in found.decided_by for one in part.evidence]
    assert all((one.last_s or 0.0) <= at_s for one in evidence)


def test_of_an_idle_too_short_to_be_judged_the_longest_is_shown() -> None:
    """demo-before starts its engine at 8 s."""
    found = truth(drill(("demo-before.log", 20, "settle")), 0)
    place = shown(found.decided_by[0].evidence[0])
    assert place is not None and place.channel == "engine_speed"
    assert 8.0 <= place.from_s <= 10.0 and 19.0 <= place.to_s <= 20.0


def test_where_nothing_happened_what_was_looked_through_is_shown() -> None:
    """stall at 31 s: each of what is offered would be seen by then; every place ends there or before."""
    asked = drill(("stall.log", 31, "happened"))
    found, offered = truth(asked, 0), question(asked, 0)
    assert found.reasons == ("from the start to 31.0 s the data would show each of these, and shows none",)
    said = places(offered, found, (NOTHING,))
    assert {one.of for one in said} == {f"{one.text}: no" for one in offered.choices if one.id != NOTHING}
    assert all(one.from_s <= one.to_s <= 31.0 for one in said)


def test_a_choice_that_was_wrong_is_shown_too() -> None:
    asked = drill(("lamp-on.log", 50, "missing"))
    found, offered = truth(asked, 0), question(asked, 0)
    by = {one.id: f"{one.text}: {'yes' if one.id == 'coolant-warm' else 'no'}" for one in offered.choices}
    right = [one.of for one in places(offered, found, found.right)]
    wrong = [one.of for one in places(offered, found, ("coolant-warm",))]
    assert set(right) == {by["no-stored-codes"], by["lamp-off"]}
    assert set(wrong) == {*right, by["coolant-warm"]}
    coolant = next(one for one in places(offered, found, ("coolant-warm",)) if one.of == by["coolant-warm"])
    assert (coolant.channel, coolant.to_s <= 50.0) == ("coolant_temperature", True)


def test_a_precondition_has_one_name_whatever_was_asked() -> None:
    asked = drill(("lamp-on.log", 50, "ready"), ("lamp-on.log", 50, "missing"))
    ready, missing = ({one.of for one in places(question(asked, n), truth(asked, n), ())} for n in (0, 1))
    assert ready == missing == {"no stored trouble codes: no", "malfunction lamp off: no"}


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(("name", "at_s"), [("stall.log", 31), ("lamp-on.log", 50), ("demo-before.log", 20)])
def test_what_is_right_is_the_same_with_and_without_its_reasons(kind: Kind, name: str, at_s: float) -> None:
    asked = drill((name, at_s, kind))
    seen = scene(recorded(name), at_s, SHEET)
    assert right(asked.stops[0], seen)[0] == frozenset(truth(asked, 0).right)


def test_where_data_is_missing_the_time_without_it_is_shown() -> None:
    """stale: the coolant was read for the last time some 40 s before the end, of 90 s (captures/README.md)."""
    asked = drill(("stale.log", 80, "ready"))
    (place,) = places(question(asked, 0), truth(asked, 0), ("yes",))
    assert (place.channel, place.of, place.to_s) == ("coolant_temperature", "coolant warm: cannot tell", 80.0)
    assert 45.0 < place.from_s < 55.0


def test_the_three_answers_and_the_lists_stand_in_an_order_of_their_own() -> None:
    asked = questions(drill(("stall.log", 31, "ready"), ("stall.log", 31, "missing"), ("stall.log", 36, "happened")))
    assert [one.id for one in asked[0].choices] == ["yes", "no", "cannot tell"]
    assert [one.id for one in asked[1].choices][-1] == NOTHING
    order = [*titles(), NOTHING]
    places = [order.index(one.id) for one in asked[2].choices]
    assert places == sorted(places) and len(places) == 7


def test_the_same_question_is_offered_the_same_way() -> None:
    asked = drill(("stall.log", 36, "happened"))
    assert question(asked, 0) == question(drill(("stall.log", 36, "happened")), 0)


def test_a_wording_of_the_trainers_own() -> None:
    asked = drill(("stall.log", 36, "happened"))
    stop = asked.stops[0].model_copy(update={"wording": "What now?", "note": "the blower"})
    own = Drill(asked.path, asked.title, SHEET, (stop,), asked.recordings)
    assert (question(own, 0).text, truth(own, 0).note) == ("What now?", "the blower")


def test_questions_of_one_moment_are_asked_before_any_answer_is_shown() -> None:
    asked = drill(("stall.log", 31, "ready"), ("stall.log", 31, "missing"), ("stall.log", 36, "ready"))
    assert together(asked) == ((0, 1), (2,))


def test_a_moment_at_which_the_answer_changes_is_said() -> None:
    """The engine stalls at 32.4 s: at 32 s the car is still ready, a second later it is not."""
    said = restless(drill(("stall.log", 32, "ready"), ("stall.log", 28, "ready")))
    assert len(said) == 1 and said[0].startswith("stall.log at 32 s, 'ready'")


def test_words_and_functions_go_together() -> None:
    assert list(kinds()) == list(KINDS)
    assert set(titles()) == set(HAPPENINGS)


def test_evidence_is_shown_on_a_channel_that_there_is() -> None:
    assert set(CHANNELS.values()) <= set(known())
    place = shown(EvidenceDoc(subject="stalls", first_s=1.0, last_s=2.0))
    assert place is not None and (place.channel, place.from_s, place.to_s) == ("engine_speed", 1.0, 2.0)
    assert shown(EvidenceDoc(subject="coolant-warm")) is None
