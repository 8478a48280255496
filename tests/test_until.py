"""A recording cut at a moment is what a recording that is still being made held then.

The prefix of the frames, read by `recording.live`, is the yardstick: it cannot know what came later. No capture and no
moment needs an exception, as far as verdicts, reasons and evidence go.
"""

from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from relearn.analysis.ready import ready
from relearn.analysis.settle import settle
from relearn.capture import load
from relearn.findings.base import Judged
from relearn.procedures.sheets import load_sheet, sheet_path
from relearn.recording import Recording, live, read, until

CAPTURES = Path(__file__).parents[1] / "captures"
SHEET = load_sheet(sheet_path("demo-car"))
NAMES = (
    "demo-after",
    "stall",
    "stale",
    "lamp-on",
    "j1979-2",
    "lost-frames",
    "open-coolant-circuit",
    "steps-idle-late-release",
    "stop-start",
)


capture_of = cache(lambda name: load(CAPTURES / f"{name}.log"))


def prefix(name: str, time_s: float) -> Recording:
    capture = capture_of(name)
    assert capture.frames is not None
    frames = capture.frames.take(capture.frames.time_s <= time_s)
    return live(replace(capture, frames=frames, duration_s=time_s))


def told(found: Judged) -> tuple[object, ...]:
    return found.verdict, found.reasons, found.parts


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("share", [0.02, 0.45, 0.97])
def test_it_judges_as_the_frames_until_then(name: str, share: float) -> None:
    whole = read(CAPTURES / f"{name}.log")
    time_s = round(whole.duration_s * share, 3)
    cut, so_far = until(whole, time_s), prefix(name, time_s)
    assert told(ready(cut, "idle-air-volume", SHEET)) == told(ready(so_far, "idle-air-volume", SHEET))
    assert told(settle(cut, SHEET)) == told(settle(so_far, SHEET))


@given(st.floats(min_value=0.0, max_value=70.0))
@settings(max_examples=25, deadline=None)
def test_it_holds_what_the_frames_until_then_hold(time_s: float) -> None:
    whole = WHOLE
    cut, so_far = until(whole, time_s), prefix("lamp-on", min(time_s, whole.duration_s))
    assert cut.samples.equals(so_far.samples)
    assert (cut.modules, cut.identity, cut.codes) == (so_far.modules, so_far.identity, so_far.codes)
    assert cut.duration_s == min(time_s, whole.duration_s)
    assert {name: list(one.answered_s) for name, one in cut.traffic.items()} == {
        name: list(one.answered_s) for name, one in so_far.traffic.items()
    }


WHOLE = read(CAPTURES / "lamp-on.log")


def test_before_anyone_spoke_there_is_no_module() -> None:
    cut = until(WHOLE, 0.0)
    assert (cut.modules, len(cut.samples), cut.codes) == ((), 0, ())
    assert ready(cut, "idle-air-volume", SHEET).verdict == "cannot tell"


def test_a_table_is_cut_at_its_rows() -> None:
    """1 row a second: at 100.5 s the sags from 221 s on have not come yet."""
    cut = until(read(CAPTURES / "sagging-supply.csv"), 100.5)
    assert cut.samples["time_s"].max() <= 100.5
    assert cut.samples["value"].min() > 12.0


def test_a_fault_that_came_later_is_not_in_it() -> None:
    whole = read(CAPTURES / "lost-frames.log")
    first_s = min(one.time_s for one in whole.faults if one.time_s is not None)
    assert [one for one in until(whole, first_s - 0.01).faults if one.time_s is not None] == []
    assert len(until(whole, first_s).faults) >= 1
