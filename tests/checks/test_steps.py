"""The steps on hand-worked timelines (steps_cases.toml). Times asked for: common practice or from memory, no source."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from relearn.checks.step_measures import Measure
from relearn.checks.step_patterns import PATTERNS, SOURCES
from relearn.j1979.records import Support
from relearn.procedures.patterns import PATTERNS as NAMED
from relearn.procedures.sheets import generic, load_sheet
from relearn.verdict import Outcome
from tests.checks.steps_script import CASES, asked, case, seen, ticks


def names(one: dict[str, Any]) -> str:
    return str(one["name"])


def measured(measure: Measure, value: float) -> bool:
    """The hand-worked value lies between least and most, which are no further apart than two intervals at each end."""
    return measure.least - 0.05 <= value <= measure.most + 0.05 and (measure.uncertainty or 0.0) <= 1.6


@pytest.mark.parametrize("one", CASES, ids=names)
def test_what_a_hand_worked_timeline_comes_out_as(one: dict[str, Any]) -> None:
    found = asked(one["relearn"], seen(one["script"]))
    done = {step.step.id: step for step in found.done}
    assert found.verdict.outcome.value == one["verdict"], found.verdict.reason
    for name, (outcome, *value) in one["steps"].items():
        assert done[name].judged.value == outcome, f"{name}: {done[name].reason}"
        if value:
            assert any(measured(one, value[0]) for one in done[name].measures), f"{name}: {done[name].reason}"
    for words in one.get("troubles", ()):
        assert any(words in sentence for sentence in found.troubles), found.troubles
    assert bool(found.troubles) == (one["verdict"] == "no")


def test_every_pattern_a_procedure_may_name_exists_and_is_tried_here() -> None:
    assert set(PATTERNS) == set(NAMED) and set(SOURCES) <= set(PATTERNS)
    tried = {
        pattern for one in CASES for step in asked(one["relearn"], seen(one["script"])).done for pattern in step.found
    }
    assert tried == set(PATTERNS)


@pytest.mark.parametrize(("end_s", "outcome"), [(67.0, Outcome.CANNOT_TELL), (74.0, Outcome.YES)])
def test_two_revs_may_become_four_if_the_capture_ends_at_once(end_s: float, outcome: Outcome) -> None:
    script = {**case("idle right")["script"], "end_s": end_s}
    rev = asked("idle-air-volume", seen(script)).done[-1]
    assert (rev.step.id, rev.judged) == ("rev", outcome)


def test_what_the_module_lacks_is_left_to_the_eye() -> None:
    """Masks without 01 (lamp): hold is judged by the pedal alone, the release cannot be timed and is seen by eye."""
    script = {**case("idle right")["script"], "lacks": ["malfunction_lamp"]}
    masks = Support(frozenset({0x00, 0x20, 0x40}), frozenset({0x05, 0x0C, 0x0D, 0x42, 0x49}))
    car = seen(script)
    car = type(car)(car.module, car.channels, car.end_s, masks, traffic=car.traffic)
    found = asked("idle-air-volume", car)
    assert found.verdict.outcome is Outcome.YES
    assert [step.step.id for step in found.unseen] == ["release"]


def test_the_sheets_own_step_numbers_are_what_is_asked(tmp_path: Any) -> None:
    path = tmp_path / "car.toml"
    path.write_text(
        'title = "t"\nsource = "s"\n[steps.accelerator-closed-position.second-off]\nat_least_s = 5\n', encoding="utf-8"
    )
    car = seen(case("pedal second off too short")["script"])
    assert asked("accelerator-closed-position", car, load_sheet(path)).verdict.outcome is Outcome.YES
    assert asked("accelerator-closed-position", car, generic()).verdict.outcome is Outcome.NO


def test_a_silence_in_which_nobody_asked_may_be_a_pause_of_the_recording() -> None:
    """Ignition on all the time, the recording loses 12 s; and this tester is seen asking in vain in the second off."""
    script = {"on": [[1, 34], [46, 50]], "end_s": 50}
    whole = ticks(script)
    found = asked("accelerator-closed-position", seen(script, (whole < 10) | (whole > 22)))
    first_off = next(step for step in found.done if step.step.id == "first-off")
    assert first_off.judged is Outcome.CANNOT_TELL
    assert found.verdict.outcome is Outcome.CANNOT_TELL


@pytest.mark.parametrize(
    ("name", "verdict"),
    [("pedal right", Outcome.YES), ("pedal second off too short", Outcome.NO), ("write wait right", Outcome.YES)],
)
def test_without_requests_a_silence_of_everything_that_comes_back_counts(name: str, verdict: Outcome) -> None:
    one = case(name)
    assert asked(one["relearn"], seen(one["script"], requests=False)).verdict.outcome is verdict


def test_without_requests_a_silence_that_does_not_come_back_does_not_count() -> None:
    one = case("pedal off to the end, asked in vain for long enough")
    assert asked(one["relearn"], seen(one["script"], requests=False)).verdict.outcome is Outcome.CANNOT_TELL


def test_a_silent_module_on_a_bus_that_is_heard_is_not_off_for_sure() -> None:
    """Nobody is seen asking it, others talk on: its silence may be that nobody asked."""
    one = case("pedal right")
    car = seen(one["script"], requests=False)
    assert car.traffic is not None
    told = type(car.traffic)(car.traffic.answered_s, car.traffic.frame, others_s=np.arange(0.0, 36.0, 0.5))
    car = type(car)(car.module, car.channels, car.end_s, traffic=told)
    assert asked(one["relearn"], car).verdict.outcome is Outcome.CANNOT_TELL


def test_nothing_heard_at_all_cannot_tell() -> None:
    found = asked("accelerator-closed-position", seen({"on": [], "end_s": 20}))
    assert (found.verdict.outcome, found.verdict.reason) == (Outcome.CANNOT_TELL, "no module answered")


def test_a_relearn_that_no_scan_data_shows_cannot_be_told() -> None:
    found = asked("vin-write", seen(case("pedal right")["script"]))
    assert (found.verdict.outcome, found.done) == (Outcome.CANNOT_TELL, ())


def moved(script: dict[str, Any], by_s: float) -> dict[str, Any]:
    """The same, later."""
    spans = {
        key: [[a + by_s, b + by_s, *rest] for a, b, *rest in several]
        for key, several in script.items()
        if key != "end_s"
    }
    return {**spans, "end_s": script["end_s"] + by_s}


def after(first: dict[str, Any], second: dict[str, Any]) -> dict[str, Any]:
    """One after the other."""
    both = {key: [*first.get(key, []), *second.get(key, [])] for key in {*first, *second} - {"end_s"}}
    return {**both, "end_s": second["end_s"]}


IDLE = {**case("idle right")["script"], "on": [[2, 85]]}
PEDAL = {"on": [[1, 4], [16, 19], [31, 34]], "end_s": 34}


def test_an_earlier_relearn_done_only_afterwards_breaks_the_order() -> None:
    found = asked("idle-air-volume", seen(after(IDLE, moved(PEDAL, 95))), earlier=["accelerator-closed-position"])
    assert {step.judged for step in found.done} == {Outcome.YES}
    assert found.verdict.outcome is Outcome.CANNOT_TELL
    assert found.troubles[0].startswith("Accelerator closed (released) position comes first")


def test_an_earlier_relearn_done_before_keeps_the_order() -> None:
    found = asked("idle-air-volume", seen(after(PEDAL, moved(IDLE, 44))), earlier=["accelerator-closed-position"])
    assert (found.verdict.outcome, found.troubles) == (Outcome.YES, ())


def test_an_earlier_relearn_that_the_capture_does_not_show_breaks_nothing() -> None:
    found = asked("idle-air-volume", seen(IDLE), earlier=["accelerator-closed-position", "throttle-closed-position"])
    assert (found.verdict.outcome, found.troubles) == (Outcome.YES, ())
