"""A capture as a feed: where it stands by the clock, and nothing of what comes later."""

from __future__ import annotations

import pytest

from relearn.recording import read
from relearn.screen.feeds import FASTEST, SLOWEST, Replay
from tests.bus.simulated import CountedClock
from tests.cli.run import CAPTURES

END_S = 59.945665  # of captures/stall.log


@pytest.fixture
def clock() -> CountedClock:
    return CountedClock()


@pytest.fixture
def feed(clock: CountedClock) -> Replay:
    return Replay(read(CAPTURES / "stall.log"), clock)


def test_it_stands_until_it_is_played(feed: Replay, clock: CountedClock) -> None:
    clock.sleep(5.0)
    assert (feed.position_s(), feed.standing().playing) == (0.0, False)
    feed.play()
    clock.sleep(5.0)
    assert (feed.position_s(), feed.standing().playing) == (pytest.approx(5.0), True)
    feed.pause()
    clock.sleep(5.0)
    assert feed.position_s() == pytest.approx(5.0)


def test_another_speed_begins_where_it_is(feed: Replay, clock: CountedClock) -> None:
    feed.play()
    clock.sleep(2.0)
    feed.play_at(10.0)
    assert feed.position_s() == pytest.approx(2.0)
    clock.sleep(2.0)
    assert feed.position_s() == pytest.approx(22.0)


@pytest.mark.parametrize(
    ("asked", "got"), [(0.5, SLOWEST), (20.0, FASTEST), (0.1, SLOWEST), (-3.0, SLOWEST), (1e9, FASTEST)]
)
def test_speeds_have_ends(feed: Replay, asked: float, got: float) -> None:
    feed.play_at(asked)
    assert feed.standing().speed == got


@pytest.mark.parametrize(("asked", "got"), [(-1.0, 0.0), (0.0, 0.0), (33.3, 33.3), (1e9, END_S)])
def test_moments_have_ends(feed: Replay, asked: float, got: float) -> None:
    feed.go_to(asked)
    assert feed.position_s() == pytest.approx(got)


def test_it_stops_at_its_end_and_plays_from_the_beginning_again(feed: Replay, clock: CountedClock) -> None:
    feed.go_to(50.0)
    feed.play()
    clock.sleep(100.0)
    assert (feed.position_s(), feed.standing().playing) == (pytest.approx(END_S), False)
    feed.play()
    clock.sleep(1.0)
    assert (feed.position_s(), feed.standing().playing) == (pytest.approx(1.0), True)


def test_nothing_that_comes_later_is_known(feed: Replay) -> None:
    feed.go_to(24.0)
    known = feed.recording()
    assert known.duration_s == pytest.approx(24.0)
    assert known.samples["time_s"].max() <= 24.0
