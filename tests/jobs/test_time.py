"""A capture recorded before what the job already builds on shows nothing of what came after (by their own clocks)."""

from pathlib import Path

import pytest

from relearn.errors import JobError
from tests.jobs.build import CAPTURES, PEDAL, added, started, working

LATER = CAPTURES / "demo-ready-throttle.log"  # recorded three minutes after PEDAL
NO_CLOCK = CAPTURES / "demo-programming-supply.csv"


def test_an_older_capture_is_refused_and_goes_on_only_with_a_reason(tmp_path: Path) -> None:
    folder = started(tmp_path / "job")
    added(folder, LATER, "before")
    with pytest.raises(JobError, match=r"it was recorded at 2026-05-18T07:34:00.00:00, before captures/before.log"):
        added(folder, PEDAL, "before")
    added(folder, PEDAL, "before", anyway="the first one was another car's")
    with working(folder) as held:
        assert [one.anyway for _, one in held.job.captures()] == [None, "the first one was another car's"]


def test_a_capture_without_a_wall_clock_is_not_held_against_it(tmp_path: Path) -> None:
    folder = started(tmp_path / "job")
    added(folder, LATER, "before")
    added(folder, NO_CLOCK, "before")
    with working(folder) as held:
        assert len(held.job.captures()) == 2
