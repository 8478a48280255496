"""The example database, read by cantools, means the same as the parameter table."""

from __future__ import annotations

from pathlib import Path

import cantools
import numpy as np
import pytest

from relearn.j1979.decode import decode_rows
from relearn.j1979.obd2_dbc import ENCODING, text
from relearn.j1979.table import Parameter, parameters

PATH = Path(__file__).parents[2] / "dbc_examples" / "obd2.dbc"
FITTING = [parameter for parameter in parameters().values() if parameter.length <= 5]  # ISO 15765-2 single frame
MESSAGE = cantools.database.load_file(PATH).get_message_by_frame_id(0x7E8)
HEAD = {"frame_type", "answer_length", "service", "parameter"}
ROWS = 30


def test_the_file_is_what_the_table_makes() -> None:
    assert PATH.read_text(encoding=ENCODING) == text()


@pytest.mark.parametrize("parameter", FITTING, ids=lambda parameter: f"{parameter.pid:02X}")
def test_cantools_decodes_the_same_values(parameter: Parameter) -> None:
    data = np.random.default_rng(parameter.pid).integers(0, 256, (ROWS, parameter.length), np.uint8)
    decoded = decode_rows(parameter, data)
    for row in range(ROWS):
        frame = bytes([parameter.length + 2, 0x41, parameter.pid]) + data[row].tobytes()
        theirs = MESSAGE.decode(frame.ljust(8, b"\xaa"), decode_choices=False)
        ours = {signal.name: value[row] for signal, value, carried in decoded if carried[row]}
        unused = {signal.name for signal, value, _ in decoded if signal.not_used is not None and np.isnan(value[row])}
        carriers = {name for name in theirs if name.startswith(f"parameter_{parameter.pid:02x}_")}
        assert theirs.keys() - HEAD - carriers - unused == ours.keys()
        assert all(theirs[name] == pytest.approx(value) for name, value in ours.items())


def test_units_and_states_are_the_same() -> None:
    by_name = {signal.name: signal for signal in MESSAGE.signals}
    for signal in (signal for parameter in FITTING for signal in parameter.signals):
        assert (by_name[signal.name].unit or "") == signal.unit
        if signal.states:
            assert {int(one): str(word) for one, word in (by_name[signal.name].choices or {}).items()} == signal.states


@pytest.mark.parametrize("frame", ["2141414141414141", "30000000AAAAAAAA", "037F0112AAAAAAAA", "1014490201314D38"])
def test_other_frames_of_the_module_are_no_parameters(frame: str) -> None:
    assert set(MESSAGE.decode(bytes.fromhex(frame))) <= HEAD


def test_an_unused_trim_is_named_so() -> None:
    """SAE J1979: FF in the trim of 14 to 1B means that the sensor is not used in it."""
    assert str(MESSAGE.decode(bytes.fromhex("0441145AFFAAAAAA"))["oxygen_sensor_1_fuel_trim"]) == "not used"
