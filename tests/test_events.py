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
    assert idle(speed(started_at(10))) == (Episode("engine-start", 10.0, 60.0, "capture-end"),)
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
        Episode("engine-start", 10.0, 20.0, "pedal-pressed"),
        Episode("pedal-released", 26.0, 60.0, "capture-end"),
    )


def test_moving_and_coming_to_rest() -> None:
    vehicle = channel("vehicle_speed", every(1, 0, 60), np.where(every(1, 0, 60) < 30, 20.0, 0.0))
    assert idle(speed(700.0), vehicle) == (Episode("vehicle-stopped", 30.0, 60.0, "capture-end"),)


def test_lost_data_ends_an_episode() -> None:
    times = [*every(0.5, 0, 20), *every(0.5, 40, 60)]
    assert idle(speed(700.0, times)) == (
        Episode("capture-start", 0.0, 20.0, "data-lost"),
        Episode("data-resumed", 40.0, 60.0, "capture-end"),
    )


@pytest.mark.parametrize(
    ("value", "time_s", "moved", "kind", "restarted_s"),
    [
        (np.where(TIME_S < 30, 700.0, 0.0), TIME_S, False, "stalled", None),
        (np.where(TIME_S[:62] < 30, 700.0, 0.0), TIME_S[:62], False, "switched-off", None),
        (np.where((TIME_S >= 30) & (TIME_S < 40), 0.0, 700.0), TIME_S, False, "stalled", 40.0),
        (np.where((TIME_S >= 30) & (TIME_S < 40), 0.0, 700.0), TIME_S, True, "stopped-itself", 40.0),
        (np.where(TIME_S < 30, 700.0, 0.0), TIME_S, True, "stalled", None),
    ],
)
def test_stops(value: np.ndarray, time_s: np.ndarray, moved: bool, kind: str, restarted_s: float | None) -> None:
    vehicle = channel("vehicle_speed", TIME_S, np.where((TIME_S > 5) & (TIME_S < 15) & moved, 30.0, 0.0))
    (found,) = stops(speed(value, time_s), RUNNING, vehicle)
    assert (found.kind, found.time_s, found.restarted_s) == (kind, 30.0, restarted_s)
