"""The decoder against scapy's OBD layers, over random bytes, for every parameter that both know."""

from __future__ import annotations

import importlib
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from relearn.j1979.decode import decode_rows
from relearn.j1979.table import parameters

MAP = tomllib.loads(Path(__file__).with_name("scapy_fields.toml").read_text(encoding="utf-8"))
SCAPY_ROUNDS = 6e-4  # ScalingField rounds to three digits
ROWS = 40
UNITS = {"deg. C": "°C", "deg.": "°", "min-1": "rpm", "Nm": "N·m"}  # scapy's spelling: ours


@pytest.fixture(scope="module")
def layers() -> Any:
    return importlib.import_module("scapy.contrib.automotive.obd.obd")


def test_every_parameter_that_scapy_knows_is_compared_or_told_why_not(layers: Any) -> None:
    known = {f"{pid:02X}" for pid in parameters() if hasattr(layers, f"OBD_PID{pid:02X}")}
    assert known == set(MAP["pid"]) | set(MAP["unlike"])
    assert not set(MAP["pid"]) & set(MAP["unlike"])


@pytest.mark.parametrize("pid", MAP["pid"])
def test_every_signal_is_compared(pid: str) -> None:
    """Only the monitors of compression ignition, and the bit that tells it, are unknown to scapy."""
    ours = {signal.name for signal in parameters()[int(pid, 16)].signals}
    left = ours - {name.rstrip("?") for name in MAP["pid"][pid].values()}
    spark = {signal.name for signal in parameters()[int(pid, 16)].signals if signal.present_bit is None}
    allowed = ours - spark | {name for name in ours if name.startswith("compression_ignition")}
    assert left <= (allowed if pid in MAP["unlike_flags"]["parameters"] else set())


@pytest.mark.parametrize("pid", MAP["pid"])
def test_the_same_bytes_mean_the_same(pid: str, layers: Any) -> None:
    parameter = parameters()[int(pid, 16)]
    data = np.random.default_rng(int(pid, 16)).integers(0, 256, (ROWS, parameter.length), np.uint8)
    ours = {signal.name: (value, carried) for signal, value, carried in decode_rows(parameter, data)}
    packets = [getattr(layers, f"OBD_PID{pid}")(row.tobytes()) for row in data]
    for field, name in MAP["pid"][pid].items():
        theirs = np.array([_read(packet, field) for packet in packets])
        value, carried = ours[name.rstrip("?")]
        if name.endswith("?"):
            assert np.array_equal(carried, theirs == 1)
        else:
            assert carried.any()
            theirs = theirs + _missing_offset(pid, field)
            apart = np.abs(value - theirs)[carried]
            assert np.all(apart <= SCAPY_ROUNDS + _relative(pid) * np.abs(theirs[carried])), (field, name)


@pytest.mark.parametrize("pid", MAP["pid"])
def test_units_agree(pid: str, layers: Any) -> None:
    ours = {signal.name: signal.unit for signal in parameters()[int(pid, 16)].signals}
    for field in getattr(layers, f"OBD_PID{pid}").fields_desc:
        name = MAP["pid"][pid].get(field.name)
        if getattr(field, "unit", ""):
            assert ours[name] == UNITS.get(field.unit, field.unit)


def _read(packet: Any, field: str) -> float:
    name, _, bit = field.partition(".")
    value = getattr(packet, name)
    number = getattr(value, "value", value)  # a flags field wraps its number
    return float(number >> int(bit) & 1) if bit else float(number)


def _missing_offset(pid: str, field: str) -> float:
    unlike = MAP["unlike_offset"]
    return float(unlike["add"]) if pid in unlike["parameters"] and field == unlike["field"] else 0.0


def _relative(pid: str) -> float:
    unlike = MAP["unlike_rounding"]
    return float(unlike["relative"]) if pid in unlike["parameters"] else 1e-9
