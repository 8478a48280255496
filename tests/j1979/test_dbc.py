"""Broadcast signals. Source: cantools' own decoding over random bytes; literal cases worked out by hand from the
scalings written in dbc_examples/broadcast.dbc."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Literal, cast

import numpy as np
import pytest
from cantools.database.can import Database, Message
from cantools.database.can import Signal as Coded
from cantools.database.conversion import BaseConversion
from hypothesis import given, settings
from hypothesis import strategies as st

from relearn.capture.frames import Frames
from relearn.errors import SheetError
from relearn.j1979 import dbc
from relearn.j1979.series import Series

EXAMPLES = Path(__file__).parents[2] / "dbc_examples"
MAP = EXAMPLES / "broadcast-map.toml"


@cache
def example(name: str = "broadcast.dbc") -> Database:
    return dbc.database(EXAMPLES / name)


def capture(identifier: int, *data: bytes, buses: Sequence[int] = ()) -> Frames:
    """One frame a second, all of one identifier; above 7FF it is a 29-bit one."""
    count, width = len(data), 8 if all(len(one) <= 8 for one in data) else 64
    return Frames(
        np.arange(count, dtype=np.float64),
        np.arange(1, count + 1),
        np.array(buses or [0] * count, np.uint8),
        np.full(count, identifier, np.uint32),
        np.full(count, identifier > 0x7FF),
        np.array([len(one) for one in data], np.uint8),
        np.array([list(one.ljust(width, b"\0")) for one in data], np.uint8).reshape(count, width),
    )


def named(series: Sequence[Series]) -> dict[str, Series]:
    return {f"{one.module}:{one.signal.name}" if one.module != "broadcast" else one.signal.name: one for one in series}


def written(tmp_path: Path, name: str, text: str) -> Path:
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return path


# ---- against cantools


def assert_like_cantools(message: Message, rows: list[bytes]) -> None:
    frames = capture(message.frame_id, *rows)
    expected = [cast(dict[str, float], message.decode(row, decode_choices=False)) for row in rows]
    for coded in message.signals:
        carried = dbc.carried(message, coded, frames)
        raw = dbc.raw_numbers(coded, frames.data)
        assert carried.tolist() == [coded.name in one for one in expected]
        for row in np.flatnonzero(carried).tolist():
            ours, theirs = float(raw[row]) * coded.scale + coded.offset, expected[row][coded.name]
            assert ours == pytest.approx(theirs, rel=1e-12, abs=1e-12, nan_ok=True)


@st.composite
def messages(draw: st.DrawFn) -> Message:
    """A frame with one signal of any place, length, byte order, sign and scaling."""
    size = draw(st.sampled_from((8, 8, 64)))
    floating = draw(st.booleans())
    length = draw(st.sampled_from((16, 32, 64)) if floating else st.integers(1, 64))
    first = draw(st.integers(0, 8 * size - length))
    order: Literal["little_endian", "big_endian"] = draw(st.sampled_from(("little_endian", "big_endian")))
    start = first if order == "little_endian" else 8 * (first // 8) + 7 - first % 8
    scaling = draw(st.sampled_from(((1, 0), (0.25, -40), (0.1, 0), (-2, 7))))
    signal = Coded(
        "value",
        start,
        length,
        order,
        draw(st.booleans()) and not floating,
        conversion=BaseConversion.factory(*scaling, choices=None, is_float=floating),
    )
    return Message(0x123, "frame", size, [signal], strict=True)


@settings(max_examples=200, deadline=None)
@given(messages(), st.data())
def test_any_signal_decodes_as_cantools_does(message: Message, data: st.DataObject) -> None:
    exactly = st.binary(min_size=message.length, max_size=message.length)
    assert_like_cantools(message, data.draw(st.lists(exactly, min_size=1, max_size=4)))


def heads(message: Message) -> st.SearchStrategy[bytes]:
    """First bytes that choose a page which the message has: cantools refuses a frame with any other."""
    if message.name == "BodyPages":
        return st.sampled_from([b"\x00", b"\x01"])
    if message.name == "obd2_answer":
        pages = {
            one
            for signal in message.signals
            if signal.multiplexer_signal == "parameter"
            for one in signal.multiplexer_ids or []
        }
        return st.sampled_from(sorted(pages)).map(lambda page: bytes([6, 0x41, page]))
    return st.just(b"")


@settings(max_examples=15, deadline=None)
@given(st.data())
@pytest.mark.parametrize("name", ["broadcast.dbc", "obd2.dbc"])  # the second has multiplexers below multiplexers
def test_the_examples_decode_as_cantools_does(name: str, data: st.DataObject) -> None:
    message = data.draw(st.sampled_from(example(name).messages))
    row = st.tuples(heads(message), st.binary(min_size=8, max_size=8)).map(lambda two: b"".join(two)[: message.length])
    assert_like_cantools(message, data.draw(st.lists(row, min_size=10, max_size=30)))


# ---- literal cases


def test_little_and_big_endian() -> None:
    fast = named(dbc.read(capture(320, bytes.fromhex("F0 0A 4B 8F 9C FF 00 10")), example(), None))
    assert fast["engine_speed"].value.tolist() == [700.0]  # 0AF0 × 0.25
    assert fast["calculated_load"].value == pytest.approx([30.0])  # 4B × 0.4
    assert fast["timing_advance"].value.tolist() == [7.5]  # 8F × 0.5 − 64
    assert fast["IdleTrim"].value == pytest.approx([-10.0])  # F9C as 12 bits signed × 0.1
    slow = named(dbc.read(capture(928, bytes.fromhex("7A 6E 05 46 00 FA")), example(), None))
    assert slow["coolant_temperature"].value.tolist() == [82.0]  # 7A − 40
    assert slow["control_module_voltage"].value == pytest.approx([13.5])  # 546 × 0.01
    assert slow["fuel_level"].value == pytest.approx([100.0])


def test_series_carry_module_time_and_frame_number() -> None:
    found = named(dbc.read(capture(416, bytes(6), bytes.fromhex("27 10 00 00 00 00")), example(), None))
    speed = found["vehicle_speed"]
    assert (speed.module, speed.signal.unit) == ("broadcast", "km/h")
    assert (speed.time_s.tolist(), speed.value.tolist(), speed.frame.tolist()) == ([0, 1], [0, 100], [1, 2])


def test_a_signal_without_a_channel_keeps_its_name_and_unit() -> None:
    found = named(dbc.read(capture(416, bytes.fromhex("00 00 FF 9C 00 00")), example(), None))["WheelAngle"]
    assert found.value == pytest.approx([-10.0]) and found.signal.unit == "°"


def test_not_available_is_no_value() -> None:
    found = named(dbc.read(capture(928, bytes.fromhex("FF 7A 0F FF 00 00")), example(), None))
    assert "coolant_temperature" not in found and "control_module_voltage" not in found
    assert found["engine_oil_temperature"].value.tolist() == [82.0]


def test_states_are_translated_by_the_map_and_others_left_out() -> None:
    rows = [bytes([0, 0, 0, 0, state, 0, 0, 0]) for state in (0b01_00, 0b1101, 0b10_10, 0b111_11)]
    found = named(dbc.read(capture(928, *rows), example(), MAP))
    assert found["malfunction_lamp"].value.tolist() == [0.0, 1.0]  # dark, lit; blinking and not available are neither
    assert found["malfunction_lamp"].frame.tolist() == [1, 2]
    assert found["neutral_drive_status"].value.tolist() == [1.0, 1.0, 0.0]  # R, D, N
    assert found["neutral_drive_status"].frame.tolist() == [1, 2, 3]


def test_states_without_a_map_are_not_guessed() -> None:
    found = named(dbc.read(capture(928, bytes.fromhex("00 00 00 00 01 00 00 00")), example(), None))
    assert "malfunction_lamp" not in found
    assert found["LampState"].signal.states[1] == "lit" and found["LampState"].value.tolist() == [1.0]


def test_multiplexed_pages() -> None:
    assert dbc.keep_for(example()).broadcast_29 == {0x18FFF290}
    found = named(dbc.read(capture(0x18FFF290, bytes([0, 120]), bytes([1, 200]), bytes([9, 9])), example(), None))
    assert found["ambient_air_temperature"].value.tolist() == [20.0]
    assert found["ambient_air_temperature"].frame.tolist() == [1]
    assert found["barometric_pressure"].value.tolist() == [100.0]


def test_a_frame_too_short_for_a_signal_carries_none() -> None:
    found = named(dbc.read(capture(928, bytes([122, 122])), example(), None))
    assert set(found) == {"coolant_temperature", "engine_oil_temperature"}


def test_a_second_bus_is_a_module_of_its_own() -> None:
    found = named(dbc.read(capture(416, bytes(6), bytes.fromhex("27 10 00 00 00 00"), buses=[0, 1]), example(), None))
    assert found["vehicle_speed"].value.tolist() == [0.0]
    assert found["broadcast-bus1:vehicle_speed"].value.tolist() == [100.0]


def test_keep_asks_for_broadcast_frames_only() -> None:
    assert dbc.keep_for(example()).broadcast_11 == {320, 336, 416, 672, 928}
    assert dbc.keep_for(example("obd2.dbc")).broadcast_11 == frozenset()  # diagnostic, kept anyway


# ---- what is claimed, and mistakes

TWO = """VERSION ""
BU_: A
BO_ 256 One: 8 A
 SG_ RPM : 0|16@1+ (1,0) [0|0] "rpm" A
 SG_ ECT : 16|8@1+ (1,-40) [0|0] "{unit}" A
 SG_ vehicle_speed : 24|8@1+ (1,0) [0|0] "m" A
 SG_ Turns : 32|8@1+ (100,0) [0|0] "rpm" A
BO_ 257 Two: 8 A
 SG_ EngineSpeed : 0|16@1+ (1,0) [0|0] "rpm" A
 SG_ Turns : 32|8@1+ (100,0) [0|0] "rpm" A
"""


def channels(tmp_path: Path, unit: str, mapping: str | None = None) -> set[str]:
    database = dbc.database(written(tmp_path, "two.dbc", TWO.format(unit=unit)))
    path = written(tmp_path, "map.toml", mapping) if mapping else None
    return {
        name for identifier in (256, 257) for name in named(dbc.read(capture(identifier, bytes(8)), database, path))
    }


def test_two_signals_of_one_channel_and_units_that_do_not_fit_keep_their_own_names(tmp_path: Path) -> None:
    assert channels(tmp_path, "V") == {"RPM", "EngineSpeed", "ECT", "One.vehicle_speed", "One.Turns", "Two.Turns"}


def test_the_map_chooses(tmp_path: Path) -> None:
    found = channels(tmp_path, "degC", '[signals]\n"Two.Turns" = "engine_speed"')
    assert {"engine_speed", "coolant_temperature", "One.Turns"} <= found and "Two.Turns" not in found


def test_a_channel_that_the_map_gives_is_not_given_twice(tmp_path: Path) -> None:
    found = channels(tmp_path, "degC", '[signals]\n"One.Turns" = { channel = "coolant_temperature", unit = "degC" }')
    assert {"coolant_temperature", "ECT"} <= found and "One.Turns" not in found


NAMED = """VERSION ""
BU_: A
BO_ 258 Three: 8 A
 SG_ Lamp : 0|2@1+ (1,0) [0|0] "" A
 SG_ Blinker : 2|2@1+ (1,0) [0|0] "" A
 SG_ Fan : 8|8@1+ (10,0) [0|0] "rpm" A
 SG_ IAT : 16|8@1+ (1,-40) [0|0] "degC" A
CM_ SG_ 258 Lamp "Malfunction lamp.";
CM_ SG_ 258 Blinker "Glow plug lamp status.";
CM_ SG_ 258 IAT "Engine oil temperature.";
VAL_ 258 Lamp 0 "On" 1 "Off" ;
VAL_ 258 Blinker 0 "off" 1 "on" 2 "blinking" ;
"""


def test_only_what_names_one_channel_in_its_own_words_is_taken_for_it(tmp_path: Path) -> None:
    database = dbc.database(written(tmp_path, "named.dbc", NAMED))
    found = named(dbc.read(capture(258, bytes(4)), database, None))
    assert set(found) == {"malfunction_lamp", "Blinker", "Fan", "IAT"}
    assert found["malfunction_lamp"].value.tolist() == [1.0]  # raw 0 is "On" in this database


def test_an_11_bit_and_a_29_bit_identifier_of_one_number_are_two(tmp_path: Path) -> None:
    frames = capture(258, bytes(4))
    database = dbc.database(written(tmp_path, "named.dbc", NAMED))
    assert dbc.read(replace(frames, extended=np.array([True])), database, None) == ()


@pytest.mark.parametrize(
    ("mapping", "key", "word"),
    [
        ('"EngineSped" = "engine_speed"', "signals.EngineSped", "EngineSpeed"),
        ('"Turns" = "engine_speed"', "signals.Turns", "Message.Signal"),
        ('"RPM" = "coolant_temperature"', "signals.RPM", "rpm"),
        ('"ECT" = { channel = "malfunction_lamp", unit = "", states = { "lit" = "on" } }', "signals.ECT.states", "lit"),
    ],
)
def test_a_mistake_in_the_map_is_named_with_its_key(tmp_path: Path, mapping: str, key: str, word: str) -> None:
    with pytest.raises(SheetError) as error:
        channels(tmp_path, "", f"[signals]\n{mapping}")
    assert error.value.key == key and word in str(error.value)


@pytest.mark.parametrize(
    "given", [b"", b"hello", bytes(range(256)), b'VERSION ""\n', None, TWO.replace("16|8@1+", "8|8@1+").encode()]
)
def test_a_file_that_is_no_sound_database_is_one_sentence(tmp_path: Path, given: bytes | None) -> None:
    path = tmp_path / "bad.dbc"
    if given is not None:
        path.write_bytes(given)
    with pytest.raises(SheetError) as error:
        dbc.database(path)
    assert "bad.dbc" in str(error.value) and "\n" not in str(error.value)


@pytest.mark.parametrize("encoding", ["utf-8", "cp1252"])
def test_degree_signs_in_either_encoding(tmp_path: Path, encoding: str) -> None:
    path = tmp_path / "two.dbc"
    path.write_bytes(TWO.format(unit="°C").encode(encoding))
    found = named(dbc.read(capture(256, bytes(8)), dbc.database(path), None))
    assert found["coolant_temperature"].value.tolist() == [-40.0]
