"""Readiness monitors in words. Bits of SAE J1979 parameter 01, worked by hand."""

from __future__ import annotations

from relearn.j1979.answers import read
from relearn.j1979.monitors import monitor_states, newest

from .build import engine, messages


def test_spark_ignition() -> None:
    """B = 07: misfire, fuel system, components supported and complete; C = 65, D = 21."""
    states = monitor_states(newest(read(engine("41010007FFFF", "410100076521")).series, "7E8"))
    assert states == {
        "misfire": "complete",
        "fuel_system": "complete",
        "component": "complete",
        "catalyst": "not complete",
        "evaporative_system": "complete",
        "oxygen_sensor": "not complete",
        "oxygen_sensor_heater": "complete",
        "heated_catalyst": "not supported",
        "secondary_air": "not supported",
        "air_conditioning_refrigerant": "not supported",
        "egr_system": "not supported",
    }


def test_compression_ignition_has_monitors_of_its_own() -> None:
    states = monitor_states(newest(read(engine("410100184040")).series, "7E8"))
    assert states["particulate_filter"] == "not complete" and states["misfire"] == "not supported"
    assert "catalyst" not in states


def test_this_drive_is_told_apart_and_modules_too() -> None:
    answers = read(messages((0x7E8, "414100070101"), (0x7E9, "410100000000")))
    assert monitor_states(newest(answers.series, "7E8")) == {}
    assert monitor_states(newest(answers.series, "7E9"))["misfire"] == "not supported"
