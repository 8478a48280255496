"""A whole recording over a serial adapter, through python-can's own slcan interface, in real time."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from relearn.bus import recorder
from relearn.bus.ask import Patience
from relearn.bus.clock import MachineClock
from relearn.bus.listening import Listening
from relearn.bus.session import Session
from relearn.bus.source import Notice, Source
from relearn.bus.wire import Interface, opened
from relearn.errors import BusError
from relearn.recording import read
from tests.bus.slcan_adapter import Adapter
from tests.bus.steady import VIN, Steady

pytestmark = pytest.mark.skipif(not hasattr(os, "openpty"), reason="there are no pseudo-terminals here")


@pytest.fixture
def adapter() -> Iterator[Adapter]:
    made = Adapter(Steady())
    yield made
    made.unplug()


def interface(adapter: Adapter, **more: bool) -> Interface:
    return Interface("slcan", adapter.name, 500_000, {"sleep_after_open": 0, **more})


def go(source: Source, seconds: float) -> None:
    clock = MachineClock()
    end_s = clock.now_s() + seconds
    while clock.now_s() < end_s:
        source.step()


def test_a_whole_recording_over_a_serial_adapter(tmp_path: Path, adapter: Adapter) -> None:
    path, notices = tmp_path / "a.log", list[Notice]()
    session = Session(opened(interface(adapter)), MachineClock(), path, ("engine_speed",), Patience(), notices.append)
    while not notices:
        session.step()
    go(session, 1.5)
    session.close()
    recording = read(path)
    assert [one.kind for one in notices] == ["answering"]
    assert [one.values for one in recording.identity if one.item == "vin"] == [(VIN.decode(),)] * 2
    assert len(recording.samples[recording.samples["channel"] == "engine_speed"]) > 8
    assert recording.faults == ()
    assert adapter.commands[:4] == ["C", "S6", "", "O"]
    assert adapter.commands[-1] == "C"


def test_listening_over_it_sends_no_frame(tmp_path: Path, adapter: Adapter) -> None:
    bus = opened(interface(adapter, listen_only=True))
    source = Listening(bus, MachineClock(), tmp_path / "a.log", lambda notice: None)
    go(source, 0.5)
    source.close()
    assert adapter.frames == 0
    assert "L" in adapter.commands


def test_the_adapter_is_pulled_out(tmp_path: Path, adapter: Adapter, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(recorder, "GIVE_UP_S", 0.5)
    path, notices = tmp_path / "a.log", list[Notice]()
    session = Session(opened(interface(adapter)), MachineClock(), path, ("engine_speed",), Patience(), notices.append)
    while not notices:
        session.step()
    adapter.unplug()
    with pytest.raises(BusError, match="no longer answers"):
        go(session, 10.0)
    session.close()
    assert [one.kind for one in notices][:2] == ["answering", "trouble"]
    assert [one.kind for one in read(path).faults] == ["error-frame"]
