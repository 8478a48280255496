"""A coaching goes into a job as what it is, in the job's own order."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest

from relearn.coach.into_job import Into, asked_of, before, into_job
from relearn.coach.standing import Confirmed, GoneOn, Standing, begin
from relearn.errors import ChoiceError, JobError
from relearn.jobs.record import Added
from relearn.jobs.record import Confirmed as Word
from tests.coach.car import CAPTURES, THROTTLE, whole
from tests.jobs.build import BEFORE, BY, added, started, working

STEPS = CAPTURES / "steps-throttle-right.log"
START_S = whole(STEPS.name).start_unix_s or 0.0


def stood(began_s: float | None, *gone_on: str) -> Standing:
    """Ready until so many seconds into the capture, then the steps."""
    first = begin(THROTTLE, START_S)
    said = tuple(GoneOn("getting ready", START_S, "x", one) for one in gone_on)
    if began_s is None:
        return first
    at_s = START_S + began_s
    return replace(first, stage="steps", since_s=at_s, began=(*first.began, ("steps", at_s)), gone_on=said)


def a_job(folder: Path, with_before: bool = True) -> Into:
    started(folder)
    if with_before:
        added(folder, BEFORE, "before")
    return asked_of(folder, THROTTLE, "", folder / "book.db")


def what(folder: Path) -> list[tuple[str, str | None]]:
    with working(folder) as work:
        return [(one.what.role, one.what.verdict) for one in work.job.lines if isinstance(one.what, Added)]


def test_the_steps_go_in_with_the_readiness_before_them(tmp_path: Path) -> None:
    capture = tmp_path / "coached.log"
    capture.write_bytes(STEPS.read_bytes())
    job = a_job(tmp_path / "job", with_before=False)
    told = list(into_job(job, capture, stood(12.0)))
    assert what(job.folder) == [("ready", "yes"), ("steps", "yes")], told
    assert capture.read_bytes() == STEPS.read_bytes()
    assert STEPS.read_bytes().startswith((tmp_path / "coached-ready.log").read_bytes())


def test_what_is_refused_is_told_and_the_capture_stays(tmp_path: Path) -> None:
    capture = tmp_path / "coached.log"
    capture.write_bytes(STEPS.read_bytes())
    job = a_job(tmp_path / "job", with_before=False)
    told = list(into_job(job, capture, stood(0.2)))
    assert what(job.folder) == [("ready", "cannot tell")]
    assert told[-1].startswith("not in the job, as steps:") and str(capture) in told[-1] and capture.is_file()


def test_a_persons_reason_is_the_jobs_anyway(tmp_path: Path) -> None:
    capture = tmp_path / "coached.log"
    capture.write_bytes(STEPS.read_bytes())
    job = a_job(tmp_path / "job", with_before=False)
    list(into_job(job, capture, stood(0.2, "own meter")))
    with working(job.folder) as work:
        last = work.job.lines[-1].what
    assert isinstance(last, Added) and (last.role, last.anyway) == ("steps", "own meter") and last.refused


def test_a_coaching_that_never_left_getting_ready_shows_the_readiness(tmp_path: Path) -> None:
    capture = tmp_path / "coached.log"
    capture.write_bytes((CAPTURES / "demo-ready-throttle.log").read_bytes())
    job = a_job(tmp_path / "job", with_before=False)
    list(into_job(job, capture, stood(None)))
    assert what(job.folder) == [("ready", "yes")]


def test_what_was_seen_is_written_down_with_its_own_time(tmp_path: Path) -> None:
    started(tmp_path / "job", "throttle-body-cleaned")
    job = asked_of(tmp_path / "job", "idle-air-volume", "", tmp_path / "book.db")
    seen_s = 1_779_091_530.0
    idle = replace(begin("idle-air-volume", seen_s - 9), confirmed=(Confirmed("blower-off", seen_s),))
    told = list(into_job(job, CAPTURES / "demo-ready-idle.log", idle))
    with working(job.folder) as work:
        words = [one for one in work.job.lines if isinstance(one.what, Word)]
    assert [(one.what.item, one.what.by, one.time.timestamp()) for one in words] == [("blower-off", BY, seen_s)], told  # type: ignore[union-attr]
    assert datetime.fromtimestamp(seen_s).strftime("%M:%S") in told[-1]


def test_a_job_is_asked_before_anything_is_recorded(tmp_path: Path) -> None:
    started(tmp_path / "job")
    with pytest.raises(ChoiceError, match="asks for no 'after-write'"):
        asked_of(tmp_path / "job", "after-write", "")
    with pytest.raises(JobError):
        asked_of(tmp_path, THROTTLE, "")


def test_the_readiness_file_is_never_written_over(tmp_path: Path) -> None:
    capture = tmp_path / "one.log"
    capture.write_text("(1.000000) can0 7DF#00\n(2.000000) can0 7DF#00\n(3.000000) can0 7DF#00\n", encoding="ascii")
    assert [before(capture, 2.0).name for _ in range(2)] == ["one-ready.log", "one-ready-2.log"]
    assert (tmp_path / "one-ready.log").read_text(encoding="ascii").count("\n") == 2
