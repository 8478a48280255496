"""A first look that came too early, in counted time: masks of SAE J1979, modules that wake up one after another."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from typing import Any

from relearn.bus.answering import Answering, Spoken
from relearn.bus.ask import Patience
from relearn.bus.look_again import AGAIN_S
from relearn.bus.session import Session
from relearn.bus.source import Notice
from tests.bus.pretend import Module
from tests.bus.simulated import START_S, CountedBus, CountedClock

ENGINE = frozenset({0x01, 0x04, 0x05, 0x0C, 0x0D, 0x11, 0x1F, 0x42, 0x49})
GEARBOX = frozenset({0x01, 0x04, 0x05})
WANTED = ("engine_speed", "accelerator_pedal_position_d", "coolant_temperature")


class At:
    """A session at these modules."""

    def __init__(self, path: Path, *modules: Any, channels: tuple[str, ...] = WANTED) -> None:
        self.clock, self.notices = CountedClock(), list[Notice]()
        self.bus = CountedBus(self.clock, *(Answering(one) for one in modules))
        self.session = Session(self.bus, self.clock, path, channels, Patience(), self.notices.append)

    def go(self, until_s: float) -> None:
        while self.clock.now_s() < START_S + until_s:
            self.session.step()

    def told(self, kind: str) -> list[str]:
        return [one.text for one in self.notices if one.kind == kind]


def awake(from_s: float) -> Any:
    return lambda now_s: now_s - START_S >= from_s


def test_an_engine_module_that_wakes_up_after_the_gearbox(tmp_path: Path) -> None:
    engine = Module(ENGINE, awake=awake(4.0))
    made = At(tmp_path / "a.log", engine, Module(GEARBOX, 0x7E9))
    made.go(25.0)
    assert made.told("answering")[1:] == ["7E8, 7E9 answer; 7E8 is asked as the engine module"]
    assert made.told("lacks") == ["7E9 does not have engine speed, accelerator pedal position d"]
    assert len([one for one in engine.times("010C49") if one > START_S + 20.0]) > 40
    assert made.session.status().silent_s is not None and made.session.status().silent_s < 0.5  # type: ignore[operator]


def test_masks_that_were_lost_to_an_ignition_switched_off(tmp_path: Path) -> None:
    engine = Module(ENGINE)
    engine.awake = lambda now_s: not engine.times("0100") or not 0.006 < now_s - engine.times("0100")[0] < 6.0
    made = At(tmp_path / "a.log", engine)
    made.go(40.0)
    assert len([one for one in engine.times("010C49") if one > START_S + 30.0]) > 80
    assert made.told("lacks") == []


def test_a_module_without_what_is_wanted_is_told_once(tmp_path: Path) -> None:
    made = At(tmp_path / "a.log", Module(ENGINE - {0x49}))
    made.go(60.0)
    assert made.told("lacks") == ["7E8 does not have accelerator pedal position d"]


def test_another_module_that_speaks_is_looked_at(tmp_path: Path) -> None:
    gearbox = Module(GEARBOX, 0x7E9, awake=awake(12.0))
    made = At(tmp_path / "a.log", Module(ENGINE), gearbox)
    made.go(20.0)
    assert gearbox.times("0100") == []  # nobody looks without a reason
    made.bus.put(frame(21.0, "0341050000000000"))
    made.go(25.0)
    assert made.told("answering")[1:] == ["7E8, 7E9 answer; 7E8 is asked as the engine module"]


def frame(time_s: float, data: str) -> Any:
    from tests.bus.steady import stray

    return stray(time_s, 0x7E9, bytes.fromhex(data))


def test_after_a_silence_and_without_disturbing_the_fast_channels(tmp_path: Path) -> None:
    """Another program behind the silence, which has the pedal; identity is not read again."""
    engine = Module(ENGINE - {0x49}, texts={b"\x09\x02": b"\x49\x02\x01" + b"1M8GDM9AXKP042788"})
    engine.awake = lambda now_s: not 15.0 <= now_s - START_S < 25.0
    made = At(tmp_path / "a.log", engine)
    made.go(20.0)
    engine.supported = ENGINE
    made.go(40.0)
    pedal_s = [one - START_S for one in engine.times("010C49")]
    assert pedal_s and 25.0 < pedal_s[0] < 28.0
    speed_s = sorted(one for one in engine.times("010C") + engine.times("010C49") if one > START_S + 25.0)
    assert max(later - sooner for sooner, later in pairwise(speed_s)) <= 0.25
    assert len(engine.times("0902")) == 1


def test_a_mask_that_never_comes_is_asked_for_now_and_then(tmp_path: Path) -> None:
    engine = Module(ENGINE, refuses={b"\x01\x40": 0x12})
    made = At(tmp_path / "a.log", engine, channels=("engine_speed", "control_module_voltage"))
    made.go(40.0)
    before = len(engine.times("0140"))
    made.go(80.0)
    assert 3 <= len(engine.times("0140")) - before <= 40 / AGAIN_S + 1
    assert made.told("lacks") == []


def test_a_module_that_takes_its_time_for_every_answer_is_told_as_busy_once(tmp_path: Path) -> None:
    class Pending(Module):
        def says(self, payload: bytes, to: Any, now_s: float) -> Any:
            said = super().says(payload, to, now_s)
            if not said or to.everyone or now_s < START_S + 15.0:
                return said
            wait = bytes((0x7F, payload[0], 0x78))
            return [Spoken(0x7E8, False, 0.005, wait), Spoken(0x7E8, False, 2.0, said[0].payload)]

    made = At(tmp_path / "a.log", Pending(ENGINE))
    made.go(50.0)
    assert [one.kind for one in made.notices] == ["answering", "busy"]


def test_a_busy_module_is_told_as_busy(tmp_path: Path) -> None:
    """7F xx 21 and 7F xx 78 of ISO 14229-1: no value, and no silence either."""
    for code in (0x21, 0x78):
        engine = Module(ENGINE)
        made = At(tmp_path / f"{code}.log", engine)
        made.go(15.0)
        engine.refuses = {bytes.fromhex(one): code for one in ("010C49", "0105", "010C", "0149")}
        made.go(25.0)
        status = made.session.status()
        assert status.silent_s is not None and status.silent_s > 8.0, "a wish for time is no answer"
        engine.refuses = {}
        made.go(40.0)
        assert [one.kind for one in made.notices] == ["answering", "busy", "back"]
        assert "asks for time" in made.told("busy")[0]
        assert made.notices[1].time_s < START_S + 17.5
