"""Data bytes to values, literal and by properties."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from relearn.j1979.decode import decode_rows
from relearn.j1979.encode import encode
from relearn.j1979.table import Parameter, parameters, signals

PARAMETERS = st.sampled_from(list(parameters().values()))

# Public SAE J1979 formula tables: formula beside each, worked by hand.
WORKED = [
    (0x01, "8207E500", "malfunction_lamp", 1.0),  # A7
    (0x01, "8207E500", "stored_code_count", 2.0),  # A6-A0
    (0x01, "0007E520", "oxygen_sensor_monitor_status", 1.0),  # D5, not complete
    (0x01, "000F0800", "boost_pressure_monitor_supported", 1.0),  # B3 = 1: compression ignition, C3
    (0x03, "0200", "fuel_system_1_status", 2.0),  # closed loop
    (0x04, "80", "calculated_load", 50.196078431372548),  # 100/255 × 128
    (0x05, "7B", "coolant_temperature", 83.0),  # A - 40
    (0x05, "00", "coolant_temperature", -40.0),
    (0x06, "00", "short_term_fuel_trim_bank_1", -100.0),  # 100/128 × A - 100
    (0x07, "FF", "long_term_fuel_trim_bank_1", 99.21875),
    (0x0A, "FF", "fuel_pressure", 765.0),  # 3A
    (0x0C, "1AF8", "engine_speed", 1726.0),  # (256A + B)/4
    (0x0C, "FFFF", "engine_speed", 16383.75),
    (0x0D, "FF", "vehicle_speed", 255.0),
    (0x0E, "A0", "timing_advance", 16.0),  # A/2 - 64
    (0x10, "01F4", "mass_air_flow", 5.0),  # (256A + B)/100
    (0x14, "5A80", "oxygen_sensor_1_voltage", 0.45),  # A/200
    (0x1F, "0100", "run_time", 256.0),
    (0x22, "000A", "fuel_rail_pressure_relative", 0.79),  # 0.079(256A + B)
    (0x24, "8000FFFF", "wide_range_sensor_1_ratio", 1.0),  # 2/65536 × (256A + B)
    (0x32, "FFFF", "evaporative_vapor_pressure", -0.25),  # two's complement, /4
    (0x34, "80008000", "wide_range_sensor_1_current", 0.0),  # (256C + D)/256 - 128
    (0x3C, "1770", "catalyst_temperature_bank_1_sensor_1", 560.0),  # (256A + B)/10 - 40
    (0x42, "36B0", "control_module_voltage", 14.0),  # (256A + B)/1000
    (0x43, "00FF", "absolute_load", 100.0),  # 100/255 × (256A + B)
    (0x44, "8000", "commanded_equivalence_ratio", 1.0),
    (0x4F, "01020314", "maximum_intake_manifold_pressure", 200.0),  # 10D
    (0x5D, "6900", "fuel_injection_timing", 0.0),  # (256A + B)/128 - 210
    (0x5E, "0064", "fuel_rate", 5.0),  # (256A + B)/20
    (0x62, "A0", "actual_torque", 35.0),  # A - 125
    (0x65, "0202", "neutral_drive_status", 1.0),  # A1 says carried, B1: in drive
    (0x66, "0100200000", "mass_air_flow_a", 1.0),  # (256B + C)/32
    (0xA6, "00000FA0", "odometer", 400.0),  # /10
]


@pytest.mark.parametrize(("pid", "data", "name", "value"), WORKED)
def test_worked_examples_of_the_public_tables(pid: int, data: str, name: str, value: float) -> None:
    assert decoded(parameters()[pid], bytes.fromhex(data))[name] == pytest.approx(value, abs=1e-12)


@pytest.mark.parametrize(
    ("pid", "data", "name"),
    [
        (0x14, "5AFF", "oxygen_sensor_1_fuel_trim"),  # SAE J1979: FF, sensor not used in the trim
        (0x65, "0002", "neutral_drive_status"),  # A1 = 0: the module has no such input
        (0x66, "0100200020", "mass_air_flow_b"),
        (0x01, "0007E500", "boost_pressure_monitor_supported"),  # B3 = 0: spark ignition
        (0x01, "000FE500", "evaporative_system_monitor_supported"),  # B3 = 1: compression ignition
    ],
)
def test_what_is_not_carried_has_no_value(pid: int, data: str, name: str) -> None:
    assert name not in decoded(parameters()[pid], bytes.fromhex(data))


def test_states_are_named() -> None:
    """SAE J1979, parameter 03 and 65."""
    assert signals()["fuel_system_1_status"].states[2] == "closed loop"
    assert signals()["neutral_drive_status"].states == {0: "park or neutral", 1: "drive or reverse"}


@settings(max_examples=200, deadline=None)
@given(PARAMETERS, st.data())
def test_no_bytes_make_a_value_outside_the_field(parameter: Parameter, data: st.DataObject) -> None:
    rows = data.draw(st.lists(st.binary(min_size=parameter.length, max_size=parameter.length), max_size=4))
    for signal, value, carried in decode_rows(parameter, table(rows, parameter.length)):
        low, high = signal.limits()
        assert np.all((value[carried] >= low) & (value[carried] <= high))
        assert np.all(np.isnan(value[~carried]))


@settings(max_examples=200, deadline=None)
@given(PARAMETERS, st.data())
def test_encoding_what_was_decoded_changes_no_value(parameter: Parameter, data: st.DataObject) -> None:
    sent = data.draw(st.binary(min_size=parameter.length, max_size=parameter.length))
    values = decoded(parameter, sent)
    assert decoded(parameter, encode(parameter.pid, values)).items() >= values.items()


def decoded(parameter: Parameter, data: bytes) -> dict[str, float]:
    rows = decode_rows(parameter, table([data], parameter.length))
    return {signal.name: float(value[0]) for signal, value, carried in rows if carried[0]}


def table(rows: list[bytes], length: int) -> np.ndarray:
    return np.frombuffer(b"".join(rows), np.uint8).reshape(-1, length)
