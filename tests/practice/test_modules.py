"""What the invented car says, against independent decoders and literal bytes."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scapy.contrib.isotp import ISOTP
from scapy.layers.can import CAN
from vininfo import Vin
from vininfo.dicts import COUNTRIES, WMI

from relearn.bus.segments import segments
from relearn.practice.modules import answer, answerers, trouble_code_bytes
from relearn.practice.scenario import car, scenario

READINGS = {"engine_speed": 650.0, "coolant_temperature": 89.0, "vehicle_speed": 0.0, "control_module_voltage": 14.0}


def engine_of(name):
    return answerers(scenario(name))[0]


def test_the_vin_has_a_right_check_digit():
    assert Vin(car().vin).verify_checksum()  # vininfo, after 49 CFR 565


def test_the_vin_belongs_to_no_maker_and_no_country():
    vin = car().vin
    assert vin[:3] not in WMI  # vininfo's lists
    assert vin[:2] not in COUNTRIES


@pytest.mark.parametrize(
    ("code", "data"),
    [  # SAE J2012 / ISO 15031-6
        ("P0113", "0113"),
        ("P0741", "0741"),
        ("C1234", "5234"),
        ("B3FFF", "BFFF"),
        ("U0100", "C100"),
    ],
)
def test_trouble_code_bytes(code, data):
    assert trouble_code_bytes(code) == bytes.fromhex(data)


@given(st.binary(min_size=1, max_size=300), st.sampled_from([0x00, 0x55, 0xAA, 0xCC]))
def test_frames_are_put_together_again_by_scapy(payload, padding):
    sent = [CAN(identifier=0x7E8, data=frame) for frame in segments(payload, padding)]
    assert all(len(frame.data) == 8 for frame in sent)
    assert ISOTP.defragment(sent, use_extended_addressing=False).data == payload


def test_the_vin_answer_starts_with_one_entry():
    assert answer(engine_of("demo-after"), b"\x09\x02", READINGS) == (b"\x49\x02\x01" + car().vin.encode(),)


def test_a_verification_number_takes_the_module_a_while():
    pending, number = answer(engine_of("demo-after"), b"\x09\x06", READINGS)
    assert pending == bytes.fromhex("7F0978")
    assert number == bytes.fromhex("490601C80E4D16")


def test_several_parameters_come_in_one_answer_without_those_not_supported():
    # 14.0 V: 14000 mV; 89 °C: raw 129; 650 rpm: raw 2600 (SAE J1979 scaling)
    said = answer(engine_of("demo-after"), bytes.fromhex("0105426E0C"), READINGS)
    assert said == (bytes.fromhex("4105814236B00C0A28"),)


def test_the_newer_dialect_repeats_each_identifier():
    assert answer(engine_of("j1979-2"), bytes.fromhex("22F405F40C"), READINGS) == (bytes.fromhex("62F40581F40C0A28"),)


def test_nothing_supported_is_not_answered_and_a_refused_service_is_refused():
    assert answer(engine_of("missing-parameter"), b"\x01\x42", READINGS) == ()
    assert answer(engine_of("missing-parameter"), b"\x0a", READINGS) == (bytes.fromhex("7F0A11"),)


def test_stored_codes_light_the_lamp_and_keep_a_freeze_frame():
    who = engine_of("lamp-on")
    assert answer(who, b"\x03", READINGS) == (bytes.fromhex("43010113"),)
    assert answer(who, b"\x02\x02\x00", READINGS) == (bytes.fromhex("4202000113"),)
    assert answer(who, b"\x01\x01", READINGS)[0][2] == 0x81


def test_two_modules_each_speak_for_themselves():
    engine, transmission = answerers(scenario("two-modules"))
    assert answer(engine, b"\x07", READINGS) == (bytes.fromhex("4700"),)
    assert answer(transmission, b"\x07", READINGS) == (bytes.fromhex("47010741"),)
    assert answer(transmission, b"\x01\x0c", READINGS) == ()
    assert answer(transmission, b"\x09\x02", READINGS) == ()


def test_a_module_with_nothing_to_say_about_a_service_is_silent():
    assert answer(engine_of("demo-after"), b"\x06\x01", READINGS) == ()
