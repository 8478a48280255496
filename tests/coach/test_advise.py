"""What a coach says at moments of demo captures: the same words as the commands that judge a finished recording.

Times are those of the scenarios; what is asked is common practice or from memory, no source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from relearn.analysis.ready import ready
from relearn.analysis.settle import settle
from relearn.analysis.steps import steps
from relearn.coach.advise import STOPPED_AT_MOST_S, advise, halted
from relearn.coach.final import ended
from relearn.coach.standing import Confirmed, by_data
from relearn.findings.advice import Advice, StepNow
from relearn.findings.base import to_json
from relearn.recording import Recording, until
from tests.coach.car import IDLE, PEDAL, THROTTLE, advised, demo_car, standing, whole

AFTER_WRITE = "after-write"
STEPS = [
    ("steps-pedal-right.log", PEDAL),
    ("steps-pedal-short-off.log", PEDAL),
    ("steps-pedal-straddle.log", PEDAL),
    ("steps-throttle-right.log", THROTTLE),
    ("steps-throttle-engine-started.log", THROTTLE),
    ("steps-idle-right.log", IDLE),
    ("steps-idle-four-presses.log", IDLE),
    ("steps-idle-short-hold.log", IDLE),
    ("steps-idle-late-release.log", IDLE),
    ("steps-idle-supply-sag.log", IDLE),
    ("steps-write-wait-right.log", AFTER_WRITE),
    ("steps-write-wait-short.log", AFTER_WRITE),
]
READY = [
    ("demo-ready-idle.log", IDLE),
    ("demo-ready-pedal.log", PEDAL),
    ("demo-ready-throttle.log", THROTTLE),
    ("cold.log", IDLE),
    ("stale.log", IDLE),
    ("lamp-on.log", IDLE),
    ("low-voltage.log", IDLE),
    ("missing-parameter.log", IDLE),
    ("pedal-not-released.log", THROTTLE),
]


@pytest.mark.parametrize(("name", "relearn"), STEPS, ids=[one[0] for one in STEPS])
def test_the_last_word_on_the_steps_is_that_of_relearn_steps(name: str, relearn: str) -> None:
    judged = steps(whole(name), relearn, demo_car())
    said = ended(whole(name), standing(name, relearn, "steps"), demo_car())
    assert said.outcome.value == judged.verdict
    assert any("; ".join(judged.reasons) in line for line in said.lines)


@pytest.mark.parametrize(("name", "relearn"), READY, ids=[f"{one[0]}-{one[1]}" for one in READY])
def test_getting_ready_ends_with_the_verdict_of_relearn_ready(name: str, relearn: str) -> None:
    recording = whole(name)
    judged = ready(recording, relearn, demo_car())
    said = advised(name, recording.duration_s, standing(name, relearn))
    assert (said.verdict, said.reasons) == (judged.verdict, judged.reasons)
    assert [(one.id, one.verdict, one.reason) for one in said.preconditions] == [
        (one.id, one.verdict, one.reason) for one in judged.preconditions
    ]
    assert {one.id for one in said.by_eye} == {one.id for one in judged.by_eye}


def test_the_idle_settles_as_relearn_settle_says() -> None:
    name = "demo-after.log"
    end_s = whole(name).duration_s
    said = advised(name, end_s, standing(name, IDLE, "idle"))
    assert said.verdict == settle(whole(name), demo_car()).verdict == "yes"
    early = advised(name, 75.0, standing(name, IDLE, "idle", 66.0))
    assert early.verdict == "cannot tell" and early.idle is not None
    assert early.idle.held_s is not None and early.idle.left_s == pytest.approx(20.0 - early.idle.held_s, abs=0.1)
    assert early.idle.held_s <= 9.0


def test_a_hunting_idle_never_becomes_a_yes() -> None:
    """The demo's target is 650 ± 50 rpm; the capture swings ± 77 rpm (its scenario)."""
    name = "hunting.log"
    for at_s in (40.0, 60.0, 80.0):
        assert advised(name, at_s, standing(name, IDLE, "idle")).verdict != "yes"


def test_each_precondition_has_value_limit_margin_and_trend() -> None:
    """cold.log warms up: 61 °C at 160 s, asked 80 to 100 °C by the demo sheet."""
    said = advised("cold.log", 160.0, standing("cold.log", IDLE))
    row = next(one for one in said.preconditions if one.id == "coolant-warm")
    assert (row.verdict, row.limits, row.unit) == ("no", (80.0, 100.0), "°C")
    assert row.value in (61.0, 62.0) and row.margin is not None and row.margin < -17
    assert row.trend_per_min is not None and 4 < row.trend_per_min < 15
    assert said.warm_up.startswith("coolant reaches 80 °C in about 1")


def test_a_stale_value_is_not_shown_as_current() -> None:
    """stale.log: coolant is no longer asked from some moment on (its scenario)."""
    said = advised("stale.log", whole("stale.log").duration_s, standing("stale.log", IDLE))
    stale = [one for one in said.preconditions if one.verdict == "cannot tell"]
    assert stale and all((one.value, one.margin, one.trend_per_min) == (None, None, None) for one in stale)


def test_data_that_stops_is_said_within_two_seconds_and_advice_stops() -> None:
    where = standing("demo-ready-idle.log", IDLE)
    assert STOPPED_AT_MOST_S + 0.5 <= 2.0  # the coach looks twice a second
    before = advised("demo-ready-idle.log", 60.5, where, heard_until_s=60.0)
    after = advised("demo-ready-idle.log", 61.6, where, heard_until_s=60.0)
    assert before.stopped == "" and before.verdict == "yes"
    assert after.stopped.startswith("no answers for 2 s") and after.verdict == "cannot tell"
    assert all(one.value is None and one.verdict == "cannot tell" for one in after.preconditions)


def test_a_hold_that_loses_its_data_has_no_countdown() -> None:
    said = advised("steps-idle-right.log", 62.0, standing("steps-idle-right.log", IDLE, "steps", 15.0), 58.0)
    assert said.stopped and said.now is None and said.say.startswith("No answers for 4 s")
    assert not [one for one in said.steps if one.state == "now"]


def test_before_anybody_answers_there_is_no_advice() -> None:
    said = advised("steps-idle-right.log", 1.0, standing("steps-idle-right.log", IDLE), heard_until_s=-1.0)
    assert (said.verdict, said.silent_s) == ("cannot tell", None) and said.stopped


def stepped(at_s: float, name: str = "steps-idle-right.log", since_s: float = 15.0) -> Advice:
    return advised(name, at_s, standing(name, IDLE, "steps", since_s))


def now(at_s: float, name: str = "steps-idle-right.log") -> StepNow:
    said = stepped(at_s, name)
    assert said.now is not None, said.say
    return said.now


def test_switching_off_comes_first_and_its_silence_is_expected() -> None:
    assert stepped(16.0).say.startswith("With everything above fulfilled, switch the engine")
    silent = stepped(27.0)
    assert silent.quiet == "no answers for 7 s: ignition off, or the cable" and silent.stopped == ""
    assert silent.now is not None and silent.now.id == "ignition-on" and silent.now.signs[0].startswith("ignition off")


def test_presses_are_counted_as_they_come() -> None:
    """Five presses from 35.0 s on, one each 0.9 s, 0.2 s down and 0.2 s up (the scenario)."""
    counts = [now(at_s).signs[0] for at_s in (35.8, 36.7, 37.6, 38.5)]
    assert counts == [f"{number} of 5 presses counted" for number in (1, 2, 3, 4)]
    assert now(39.9).id == "wait"


def test_the_hold_counts_down_and_the_lamp_is_told() -> None:
    """Held from 46.6 s on; the lamp blinks and then stays lit at 66.7 s (the scenario)."""
    held = now(56.6)
    assert held.id == "hold" and held.countdown is not None and not held.reached
    assert held.countdown.left_s == pytest.approx(10.0, abs=0.3) and "lamp blinking" in held.signs


def test_release_is_said_before_it_is_too_late() -> None:
    name = "steps-idle-late-release.log"  # the lamp stays lit from 66.9 s on, the pedal is held till 71.2 s (scenario)
    early, late = stepped(66.2, name), stepped(68.0, name)
    assert early.now is not None and not early.now.reached
    assert late.now is not None and late.now.reached and late.say.startswith("Now: Release the pedal")
    assert late.now.countdown is not None and late.now.countdown.too_late_s is not None
    assert 1.0 < late.now.countdown.too_late_s < 3.0


@pytest.mark.parametrize(
    ("name", "at_s", "words"),
    [
        ("steps-idle-four-presses.log", 50.0, "presses: pedal pressed fully 4 times, asked 5 times"),
        ("steps-idle-short-hold.log", 62.0, "hold: pedal held 12"),
        ("steps-idle-supply-sag.log", 70.0, "hold: the supply sagged to 11"),
    ],
    ids=["four-presses", "short-hold", "supply-sag"],
)
def test_a_step_done_wrong_is_said_with_what_a_new_try_needs(name: str, at_s: float, words: str) -> None:
    said = stepped(at_s, name)
    assert said.verdict == "no" and said.wrong[0].startswith(words)
    assert "service information" in said.wrong[1] and said.say.startswith("Switch the ignition off")
    assert [one.state for one in said.steps].count("wrong") >= 1


def test_a_right_course_is_never_called_wrong_and_ends_by_itself() -> None:
    where, seen = standing("steps-idle-right.log", IDLE, "steps", 15.0), []
    for at_s in range(16, 136):
        said = advised("steps-idle-right.log", at_s, where)
        assert not said.wrong and said.verdict != "no" and not said.stopped, (at_s, said.say)
        seen.append(said.stage)
        where = by_data(where, said)
    assert list(dict.fromkeys(seen)) == ["steps", "idle", "done"]


def test_the_pedal_relearn_ends_in_a_silence_that_is_asked_for() -> None:
    name = "steps-pedal-right.log"
    said = advised(name, whole(name).duration_s, standing(name, PEDAL, "steps", 0.5))
    assert said.stopped == "" and [one.state for one in said.steps] == ["done"] * 4 and said.verdict == "yes"


def test_every_advice_says_that_it_only_advises_and_its_cautions() -> None:
    for stage in ("getting ready", "steps", "idle", "done"):
        said = advised("steps-idle-right.log", 18.0, standing("steps-idle-right.log", IDLE, stage, 1.0))
        assert said.only_advises.startswith("This program only reads.")
        assert {"hot-engine", "exhaust", "can-move", "revs", "fans", "service-information"} <= {
            one.id for one in said.cautions
        }


def test_a_confirmed_item_carries_its_time() -> None:
    where = standing("demo-ready-idle.log", IDLE)
    where = replace(where, confirmed=(Confirmed("blower-off", 1_779_091_530.0),))
    row = next(one for one in advised("demo-ready-idle.log", 50.0, where).by_eye if one.id == "blower-off")
    assert row.confirmed == "2026-05-18T08:05:30+00:00"


def test_an_advice_reads_back_from_its_json() -> None:
    said = stepped(60.0)
    assert Advice.model_validate_json(to_json(said)) == said


def without(name: str, channels: tuple[str, ...], from_s: float) -> Recording:
    """A capture in which some channels are no longer answered from a moment on."""
    recording = whole(name)
    cut = [replace(one, time_s=one.time_s[one.time_s < from_s]) for one in recording.series]
    kept = (
        replace(was, time_s=one.time_s, value=was.value[: len(one.time_s)], frame=was.frame[: len(one.time_s)])
        if was.signal.name in channels
        else was
        for was, one in zip(recording.series, cut, strict=True)
    )
    return replace(recording, series=tuple(one for one in kept if len(one)))


def test_a_pedal_that_is_no_longer_read_is_not_shown_as_it_was() -> None:
    """Pedal answers end at 40 s, with the pedal released; it is held from 46.6 s on (the scenario)."""
    recording = without(
        "steps-idle-right.log", ("accelerator_pedal_position_d", "relative_accelerator_pedal_position"), 40.0
    )
    at_s = 56.0
    where = standing("steps-idle-right.log", IDLE, "steps", 15.0)
    said = advise(until(recording, at_s), (recording.start_unix_s or 0.0) + at_s, where, demo_car())
    assert said.now is not None and said.now.countdown is None
    assert [one for one in said.now.signs if "pedal" in one] == ["accelerator pedal – (not read for 16 s)"]
    assert said.lost


def test_an_engine_speed_that_is_no_longer_read_is_a_dash_with_its_age() -> None:
    recording = without("demo-after.log", ("engine_speed",), 80.0)
    where = standing("demo-after.log", IDLE, "idle", 20.0)
    said = advise(until(recording, 90.0), (recording.start_unix_s or 0.0) + 90.0, where, demo_car())
    assert said.idle is not None and said.idle.speed_rpm is None and said.idle.held_s is None
    assert said.idle.age_s == pytest.approx(10.0, abs=0.2) and "not read for 10 s" in said.say
    assert said.verdict != "yes"


def test_presses_count_down_from_the_first_by_the_clock() -> None:
    """Four presses from 35.1 s on (the scenario), 5 s for five (the procedure)."""
    left = [now(at_s, "steps-idle-four-presses.log").countdown for at_s in (36.0, 38.0, 39.5)]
    late = [round(one.too_late_s or 0.0, 1) for one in left if one is not None]
    assert len(late) == 3 and late[0] - late[1] == pytest.approx(2.0, abs=0.15)
    assert late[1] - late[2] == pytest.approx(1.5, abs=0.15)


def test_what_stands_against_going_on_is_the_true_reason() -> None:
    said = stepped(50.0)
    assert said.reasons == ("hold is not done yet",)
    spoiled = without("steps-idle-right.log", ("accelerator_pedal_position_d",), 36.0)
    where = standing("steps-idle-right.log", IDLE, "steps", 15.0)
    told = advise(until(spoiled, 50.0), (spoiled.start_unix_s or 0.0) + 50.0, where, demo_car())
    assert told.reasons[0].startswith("presses cannot be told: the accelerator pedal was not read for")


def test_a_module_that_only_asks_for_time_is_no_loose_cable() -> None:
    why = "7E8 asks for time: no value comes from it until it answers"
    said = halted(stepped(60.0), why)
    assert (said.stopped, said.verdict, said.now, said.reasons) == (why, "cannot tell", None, (why,))
    assert not [one for one in said.steps if one.state == "now"]
