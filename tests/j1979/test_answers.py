"""What modules said, from literal bytes. Every frame is one message, one second after the other, starting at 0 s."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from relearn.j1979.answers import Answers, read
from relearn.j1979.records import MASKS, Codes, FreezeFrame, RawParameter, Refusal, Support
from relearn.j1979.table import parameters, signals

from .build import FUNCTIONAL, engine, messages


def values(answers: Answers, module: str = "7E8") -> dict[str, list[float]]:
    return {one.signal.name: one.value.tolist() for one in answers.series if one.module == module}


def kinds(answers: Answers) -> list[str]:
    return [fault.kind for fault in answers.faults]


def test_one_parameter_in_one_answer() -> None:
    answers = read(engine("410C1AF8", "410D32", "410C0AF0"))
    assert values(answers) == {"engine_speed": [1726.0, 700.0], "vehicle_speed": [50.0]}
    speed = answers.series[0]
    assert (speed.time_s.tolist(), speed.frame.tolist()) == ([0.0, 2.0], [1, 3])
    assert not answers.faults and not answers.raw


def test_several_parameters_in_one_answer_are_split_by_the_table() -> None:
    """ISO 15765-4 allows six parameters in one request; lengths from SAE J1979."""
    answers = read(engine("410C1AF80D32057B4236B01100650202"))
    assert values(answers) == {
        "engine_speed": [1726.0],
        "vehicle_speed": [50.0],
        "coolant_temperature": [83.0],
        "control_module_voltage": [14.0],
        "throttle_position": [0.0],
        "neutral_drive_status": [1.0],
    }
    assert not answers.faults and not answers.raw


def test_an_unknown_parameter_stops_the_split() -> None:
    answers = read(engine("410C1AF8C412340D32"))
    assert values(answers) == {"engine_speed": [1726.0]}
    assert kinds(answers) == ["unknown-parameter"] and "C4" in answers.faults[0].text
    assert answers.raw == (RawParameter("7E8", 0x01, 0xC4, 1, "12340D32", "12340D32", 1, 1),)


def test_an_unknown_parameter_alone_is_kept_raw_and_counted() -> None:
    answers = read(engine("41C41234", "410D32", "41C45678"))
    assert answers.raw == (RawParameter("7E8", 0x01, 0xC4, 2, "1234", "5678", 1, 3),)
    assert not answers.faults


def test_a_wrong_length_gives_no_value() -> None:
    for payload in ("410C1A", "410C", "41", "410C1AF800", "410D32057B0C1A", "410C1AF800000000", "410C1AF80000000000"):
        answers = read(engine(payload))
        assert kinds(answers) == ["wrong-length"], payload
        assert not answers.series and not answers.support, payload


def test_two_modules_are_never_mixed() -> None:
    answers = read(messages((0x7E8, "410C1AF8"), (0x7E9, "410C0000"), (0x18DAF110, "410C0AF0")))
    assert answers.modules == ("7E8", "7E9", "18DAF110")
    assert values(answers, "7E8") == {"engine_speed": [1726.0]}
    assert values(answers, "7E9") == {"engine_speed": [0.0]}
    assert values(answers, "18DAF110") == {"engine_speed": [700.0]}


def test_requests_are_no_answers() -> None:
    answers = read(messages((FUNCTIONAL, "010C"), (FUNCTIONAL, "410C1AF8")))
    assert not answers.modules and not answers.series


def test_nothing_at_all_is_nothing() -> None:
    answers = read(engine())
    assert (answers.modules, answers.series, answers.faults) == ((), (), ())


def test_support_masks() -> None:
    """Worked example of the public tables: BE 1F A8 13 is 01, 03–07, 0C–10, 11, 13, 15, 1C, 1F, 20."""
    support = read(engine("4100BE1FA813")).support["7E8"]
    assert support.supported == {1, 3, 4, 5, 6, 7, 0x0C, 0x0D, 0x0E, 0x0F, 0x10, 0x11, 0x13, 0x15, 0x1C, 0x1F, 0x20}
    assert (support.says(0x0C), support.says(0x0B), support.says(0x42)) == (True, False, None)


def test_the_newest_mask_counts_and_ranges_add_up() -> None:
    support = read(engine("410000000000", "4100000000014000000000", "62F42000000001")).support["7E8"]
    assert support == Support(frozenset({0x00, 0x20, 0x40}), frozenset({0x20, 0x40}))


def test_a_range_that_the_mask_below_denies_is_a_no() -> None:
    """SAE J1979: the last bit of each mask says whether the next mask exists."""
    support = Support(frozenset({0x00}), frozenset({0x0C}))
    assert (support.says(0x42), support.says(0xA6)) == (False, False)
    assert Support(frozenset(), frozenset()).says(0x42) is None


def test_a_freeze_frame_never_reaches_the_live_series() -> None:
    answers = read(engine("4202000113", "420C001AF80500" + "7B", "410D32"))
    assert values(answers) == {"vehicle_speed": [50.0]}
    frozen = {"engine_speed": 1726.0, "coolant_temperature": 83.0}
    assert answers.freeze_frames == (FreezeFrame("7E8", 0, frozen, "P0113", 1.0),)


def test_a_freeze_frame_without_a_code_is_none() -> None:
    """SAE J1979: parameter 02 is 0000 where no frame is stored, and then the rest means nothing."""
    assert not read(engine("4202000000", "420C000000")).freeze_frames


def test_unknown_and_short_freeze_frame_data() -> None:
    answers = read(engine("42C4001234", "420C001A"))
    assert answers.raw == (RawParameter("7E8", 0x02, 0xC4, 1, "1234", "1234", 1, 1),)
    assert kinds(answers) == ["wrong-length"] and not answers.freeze_frames


def test_trouble_codes_of_every_kind() -> None:
    answers = read(engine("43020113C123", "4700", "4A010300", "4301011300000000"))
    assert answers.codes == (
        Codes("7E8", "stored", ("P0113", "U0123"), 0.0, 1),
        Codes("7E8", "stored", ("P0113",), 3.0, 4),
        Codes("7E8", "pending", (), 1.0, 2),
        Codes("7E8", "permanent", ("P0300",), 2.0, 3),
    )
    assert not answers.faults


def test_a_count_of_codes_that_does_not_fit_is_told() -> None:
    answers = read(engine("43030113"))
    assert answers.codes[0].codes == ("P0113",) and kinds(answers) == ["code-count"]


def test_a_broken_answer_does_not_say_that_there_are_no_codes() -> None:
    for payload in ("4302", "43", "43020000"):
        answers = read(engine(payload))
        assert not answers.codes and kinds(answers) == ["code-count"], payload


def test_identification() -> None:
    vin = b"\x49\x02\x01" + b"1M8GDM9AXKP042788"
    calibrations = b"\x49\x04\x02" + b"CAL-0001".ljust(16, b"\0") + b"CAL-0002".ljust(16, b"\0")
    numbers, name = "49060112ABCDEF", b"\x49\x0a\x01" + b"ECM\0-EngineControl".ljust(20, b"\0")
    answers = read(engine(vin, calibrations, numbers, name))
    assert [(one.item, one.values) for one in answers.identity] == [
        ("vin", ("1M8GDM9AXKP042788",)),
        ("calibration", ("CAL-0001", "CAL-0002")),
        ("verification_number", ("12ABCDEF",)),
        ("name", ("ECM-EngineControl",)),
    ]
    assert not answers.faults and not answers.raw


def test_identification_of_a_wrong_length_is_raw_and_told() -> None:
    answers = read(engine("490401" + "41" * 15, "4908010203", "49"))
    assert kinds(answers) == ["wrong-length"] * 2 and not answers.identity
    assert [raw.identifier for raw in answers.raw] == [-1, 0x04, 0x08]


def test_service_22_carries_parameters_and_identification() -> None:
    """SAE J1979-2: F4xx is parameter xx, F8xx infotype xx; here with other identifiers before and behind."""
    answers = read(engine(b"\x62\xf4\x0c\x1a\xf8\xf8\x02" + b"1M8GDM9AXKP042788" + b"\xf4\x05\x7b", "62F40D32"))
    assert values(answers) == {"engine_speed": [1726.0], "coolant_temperature": [83.0], "vehicle_speed": [50.0]}
    assert answers.identity[0].values == ("1M8GDM9AXKP042788",)
    assert not answers.faults and not answers.raw


def test_service_22_with_and_without_a_count_byte() -> None:
    answers = read(engine("62F80612ABCDEF", "62F8060112ABCDEF", "62F8060112ABCDEFF40C1AF8", "62F80612ABCDEFF40D32"))
    assert [one.values for one in answers.identity] == [("12ABCDEF",)] * 4
    assert values(answers) == {"engine_speed": [1726.0], "vehicle_speed": [50.0]}


def test_an_identification_of_two_readings_is_none() -> None:
    """Two numbers of four bytes, or a count, one number, and parameter F40D: nobody can tell."""
    answers = read(engine("62F8060112ABCDEFF40D32"))
    assert not answers.identity and not answers.series
    assert kinds(answers) == ["wrong-length"] and answers.raw[0].first_hex == "0112ABCDEFF40D32"


def test_service_22_keeps_what_it_does_not_know() -> None:
    answers = read(engine("62123456", "62F40C1AF8ABCD01", "62F40C1A", "62F4", "62F80B0102"))
    assert values(answers) == {"engine_speed": [1726.0]}
    assert [(raw.service, raw.identifier, raw.first_hex) for raw in answers.raw] == [
        (0x22, 0x1234, "56"),
        (0x22, 0xABCD, "01"),
        (0x22, 0xF80B, "0102"),
    ]
    assert sorted(kinds(answers)) == ["unknown-parameter", "wrong-length", "wrong-length"]


def test_one_parameter_by_two_services_is_one_channel_in_the_order_of_time() -> None:
    answers = read(engine("62F40D01", "410D02", "62F40D03"))
    assert values(answers) == {"vehicle_speed": [1.0, 2.0, 3.0]}


def test_refusals_are_counted_and_patience_is_no_refusal() -> None:
    """ISO 14229-1: 12 sub-function not supported, 78 response pending."""
    answers = read(engine("7F0978", "7F0112", "7F0112", "7F01"))
    meaning = "sub-function not supported or invalid format"
    assert answers.refusals == (Refusal("7E8", 0x01, 0x12, meaning, 2, 1.0, 2),)
    assert answers.pending_count == 1 and kinds(answers) == ["wrong-length"] and answers.modules == ("7E8",)


def test_a_response_code_that_nobody_named_keeps_its_number() -> None:
    assert read(engine("7F01FA")).refusals[0].meaning == "response code FA"


def test_other_services_are_kept_raw() -> None:
    answers = read(engine("5003", "44"))
    assert answers.raw == (
        RawParameter("7E8", 0x04, -1, 1, "", "", 2, 2),
        RawParameter("7E8", 0x10, 3, 1, "", "", 1, 1),
    )


PAYLOADS = st.one_of(
    st.binary(min_size=1, max_size=40),
    st.builds(
        lambda service, rest: bytes([service]) + rest,
        st.sampled_from([0x41, 0x42, 0x43, 0x47, 0x49, 0x4A, 0x62, 0x7F]),
        st.binary(max_size=40),
    ),
    st.builds(
        lambda pid, rest: b"\x62" + bytes(pid) + rest,
        st.sampled_from([b"\xf4\x0c", b"\xf8\x02", b"\xf8\x04", b"\xf8\x06"]),
        st.binary(max_size=40),
    ),
)


@settings(max_examples=200, deadline=None)
@given(st.lists(st.tuples(st.sampled_from([0x7E8, 0x7E9]), PAYLOADS), max_size=8))
def test_no_bytes_make_a_value_outside_its_field(given: list[tuple[int, bytes]]) -> None:
    for one in read(messages(*given)).series:
        low, high = signals()[one.signal.name].limits()
        assert np.all((one.value >= low) & (one.value <= high))


# These say only that something is not there: present bits that are all 0, a freeze frame without a code, its mask.
MAY_SAY_NOTHING = {pid for pid, row in parameters().items() if all(one.present_bit is not None for one in row.signals)}
SILENT_WHEN_FROZEN = MAY_SAY_NOTHING | MASKS | {0x02}


@settings(max_examples=200, deadline=None)
@given(PAYLOADS)
def test_no_answer_is_dropped_in_silence(payload: bytes) -> None:
    answers = read(engine(payload))
    said = (
        answers.series,
        answers.raw,
        answers.identity,
        answers.codes,
        answers.refusals,
        answers.freeze_frames,
        answers.faults,
        answers.support,
        answers.pending_count,
    )
    quiet = {0x41: MAY_SAY_NOTHING, 0x42: SILENT_WHEN_FROZEN, 0x62: MAY_SAY_NOTHING}.get(payload[0], set())
    assert any(said) or set(payload[1:]) & quiet
