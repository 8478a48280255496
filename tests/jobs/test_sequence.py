"""Where a job stands and what is refused, on records written by hand: literal lines in, outcomes and sentences out.

The order of the relearns is common practice and from memory, no source, as the procedure files say; here only that
the sequence keeps to it.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from relearn.analysis.plan import plan
from relearn.findings.base import Answer
from relearn.jobs.record import NOTHING_BEFORE, Added, Answered, Confirmed, Item, Line, Role, What
from relearn.jobs.refusals import against_adding, against_confirming
from relearn.jobs.sequence import Job, asked_by_eye, current, done, relearn_stage, stages, verdict
from relearn.procedures.sheets import generic
from relearn.verdict import Outcome

PEDAL, THROTTLE, IDLE = "accelerator-closed-position", "throttle-closed-position", "idle-air-volume"
BY_EYE = (
    "park-or-neutral",
    "lamps-off",
    "blower-off",
    "air-conditioning-off",
    "rear-defogger-off",
    "wheels-straight",
    "transmission-warm",
)


def capture(
    role: Role, relearn: str | None = None, said: Answer | None = "yes", kind: str | None = None, left: str = ""
) -> Added:
    """A capture that was taken for something, and what its check said."""
    answers = (Answered(kind=kind or role, verdict=said, reason=f"it says {said}"),) if said is not None else ()
    return Added(
        role=role,
        relearn=relearn,
        file=f"captures/{role}.log",
        original="a.log",
        verdict=said,
        answers=answers,
        by_eye=(Item(id=left, text=left),) if left else (),
        version="0",
    )


def word(item: str) -> Confirmed:
    return Confirmed(item=item, by="Demo Technician")


def job(*lines: What, after: str = "reprogrammed") -> Job:
    """A job whose record has these lines."""
    time = datetime(2026, 5, 18, 10, tzinfo=UTC)
    numbered = (
        Line(number=number, time=time, before=NOTHING_BEFORE, what=what) for number, what in enumerate(lines, start=1)
    )
    return Job(plan([after], generic()), tuple(numbered))


WRITTEN = (capture("before", said=None), capture("write"), word("after-write"))
PEDAL_DONE = (capture("ready", PEDAL), word(PEDAL))
THROTTLE_DONE = (capture("ready", THROTTLE), word(THROTTLE))
IDLE_READY = (capture("ready", IDLE), *map(word, BY_EYE))
IDLE_DONE = (*IDLE_READY, capture("steps", IDLE))
SETTLED = capture("after", kind="settle")
WHOLE = (*WRITTEN, *PEDAL_DONE, *THROTTLE_DONE, *IDLE_DONE, SETTLED)


def at(found: Job) -> str | None:
    stage = current(found)
    return stage.id if stage is not None else None


def test_a_whole_job_is_a_yes_and_leaves_nothing_to_do() -> None:
    assert verdict(job(*WHOLE))[0] is Outcome.YES
    assert current(job(*WHOLE)) is None


@pytest.mark.parametrize(
    ("lines", "stage"),
    [
        ((), "before"),
        (WRITTEN[:1], "write"),
        (WRITTEN[:2], "after-write"),
        (WRITTEN, PEDAL),
        ((*WRITTEN, *PEDAL_DONE), THROTTLE),
        ((*WRITTEN, *PEDAL_DONE, *THROTTLE_DONE), IDLE),
        (WHOLE[:-1], "after"),
    ],
)
def test_each_stage_comes_when_those_before_are_done(lines: tuple[What, ...], stage: str) -> None:
    assert at(job(*lines)) == stage
    assert verdict(job(*lines))[0] is Outcome.CANNOT_TELL


@pytest.mark.parametrize("missing", range(len(WHOLE)))
def test_a_yes_needs_every_single_line(missing: int) -> None:
    assert verdict(job(*WHOLE[:missing], *WHOLE[missing + 1 :]))[0] is not Outcome.YES


def test_a_job_without_a_write_begins_with_its_first_relearn() -> None:
    found = job(after="throttle-body-cleaned")
    assert [one.id for one in stages(found)] == [THROTTLE, IDLE, "after"]
    assert against_adding(found, "ready", THROTTLE) == ()


def test_a_sagged_write_stays_a_no_and_the_job_goes_on() -> None:
    found = job(capture("before", said=None), capture("write", said="no"), word("after-write"))
    assert at(found) == PEDAL
    assert verdict(found)[0] is Outcome.NO


@pytest.mark.parametrize(
    ("steps", "by_word", "outcome"),
    [
        (None, False, Outcome.CANNOT_TELL),
        (None, True, Outcome.YES),
        ("yes", False, Outcome.YES),
        ("no", False, Outcome.NO),
        ("no", True, Outcome.NO),  # nobody's word outweighs a capture that shows the opposite
        ("cannot tell", False, Outcome.CANNOT_TELL),
        ("cannot tell", True, Outcome.YES),
    ],
)
def test_what_shows_that_a_relearn_was_done(steps: Answer | None, by_word: bool, outcome: Outcome) -> None:
    tried = (capture("steps", PEDAL, steps),) if steps is not None else ()
    assert done(job(*WRITTEN, *tried, *((word(PEDAL),) if by_word else ())), PEDAL).outcome is outcome


def test_a_word_given_before_the_capture_says_nothing_of_it() -> None:
    assert done(job(word(PEDAL), capture("steps", PEDAL, "cannot tell")), PEDAL).outcome is Outcome.CANNOT_TELL


def test_the_latest_try_counts() -> None:
    no, yes = capture("steps", PEDAL, "no"), capture("steps", PEDAL)
    assert done(job(no, yes), PEDAL).outcome is Outcome.YES
    assert done(job(yes, no), PEDAL).outcome is Outcome.NO


def test_a_relearn_does_not_count_once_what_it_comes_after_was_done_again() -> None:
    again = job(*WHOLE[:-1], capture("steps", PEDAL), SETTLED)
    stage = relearn_stage(again, again.relearn(THROTTLE))
    assert stage.outcome is Outcome.CANNOT_TELL
    assert stage.reason == "it was done before Accelerator closed (released) position, which it comes after"
    assert at(again) == THROTTLE


def test_idle_air_is_proven_by_the_idle_that_settled_after_it() -> None:
    for said, outcome in (("no", Outcome.NO), ("cannot tell", Outcome.CANNOT_TELL)):
        found = job(*WHOLE[:-1], capture("after", said=said, kind="settle"))  # type: ignore[arg-type]
        assert relearn_stage(found, found.relearn(IDLE)).outcome is outcome
    before = job(*WRITTEN, *PEDAL_DONE, *THROTTLE_DONE, SETTLED, *IDLE_DONE)
    assert "was taken before it was done" in relearn_stage(before, before.relearn(IDLE)).reason


@pytest.mark.parametrize(
    ("lines", "role", "relearn", "sentence"),
    [
        (WRITTEN, "before", None, "the write is in the job already"),
        ((), "write", None, "nothing was read out before the write"),
        (WRITTEN[:1], "steps", "after-write", "the wait comes after the write"),
        ((), "ready", PEDAL, "no capture of the write is in the job"),
        (WRITTEN[:2], "ready", PEDAL, "the wait after the write is not shown to be done"),
        (
            WRITTEN,
            "ready",
            THROTTLE,
            "Throttle closed position comes after Accelerator closed (released) position, which is not",
        ),
        (WRITTEN, "steps", PEDAL, "no capture shows that the car is ready for Accelerator closed (released) position"),
        ((*WRITTEN, capture("ready", PEDAL, "no")), "steps", PEDAL, "captures/ready.log: it says no"),
        ((*WRITTEN, capture("ready", PEDAL, "cannot tell")), "steps", PEDAL, "it says cannot tell"),
        ((*WRITTEN, *PEDAL_DONE, *THROTTLE_DONE, *IDLE_READY[:-1]), "steps", IDLE, "by eye: transmission warm"),
        ((*WRITTEN, *PEDAL_DONE, *THROTTLE_DONE), "after", None, "Idle air volume is not shown to be done"),
    ],
)
def test_what_is_refused_and_why(lines: tuple[What, ...], role: Role, relearn: str | None, sentence: str) -> None:
    assert any(sentence in one for one in against_adding(job(*lines), role, relearn))


def test_nothing_stands_against_a_job_done_in_its_order() -> None:
    """Every line of the whole job, judged against those before it."""
    for place, what in enumerate(WHOLE):
        found = job(*WHOLE[:place])
        if isinstance(what, Added):
            assert against_adding(found, what.role, what.relearn) == ()
        elif isinstance(what, Confirmed):
            assert against_confirming(found, what.item) == ()


def test_a_word_for_a_relearn_is_refused_like_its_capture_and_against_a_capture_that_says_no() -> None:
    assert against_confirming(job(*WRITTEN), PEDAL) == against_adding(job(*WRITTEN), "steps", PEDAL) != ()
    tried = job(*WRITTEN, PEDAL_DONE[0], capture("steps", PEDAL, "no"))
    assert against_confirming(tried, PEDAL) == (
        "the capture captures/steps.log shows that its steps were not done: it says no",
    )


def test_what_the_module_does_not_show_is_asked_of_the_eye() -> None:
    found = job(*WRITTEN, capture("ready", PEDAL, left="pedal-released"))
    assert list(asked_by_eye(found, found.relearn(PEDAL))) == ["pedal-released"]
    assert "not confirmed by eye: pedal-released" in against_adding(found, "steps", PEDAL)


def test_a_replaced_module_gets_its_vin_and_keys_before_it_idles() -> None:
    found = job(*WRITTEN, after="module-replaced")
    assert [one.id for one in stages(found)][3:5] == ["vin-write", "immobilizer-registration"]
    assert at(found) == "vin-write"
    assert "no capture shows that the car is ready for VIN write" in against_confirming(found, "vin-write")
    keyed: list[What] = [*WRITTEN]
    for one in found.plan.relearns[:2]:
        keyed += [capture("ready", one.id), *(word(item.id) for item in one.by_eye), word(one.id)]
    assert at(job(*keyed, after="module-replaced")) == PEDAL


def test_a_capture_from_another_car_that_counts_makes_the_job_a_no() -> None:
    other = capture("after", kind="settle").model_copy(update={"vin": "30ZDEML28TD000001"})
    whole = job(*WHOLE[:-1], other)
    assert verdict(replace(whole, vin="30ZDEML28TD000001"))[0] is Outcome.YES
    outcome, reasons = verdict(replace(whole, vin="1M8GDM9AXKP042788"))
    assert (outcome, len(reasons)) == (Outcome.NO, 1)
    again = job(*WHOLE[:-1], other, SETTLED)
    assert verdict(replace(again, vin="1M8GDM9AXKP042788"))[0] is Outcome.YES
