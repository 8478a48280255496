"""Values to data bytes."""

from __future__ import annotations

import pytest

from relearn.errors import ProcedureError
from relearn.j1979.encode import encode


@pytest.mark.parametrize(
    ("pid", "values", "data"),
    [
        (0x0C, {"engine_speed": 1726.0}, "1AF8"),  # SAE J1979: (256A + B)/4
        (0x0C, {"engine_speed": 1726.1}, "1AF8"),  # the nearest number
        (0x0C, {"engine_speed": 99_999.0}, "FFFF"),  # clipped to the field
        (0x05, {"coolant_temperature": -80.0}, "00"),
        (0x32, {"evaporative_vapor_pressure": -0.25}, "FFFF"),  # two's complement
        (0x65, {"neutral_drive_status": 0.0}, "0200"),  # the present bit is set
        (0x65, {"neutral_drive_status": 1.0, "power_take_off_status": 0.0}, "0302"),
        (0x14, {"oxygen_sensor_1_voltage": 0.45}, "5AFF"),  # a trim not given is 'not used'
        (0x14, {"oxygen_sensor_1_fuel_trim": 200.0}, "00FE"),  # and never reached by clipping
        (0x01, {"malfunction_lamp": 1.0, "stored_code_count": 2.0}, "82000000"),
        (0x0D, {}, "00"),
    ],
)
def test_values_become_bytes(pid: int, values: dict[str, float], data: str) -> None:
    assert encode(pid, values).hex().upper() == data


@pytest.mark.parametrize(
    ("pid", "values", "said"),
    [
        (0xF0, {}, "F0"),
        (0x0C, {"vehicle_speed": 1.0}, "vehicle_speed"),
        (0x0C, {"engine_speed": float("nan")}, "engine_speed"),
        (0x01, {"compression_ignition": 1.0, "catalyst_monitor_supported": 1.0}, "catalyst_monitor_supported"),
    ],
)
def test_what_cannot_be_written_is_told(pid: int, values: dict[str, float], said: str) -> None:
    with pytest.raises(ProcedureError, match=said):
        encode(pid, values)
