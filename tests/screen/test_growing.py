"""What is sent while a recording grows is, row for row, what is drawn of it when it is whole."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from relearn.analysis.common import engine_module
from relearn.capture import load
from relearn.capture.frames import Capture
from relearn.channels import by_name
from relearn.recording import live
from relearn.screen.charts import charts
from relearn.screen.growing import Growing
from relearn.screen.series import drawn
from tests.cli.run import CAPTURES


def grown(capture: Capture, every_s: float) -> Growing:
    """Taken in pieces: each time everything up to a moment, as a recording hands it over."""
    frames, growing = capture.frames, Growing()
    assert frames is not None
    for until_s in np.arange(every_s, float(frames.time_s[-1]) + every_s, every_s):
        growing.take(replace(capture, frames=frames.take(frames.time_s <= until_s)))
    return growing


def with_a_hole(capture: Capture) -> Capture:
    """Nothing was heard from 20 to 40 s."""
    frames = capture.frames
    assert frames is not None
    return replace(capture, frames=frames.take((frames.time_s < 20.0) | (frames.time_s > 40.0)))


def whole(capture: Capture) -> Capture:
    return capture


@pytest.mark.parametrize("name", ["stall.log", "j1979-2.log", "two-modules.log"])
@pytest.mark.parametrize("heard", [whole, with_a_hole])
@pytest.mark.parametrize("every_s", [0.73, 5.0])
def test_rows_sent_live_are_the_rows_drawn_at_once(
    name: str, heard: Callable[[Capture], Capture], every_s: float
) -> None:
    capture = heard(load(CAPTURES / name))
    recording = live(capture)
    channels = by_name(recording.series, engine_module(recording, None))
    growing = grown(capture, every_s)
    assert set(growing.channels()) == set(channels)
    for chart, rows in zip(charts(), growing.rows(charts()), strict=True):
        at_once = drawn(channels, chart.channels)
        np.testing.assert_array_equal(rows.time_s, at_once.time_s, chart.title)
        np.testing.assert_array_equal(rows.value, at_once.value, chart.title)


def test_what_was_taken_before_adds_nothing() -> None:
    capture = load(CAPTURES / "stall.log")
    growing = grown(capture, 20.0)
    before = [len(one) for one in growing.rows(charts())]
    growing.take(capture)
    assert [len(one) for one in growing.rows(charts())] == before
    assert sum(before) > 1000


def test_nothing_is_known_before_anything_has_come() -> None:
    growing = Growing()
    assert growing.channels() == ()
    assert [len(one) for one in growing.rows(charts())] == [0] * len(charts())
