"""A coaching is moved on by data and by a person, and never past a no or a cannot tell without their reason."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from relearn.coach.standing import Confirm, End, Key, Next, Standing, against, begin, by_data, by_keys
from relearn.errors import ChoiceError
from relearn.findings.advice import Advice, EyeRow, StageName
from relearn.findings.base import Answer

ITEMS = ("blower-off", "lamps-off")


def advice(stage: StageName, verdict: Answer, standing: Standing | None = None, stopped: str = "") -> Advice:
    known = {one.item for one in standing.confirmed} if standing is not None else set()
    eye = tuple(EyeRow(id=one, text=one, confirmed="12:00" if one in known else None) for one in ITEMS)
    return Advice(
        relearn="idle-air-volume",
        title="Idle air volume",
        sheet="s",
        stage=stage,
        time_s=20.0,
        at_s=10.0,
        verdict=verdict,
        reasons=("coolant warm: 62 °C",),
        say="do",
        silent_s=0.0,
        stopped=stopped,
        by_eye=eye if stage == "getting ready" else (),
        cautions=(),
        only_advises="reads only",
    )


def test_each_relearn_has_its_stages() -> None:
    assert begin("idle-air-volume", 1.0).stages == ("getting ready", "steps", "idle", "done")
    assert begin("accelerator-closed-position", 1.0).stages == ("getting ready", "steps", "done")
    assert begin("after-write", 1.0).stages == ("steps", "done")
    with pytest.raises(ChoiceError, match="after-write"):
        begin("idle", 1.0)


def test_confirming_stamps_one_item_after_the_other() -> None:
    first = begin("idle-air-volume", 1.0)
    moved = by_keys(first, advice("getting ready", "yes"), [Confirm(), Confirm(), Confirm()])
    assert [(one.item, one.time_s) for one in moved.standing.confirmed] == [(one, 20.0) for one in ITEMS]
    assert moved.answer == "nothing is left to be confirmed by eye"


def test_going_on_with_a_yes_needs_everything_confirmed() -> None:
    first = begin("idle-air-volume", 1.0)
    seen = advice("getting ready", "yes")
    refused = by_keys(first, seen, [Next()])
    assert refused.standing == first and "not confirmed by eye: blower-off, lamps-off" in refused.answer
    went = by_keys(first, seen, [Confirm(), Confirm(), Next()]).standing
    assert (went.stage, went.since_s, went.gone_on) == ("steps", 20.0, ())


@pytest.mark.parametrize("verdict", ["no", "cannot tell"])
def test_going_on_without_a_yes_needs_a_reason_and_keeps_it(verdict: Answer) -> None:
    first = begin("idle-air-volume", 1.0)
    seen = advice("getting ready", verdict)
    assert by_keys(first, seen, [Next("  ")]).standing == first
    went = by_keys(first, seen, [Next("own meter")]).standing
    assert went.stage == "steps" and went.gone_on[0].reason == "own meter"
    assert "coolant warm: 62 °C" in went.gone_on[0].against and "blower-off" in went.gone_on[0].against


def test_a_yes_leads_on_from_the_steps_and_the_idle_but_not_from_getting_ready() -> None:
    first = begin("idle-air-volume", 1.0)
    assert by_data(first, advice("getting ready", "yes")) == first
    steps = replace(first, stage="steps")
    assert by_data(steps, advice("steps", "no")) == steps
    assert by_data(steps, advice("steps", "yes", stopped="no answers for 3 s")) == steps
    idle = by_data(steps, advice("steps", "yes"))
    assert (idle.stage, by_data(idle, advice("idle", "yes")).stage) == ("idle", "done")


def test_what_was_said_to_an_earlier_stage_is_not_taken_for_this_one() -> None:
    steps = replace(begin("idle-air-volume", 1.0), stage="steps")
    assert by_keys(steps, advice("getting ready", "yes"), [Confirm(), Next("why")]).standing == steps
    assert by_keys(steps, advice("getting ready", "yes"), [End()]).standing.ended


KEYS = st.lists(st.one_of(st.just(Confirm()), st.builds(Next, st.sampled_from(["", " ", "because"])), st.just(End())))


@given(KEYS, st.sampled_from(["yes", "no", "cannot tell"]))
def test_no_keys_leave_getting_ready_without_a_yes_or_a_reason(keys: list[Key], verdict: Answer) -> None:
    first = begin("idle-air-volume", 1.0)
    moved = by_keys(first, advice("getting ready", verdict), keys).standing
    if moved.stage != "getting ready":
        allowed = verdict == "yes" and {one.item for one in moved.confirmed} >= set(ITEMS)
        assert allowed or any(one.reason == "because" for one in moved.gone_on)


def test_nothing_stands_against_a_yes_that_is_confirmed() -> None:
    first = by_keys(begin("idle-air-volume", 1.0), advice("getting ready", "yes"), [Confirm(), Confirm()]).standing
    assert against(first, advice("getting ready", "yes", first)) == ""
