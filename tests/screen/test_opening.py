"""What a bus is called that nobody named on the command line."""

from __future__ import annotations

from pathlib import Path

import pytest

from relearn.bus.clock import MachineClock
from relearn.bus.wire import Interface
from relearn.screen.opening import bus


def test_a_bus_that_python_cans_configuration_names_is_called_by_its_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CAN_INTERFACE", "virtual")
    monkeypatch.setenv("CAN_CHANNEL", "no-car-here")
    feed = bus(Interface(), MachineClock(), tmp_path / "live.log")
    feed.stop()
    assert "no-car-here" in feed.standing().title
