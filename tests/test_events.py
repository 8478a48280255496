"""Episodes and stops on literal timelines. 400 rpm as the running limit: common practice, no source."""

import numpy as np
import pytest

from relearn.events import Episode, episodes, starts, stops
from relearn.verdict import Limits
from tests.build import channel, every

RUNNING = Limits(400, None, "rpm", "", low_open=True)
STOPPED = Limits(None, 0, "km/h", "")
RELEASED = Limits(None, 17, "%", "")
TIME_S = every(0.5, 0, 60)


def speed(value: object, time_s: object = TIME_S):
    return channel("engine_speed", time_s, value)  # type: ignore[arg-type]


def started_at(second: float) -> np.ndarray:
    return np.where(second > TIME_S, 0.0, 700.0)


def pedal(value: object, time_s: object = TIME_S):
    return channel("accelerator_pedal_position_d", time_s, value)  # type: ignore[arg-type]


def idle(engine, vehicle=None, foot=None) -> tuple[Episode, ...]:
    return episodes(engine, RUNNING, vehicle, STOPPED, foot, RELEASED if foot is not None else None)


def test_an_episode_begins_with_the_start_and_ends_with_the_capture() -> None:
    assert idle(speed(started_at(10))) == (Episode("engine-start", 10.0, 60.0, "capture-end", 9.5),)
    assert list(starts(speed(started_at(10)), RUNNING)) == [10.0]


def test_a_capture_that_begins_idling_says_so() -> None:
    assert idle(speed(700.0)) == (Episode("capture-start", 0.0, 60.0, "capture-end"),)


def test_400_rpm_itself_is_not_running() -> None:
    assert idle(speed(400.0)) == ()


def test_a_press_ends_at_the_last_sample_that_shows_no_press() -> None:
    """The pedal is read every 2 s: released at 20.0, pressed at 22.0 and 24.0, released again at 26.0."""
    times = every(2, 0, 60)
    foot = pedal(np.where((times >= 22) & (times < 26), 40.0, 15.0), times)
    assert idle(speed(started_at(10)), foot=foot) == (
        Episode("engine-start", 10.0, 20.0, "pedal-pressed", 9.5),
        Episode("pedal-released", 26.0, 60.0, "capture-end", 24.0),
    )


def test_moving_and_coming_to_rest() -> None:
    vehicle = channel("vehicle_speed", every(1, 0, 60), np.where(every(1, 0, 60) < 30, 20.0, 0.0))
    assert idle(speed(700.0), vehicle) == (Episode("vehicle-stopped", 30.0, 60.0, "capture-end", 29.0),)


def test_lost_data_ends_an_episode() -> None:
    times = [*every(0.5, 0, 20), *every(0.5, 40, 60)]
    assert idle(speed(700.0, times)) == (
        Episode("capture-start", 0.0, 20.0, "data-lost"),
        Episode("data-resumed", 40.0, 60.0, "capture-end", 20.0),
    )


def stopped(*timeline: tuple[float, float]) -> np.ndarray:
    """700 rpm, but for stretches (from_s, to_s) of standstill."""
    return np.where(np.logical_or.reduce([(a <= TIME_S) & (b > TIME_S) for a, b in timeline]), 0.0, 700.0)


STANDING, STARTER = stopped((30, 61)), stopped((30, 40))
CRANKED = np.where((TIME_S >= 38) & (TIME_S < 40), 220.0, STARTER)


@pytest.mark.parametrize(
    ("value", "answers_to_s", "moved", "kind", "restarted_s"),
    [
        (STANDING, 60.0, False, "stalled", None),
        (STANDING, 60.0, True, "stalled", None),
        (STANDING, 30.5, False, "switched-off", None),
        (
            STANDING,
            33.0,
            False,
            "unclear",
            None,
        ),  # a module that stays awake after the key, or a stall and then the key
        (STANDING, 45.0, False, "stalled", None),
        (STARTER, 60.0, False, "stalled", 40.0),
        (STARTER, 60.0, True, "stopped-itself", 40.0),
        (CRANKED, 60.0, True, "stalled", 40.0),  # two seconds of starter: somebody turned the key
    ],
)
def test_stops(value: np.ndarray, answers_to_s: float, moved: bool, kind: str, restarted_s: float | None) -> None:
    """Cranking at 150 to 300 rpm: common practice, no source. How long a restart by itself cranks: from memory."""
    vehicle = channel("vehicle_speed", TIME_S, np.where((TIME_S > 5) & (TIME_S < 15) & moved, 30.0, 0.0))
    engine = speed(value).take(answers_to_s >= TIME_S)
    (found,) = stops(engine, RUNNING, vehicle, 60.0)
    assert (found.kind, found.time_s, found.restarted_s) == (kind, 30.0, restarted_s)


def test_a_capture_that_ends_as_the_engine_stops_cannot_tell() -> None:
    (found,) = stops(speed(stopped((59.5, 61))), RUNNING, None, 60.0)
    assert found.kind == "unclear"


def test_a_stop_that_nobody_read_cannot_tell() -> None:
    """Engine speed was last read running, then not for eleven seconds, then standing: it may have been the key."""
    engine = speed(STANDING).take((TIME_S < 20) | (TIME_S > 31))
    (found,) = stops(engine, RUNNING, None, 60.0)
    assert (found.kind, found.unread, found.since_s) == ("unclear", True, 19.5)


def test_a_dip_or_a_wrong_reading_is_no_stop() -> None:
    times = every(0.1, 0, 60)
    quick = speed(np.where((times > 29.95) & (times < 30.35), 350.0, 700.0), times)
    assert stops(quick, RUNNING, None, 60.0) == ()
    assert idle(quick) == (Episode("capture-start", 0.0, 60.0, "capture-end"),)
    single = speed(np.where(TIME_S == 30, 0.0, 700.0))  # 0.5 s until the next
    assert stops(single, RUNNING, None, 60.0) == ()
