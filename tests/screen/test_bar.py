"""What the bar says of the source: alarm only where something is wrong, and no name to who only looks on."""

from __future__ import annotations

from dataclasses import replace

import pytest

from relearn.screen.bar import WAITS_S, calm, named, trouble
from relearn.screen.feeds import Standing

WELL = Standing("air-leak.log", "replay", 12.0, 60.0)
WAITING = Standing("can0", "live", 1.0, silent_s=1.0, waiting=True, why="asking who is there")
GONE = replace(WELL, gone="air-leak.log: the disk is full")


@pytest.mark.parametrize(
    ("standing", "wrong", "said"),
    [
        (None, "", ""),
        (WELL, "", ""),
        (replace(WELL, position_s=60.0), "", "The recording ends here."),
        (WAITING, "", "Waiting for the first answer."),
        (replace(WAITING, silent_s=WAITS_S), "", "Waiting for the first answer."),
        (replace(WAITING, silent_s=WAITS_S + 1.0), "No data for 6 s: asking who is there", ""),
        (replace(WAITING, waiting=False, why="bus-off"), "No data for 1 s: bus-off", ""),
        (replace(WELL, waiting=True), "", ""),
        (replace(WELL, silent_s=2.0), "No data for 2 s", ""),
        (GONE, "Data has ended: air-leak.log: the disk is full", ""),
    ],
)
def test_alarm_and_calm(standing: Standing | None, wrong: str, said: str) -> None:
    assert (trouble(standing, True), calm(standing)) == (wrong, said)


@pytest.mark.parametrize(
    ("kind", "seen_as"), [("live", "a car"), ("replay", "a recording"), ("scenario", "a running model")]
)
def test_who_only_looks_on_is_told_no_name(kind: str, seen_as: str) -> None:
    standing = Standing("air-leak", kind, 0.0)  # type: ignore[arg-type]
    assert named(standing, True) == (kind, "air-leak")
    assert named(standing, False) == ("", seen_as)
    assert "air-leak" not in trouble(GONE, False)
