"""Job folders for the tests, with an injected clock and a book in the test's own folder."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta, timezone
from pathlib import Path

from relearn.jobs.begin import begin
from relearn.jobs.folder import opened
from relearn.jobs.record import Role
from relearn.jobs.work import Work, add, confirm, look
from tests.cli.run import CAPTURES

BEFORE = CAPTURES / "demo-before.log"
PEDAL = CAPTURES / "demo-ready-pedal.log"
BY = "Demo Technician"
ZONE = timezone(timedelta(hours=2))
VIN = "30ZDEML28TD000001"  # the invented car of captures/README.md


def clock(first: datetime = datetime(2026, 5, 18, 10, tzinfo=ZONE)) -> Callable[[], datetime]:
    """A clock that moves on a minute each time it is looked at."""
    ticks = iter(first + timedelta(minutes=number) for number in range(10_000))
    return lambda: next(ticks)


def started(folder: Path, *events: str, now: Callable[[], datetime] | None = None, **given: str) -> Path:
    """A job folder with nothing in it yet."""
    people = {"workshop": "Demo Workshop", "technician": BY}
    begin(folder, events or ("battery-disconnected",), sheet="demo-car", people=people, now=now or clock(), **given)  # type: ignore[arg-type]
    return folder


@contextmanager
def working(folder: Path) -> Iterator[Work]:
    with opened(folder) as held:
        yield look(held)


def added(
    folder: Path, capture: Path, role: Role, relearn: str | None = None, anyway: str | None = None, **more: object
) -> Work:
    with opened(folder) as held:
        return add(held, capture, role, relearn, anyway=anyway, **more)[0]  # type: ignore[arg-type]


def confirmed(folder: Path, *items: str, anyway: str | None = None, **more: object) -> Work:
    with opened(folder) as held:
        return confirm(held, items, BY, anyway=anyway, **more)  # type: ignore[arg-type]


def small_job(folder: Path) -> Path:
    """A battery was disconnected: one relearn, its readiness twice, its word, the capture after; six lines, four
    captures."""
    now = clock()
    started(folder, now=now)
    added(folder, BEFORE, "before", now=now)
    added(folder, CAPTURES / "pedal-not-released.log", "ready", "throttle-closed-position", now=now)
    added(folder, PEDAL, "ready", "throttle-closed-position", now=now)
    confirmed(folder, "throttle-closed-position", now=now)
    added(folder, CAPTURES / "demo-ready-throttle.log", "after", now=now)
    return folder
