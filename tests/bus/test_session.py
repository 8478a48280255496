"""Recordings in counted time: what is asked, what trouble does, and that whoever only listens says nothing."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import can
import pytest

from relearn.bus.frame import Frame
from relearn.bus.listening import Listening
from relearn.bus.manners import LISTEN_S
from relearn.bus.recorder import GIVE_UP_S
from relearn.bus.source import Notice
from relearn.bus.who import changed
from relearn.capture.keep import Keep
from relearn.errors import BusError
from relearn.recording import live, read
from tests.bus.simulated import START_S, CountedBus, CountedClock
from tests.bus.steady import VIN, Recorded, stray
from tests.bus.test_wire import Broken

GONE = OSError(19, "No such device")
FULL = can.CanOperationError("Failed to transmit: No buffer space available", 105)


def test_a_whole_recording(tmp_path: Path) -> None:
    made = Recorded(tmp_path / "a.log")
    made.go(20.0)
    made.session.close()
    recording = read(made.path)
    assert made.kinds == ["answering"]
    assert f"VIN {VIN.decode()}, 7E8 calibration DEMO-0001" in made.notices[0].text
    assert [one.values for one in recording.identity if one.item == "vin"] == [(VIN.decode(),)] * 2
    assert sorted(one.kind for one in recording.codes) == ["pending"] * 2 + ["permanent"] * 2 + ["stored"] * 2
    speed_s = recording.samples["time_s"][recording.samples["channel"] == "engine_speed"]
    assert speed_s.diff().median() == pytest.approx(0.1, abs=0.02)
    assert recording.faults == ()


def test_the_window_shows_what_the_file_will_hold(tmp_path: Path) -> None:
    made = Recorded(tmp_path / "a.log")
    made.go(10.0)
    seen = live(made.session.capture())
    made.session.close()
    file = read(made.path)
    begun = file.samples[: len(seen.samples)]
    assert begun[["module", "channel", "frame"]].equals(seen.samples[["module", "channel", "frame"]])
    assert begun["value"].equals(seen.samples["value"])


def test_how_it_goes(tmp_path: Path) -> None:
    made = Recorded(tmp_path / "a.log")
    before = made.session.status()
    assert (before.frames, before.rate_hz, before.answered_share, before.silent_s) == (0, 0.0, None, None)
    made.go(30.0)
    status = made.session.status()
    assert status.modules == ("7E8",)
    assert status.answered_share == 1.0
    assert status.silent_s is not None and status.silent_s < 0.2
    assert 10 < status.rate_hz < 60
    assert status.time_s == pytest.approx(30.0 - LISTEN_S, abs=0.2)
    made.car.awake = False
    made.go(36.0)
    assert made.session.status().silent_s == pytest.approx(6.0, abs=0.3)
    made.go(50.0)
    assert made.session.status().answered_share == 0.0


def test_a_module_that_never_answers_is_told_once_and_asked_once_a_second(tmp_path: Path) -> None:
    made = Recorded(tmp_path / "a.log")
    made.car.awake = False
    made.go(20.0)
    assert made.kinds == ["silent"]
    assert "ignition" in made.notices[0].text and "bitrate" in made.notices[0].text
    questions = [one for one in made.bus.sent if one.identifier == 0x7DF and one.data[1] == 0x01]
    assert len(questions) / 20 <= 2.5
    made.car.awake = True
    made.go(25.0)
    assert made.kinds == ["silent", "answering"]


def test_an_ignition_cycle_with_another_program_behind_it(tmp_path: Path) -> None:
    made = Recorded(tmp_path / "a.log")
    made.go(10.0)
    made.car.awake = False
    made.go(20.0)
    made.car.awake, made.car.calibration = True, b"DEMO-0002"
    made.go(35.0)
    made.session.close()
    assert made.kinds == ["answering", "stopped", "back", "changed"]
    assert made.notices[1].time_s == pytest.approx(START_S + 10.5, abs=1.0)
    assert made.notices[2].time_s == pytest.approx(START_S + 20.5, abs=1.0)
    assert "7E8 calibration DEMO-0001, now DEMO-0002" in made.notices[3].text
    traffic = read(made.path).traffic["7E8"]
    answered_s, asked_s = traffic.answered_s + LISTEN_S, traffic.asked_s + LISTEN_S  # since the start
    assert not ((answered_s > 10.1) & (answered_s < 20.0)).any()
    assert ((asked_s > 10.1) & (asked_s < 20.0)).sum() >= 9  # the silence itself is recorded


def test_a_short_ignition_cycle_is_not_spent_on_names(tmp_path: Path) -> None:
    """On for 2 s, as relearns of the pedal want it: common practice, no source."""
    made = Recorded(tmp_path / "a.log")
    made.go(10.0)
    made.car.awake = False
    made.go(20.0)
    made.car.awake = True
    made.go(22.0)
    made.car.awake = False
    made.go(30.0)
    assert made.kinds == ["answering", "stopped", "back", "stopped"]
    seen = live(made.session.capture()).samples
    assert (seen[(seen["channel"] == "engine_speed") & (seen["time_s"] > 20.0 - LISTEN_S)]).shape[0] >= 8


def test_an_unplugged_adapter_ends_it_with_a_whole_file(tmp_path: Path) -> None:
    made = Recorded(tmp_path / "a.log", bus=Broken)
    made.go(10.0)
    made.bus.hearing = made.bus.sending = GONE  # type: ignore[attr-defined]
    with pytest.raises(BusError, match="no longer answers"):
        made.go(60.0)
    assert made.clock.now_s() == pytest.approx(START_S + 10.0 + GIVE_UP_S, abs=0.5)
    made.session.close()
    assert made.kinds == ["answering", "trouble"]
    assert made.path.read_text().endswith(" can0 20000084#\n")
    assert read(made.path).duration_s == pytest.approx(10.0 - LISTEN_S, abs=0.2)


def test_a_plug_pushed_back_in_costs_only_the_time_in_between(tmp_path: Path) -> None:
    made = Recorded(tmp_path / "a.log", bus=Broken)
    made.go(10.0)
    made.bus.hearing = GONE  # type: ignore[attr-defined]
    made.go(13.0)
    made.bus.hearing = None  # type: ignore[attr-defined]
    made.go(20.0)
    made.session.close()
    assert made.kinds == ["answering", "trouble", "well"]
    assert [one.kind for one in read(made.path).faults] == ["error-frame"]


def test_a_full_queue_while_the_ignition_is_off_ends_nothing(tmp_path: Path) -> None:
    """Nobody confirms a frame on a bus whose modules sleep (ISO 11898-1), so the driver's queue fills up."""
    made = Recorded(tmp_path / "a.log", bus=Broken)
    made.go(10.0)
    made.car.awake = False
    made.bus.sending = FULL  # type: ignore[attr-defined]
    made.go(70.0)
    made.car.awake = True
    made.bus.sending = None  # type: ignore[attr-defined]
    made.go(80.0)
    made.session.close()
    assert made.kinds[:3] == ["answering", "trouble", "well"]
    assert made.kinds.count("trouble") == 1
    assert "20000081#" in made.path.read_text()


def test_bus_off_is_told_and_recorded_and_ends_it_when_it_lasts(tmp_path: Path) -> None:
    made = Recorded(tmp_path / "a.log", bus=Broken)
    made.go(5.0)
    made.bus.off, made.car.awake = True, False  # type: ignore[attr-defined]
    with pytest.raises(BusError, match="bus-off"):
        made.go(60.0)
    made.session.close()
    assert [one for one in made.kinds if one != "stopped"] == ["answering", "bus-off"]
    assert "200000C0#" in made.path.read_text()


@pytest.mark.parametrize(("identifier", "kind"), [(0x40, "bus-off"), (0x80, "trouble"), (0x0, "trouble")])
def test_error_frames_are_recorded_and_told_now_and_then(tmp_path: Path, identifier: int, kind: str) -> None:
    made = Recorded(tmp_path / "a.log")
    for tenth in range(100):
        made.bus.put(stray(8.0 + tenth / 10, identifier, bytes(8), error=True))
    made.go(18.5)
    made.session.close()
    assert made.kinds == ["answering", kind]
    assert [(one.kind, one.count) for one in read(made.path).faults] == [("error-frame", 100)]


def test_an_adapter_lost_at_the_end_leaves_a_whole_file(tmp_path: Path) -> None:
    made = Recorded(tmp_path / "a.log", bus=Broken)
    made.go(10.0)
    made.bus.hearing = made.bus.closing = GONE  # type: ignore[attr-defined]
    made.session.close()
    assert made.kinds == ["answering", "trouble", "trouble"]
    assert read(made.path).faults == ()


def test_the_end_does_not_wait_for_a_car_that_is_silent(tmp_path: Path) -> None:
    made = Recorded(tmp_path / "a.log")
    made.go(10.0)
    made.car.awake = False
    made.go(12.0)
    made.session.close()
    assert made.clock.now_s() - START_S - 12.0 < 0.2


def test_what_others_broadcast_is_left_out(tmp_path: Path) -> None:
    made = Recorded(tmp_path / "a.log")
    made.bus.put(stray(5.0, 0x123))
    made.go(6.0)
    made.session.close()
    assert " 123#" not in made.path.read_text()


def test_what_counts_as_changed() -> None:
    before = {("7E8", "vin"): ("A",), ("7E8", "calibration"): ("1", "2"), ("7E9", "vin"): ("B",)}
    assert changed(before, {**before, ("7EA", "vin"): ("C",)}) == ()
    assert changed(before, {("7E8", "calibration"): ("1", "3")}) == ("7E8 calibration 1, 2, now 1, 3",)


class Mute(CountedBus):
    """A bus on which a word said would be an error."""

    def send(self, msg: can.Message, timeout: float | None = None) -> None:
        raise AssertionError("somebody spoke")


def listened(path: Path, *frames: Frame, keep: Keep | None = None, bus: type[CountedBus] = Mute) -> Any:
    clock, notices = CountedClock(), list[Notice]()
    made = bus(clock)
    for frame in frames:
        made.put(frame)
    more: dict[str, Any] = {"keep": keep} if keep is not None else {}
    return Listening(made, clock, path, notices.append, **more), clock, notices, made


def go(source: Any, clock: CountedClock, until_s: float, each: Callable[[], None] = lambda: None) -> None:
    while clock.now_s() < START_S + until_s:
        source.step()
        each()


def test_listening_records_all_and_says_nothing(tmp_path: Path) -> None:
    path = tmp_path / "a.log"
    frames = [stray(second / 10, identifier) for second in range(100) for identifier in (0x123, 0x124, 0x7E8)]
    source, clock, notices, bus = listened(path, *frames, keep=Keep(broadcast_11=frozenset({0x123})))
    go(source, clock, 10.0)
    seen = source.capture().frames
    source.close()
    assert bus.sent == []
    assert set(seen.identifier.tolist()) == {0x123, 0x7E8}
    assert len(path.read_text().splitlines()) == 300
    assert notices == []
    status = source.status()
    assert (status.frames, status.answered_share, status.modules) == (300, None, ("7E8",))
    assert status.rate_hz == pytest.approx(30, abs=4)


def test_a_bus_that_falls_asleep_while_listened_to(tmp_path: Path) -> None:
    source, clock, notices, _ = listened(tmp_path / "a.log", stray(6.0), stray(15.0))
    go(source, clock, 20.0)
    assert [one.kind for one in notices] == ["silent", "back", "stopped", "back", "stopped"]


def test_an_adapter_unplugged_while_listening(tmp_path: Path) -> None:
    source, clock, notices, bus = listened(tmp_path / "a.log", stray(0.5), stray(1.0), bus=Broken)
    go(source, clock, 2.0)
    bus.hearing = GONE
    with pytest.raises(BusError, match="no longer answers"):
        go(source, clock, 60.0)
    source.close()
    assert [one.kind for one in notices] == ["trouble"]
    assert len((tmp_path / "a.log").read_text().splitlines()) == 3
