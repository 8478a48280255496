"""Segmentation on literal bytes. Source: ISO 15765-2 (frame layout, sequence numbers, N_Cr = 1000 ms)."""

from __future__ import annotations

import pytest

from relearn.isotp import reassemble
from tests.segments import capture, lines, payloads, split

VIN_LIKE = bytes.fromhex("490201") + b"ZZZ00000000000017"


def test_single_frame_without_its_padding() -> None:
    found = reassemble(capture(lines("7E8 04 41 0C 1A F8 AA AA AA")))
    assert payloads(found) == [(0x7E8, bytes.fromhex("410C1AF8"))]
    assert found.answer.tolist() == [True] and found.faults == ()


def test_request_and_answer_are_told_apart() -> None:
    found = reassemble(
        capture(
            lines("""
        7DF 02 01 0C
        7E8 04 41 0C 1A F8
        18DB33F1 02 01 0D
        18DAF110 03 41 0D 00""")
        )
    )
    assert found.answer.tolist() == [False, True, False, True]


def test_a_message_bears_the_time_of_its_last_frame_and_both_frame_numbers() -> None:
    found = reassemble(capture(lines(HEAD + ONE + TWO), times_s=[1.0, 1.5, 1.75]))
    assert payloads(found) == [(0x7E8, VIN_LIKE)]
    assert (found.time_s[0], found.first_frame[0], found.last_frame[0]) == (1.75, 1, 3)


def test_flow_control_is_no_message() -> None:
    found = reassemble(
        capture(lines("7E8 10 08 49 04 01 41 42 43\n7E0 30 00 00 00 00 00 00 00\n7E8 21 44 45 00 00 00 00 00"))
    )
    assert payloads(found) == [(0x7E8, bytes.fromhex("4904014142434445"))] and found.faults == ()


def test_two_modules_interleaved() -> None:
    found = reassemble(
        capture(
            lines("""
        7E8 10 09 49 04 01 41 41 41
        7E9 10 0A 49 04 01 42 42 42
        7E9 21 42 42 42 42 00 00 00
        7E8 21 41 41 41 00 00 00 00""")
        )
    )
    assert payloads(found) == [(0x7E9, b"\x49\x04\x01BBBBBBB"), (0x7E8, b"\x49\x04\x01AAAAAA")]


def test_two_buses_are_two_streams() -> None:
    one, two = lines("7E8 10 08 49 04 01 41 42 43\n7E8 21 44 45 00 00 00 00 00")
    found = reassemble(capture([one, one, two, two], buses=[0, 1, 0, 1]))
    assert [text for _, text in payloads(found)] == [b"\x49\x04\x01ABCDE"] * 2 and found.faults == ()


def test_broadcast_frames_are_left_alone() -> None:
    assert len(reassemble(capture(lines("123 03 41 0D 00")))) == 0


def test_can_fd_single_frame_with_escape() -> None:
    sent = bytes.fromhex("00 0A 62 F4 0C 1A F8 F4 0D 00 F4 11")
    assert payloads(reassemble(capture([(0x7E8, sent)]))) == [(0x7E8, sent[2:])]


def test_can_fd_first_frame_with_32_bit_length() -> None:
    payload = bytes(range(256)) * 20
    frames = split(payload, 64)
    assert frames[0][:6] == bytes.fromhex("10 00 00 00 14 00")
    assert payloads(reassemble(capture([(0x18DAF110, one) for one in frames]))) == [(0x18DAF110, payload)]


def test_no_frames_no_messages() -> None:
    found = reassemble(capture([]))
    assert len(found) == 0 and found.faults == ()


# Cases for each fault: (kind, first frame, last frame, frames). ISO 15765-2: sequence number error, arrival of
# an unexpected frame, length checks of SF_DL and FF_DL, flow status, reserved N_PCI types.
HEAD = "7E8 10 14 49 02 01 5A 5A 5A\n"
ONE = "7E8 21 30 30 30 30 30 30 30\n"
TWO = "7E8 22 30 30 30 30 30 31 37\n"
FAULTS = [
    ("lost-frame", 1, 2, HEAD + TWO),
    ("lost-frame", 1, 3, "7E8 10 1B 49 02 01 5A 5A 5A\n" + ONE + "7E8 23 30 30 30 30 30 31 37"),
    ("repeated-frame", 1, 3, HEAD + ONE + ONE),
    ("repeated-frame", 1, 4, HEAD + ONE + TWO + TWO),
    ("repeated-frame", 1, 4, "7E8 10 1B 49 02 01 5A 5A 5A\n" + ONE + TWO + ONE),
    ("out-of-order", 1, 2, HEAD + TWO + ONE),
    ("interrupted-message", 1, 3, HEAD + ONE + "7E8 03 41 0D 00"),
    ("interrupted-message", 1, 2, HEAD + HEAD + ONE + TWO),
    ("unexpected-frame", 1, 1, ONE),
    ("unexpected-frame", 4, 4, HEAD + ONE + TWO + "7E8 23 30 30 30 30 30 31 37"),
    ("unexpected-frame", 2, 2, "7E8 03 41 0D 00\n" + ONE),
    ("unfinished-message", 1, 2, HEAD + ONE),
    ("length-not-allowed", 1, 1, "7E8 00 41 0D 00"),
    ("length-not-allowed", 1, 1, "7E8 08 41 0D 00 00 00 00 00"),
    ("length-not-allowed", 1, 1, "7E8 04 41 0D 00"),
    ("length-not-allowed", 1, 1, "7E8 04 03 41 0D 00 00 00 00 00 00 00 00"),  # FD: escape only
    ("length-not-allowed", 1, 1, "7E8 00 0B 62 F4 0C 1A F8 00 00 00 00 00"),
    ("length-not-allowed", 1, 1, "7E8 10 07 41 0D 00 00 00 00"),
    ("length-not-allowed", 1, 1, "7E8 10 14 49 02 01 5A 5A"),
    ("length-not-allowed", 1, 1, "7E8 10 00 00 00 0F FF 00 00"),
    ("length-not-allowed", 1, 2, HEAD + "7E8 21 30 30 30\n" + TWO),
    ("length-not-allowed", 1, 3, HEAD + ONE + "7E8 22 30 30 30"),
    ("length-not-allowed", 1, 2, HEAD + "7E8 21 30 30 30 30 30 30 30 00 00 00 00\n" + TWO),
    ("length-not-allowed", 1, 1, "7E0 30 00"),
    ("overflow", 1, 2, HEAD + "7E0 32 00 00"),
    ("overflow", 1, 2, "18DAF110 10 08 49 02 01 5A 5A 5A\n18DA10F1 32 00 00\n18DAF110 21 30 30"),
    ("reserved-flow-status", 1, 2, HEAD + "7E0 35 00 00"),
    ("reserved-frame-type", 1, 1, "7E8 40 41 0D 00"),
]


@pytest.mark.parametrize(("kind", "first", "last", "text"), FAULTS)
def test_each_fault_is_named_with_its_frames(kind: str, first: int, last: int, text: str) -> None:
    sent = lines(text)
    fault = reassemble(capture(sent)).faults[0]
    assert (fault.kind, fault.first_frame, fault.last_frame, fault.count) == (kind, first, last, 1)
    assert fault.module == f"{sent[0][0]:X}" and fault.module in fault.text


@pytest.mark.parametrize(("kind", "first", "last", "text"), FAULTS)
def test_no_faulty_message_comes_out(kind: str, first: int, last: int, text: str) -> None:
    whole = {VIN_LIKE, bytes.fromhex("410D00")}  # what those cases carry besides that is right
    found = [payload for _, payload in payloads(reassemble(capture(lines(text))))]
    assert set(found) <= whole and not (kind == "repeated-frame" and found)


@pytest.mark.parametrize(("wait_s", "kinds"), [(1.0, []), (1.000_1, ["late-frame"])])
def test_consecutive_frames_wait_at_most_n_cr(wait_s: float, kinds: list[str]) -> None:
    found = reassemble(capture(lines(HEAD + ONE + TWO), times_s=[0.1, 0.1 + wait_s, 0.2 + wait_s]))
    assert [fault.kind for fault in found.faults] == kinds and len(found) == (not kinds)


def test_flow_control_wait_starts_the_clock_anew() -> None:
    head, *rest = lines(HEAD + ONE + TWO)
    sent = [head, (0x7E0, bytes([0x31, 0, 0])), (0x7E0, bytes([0x30, 0, 0])), *rest]
    assert len(reassemble(capture(sent, times_s=[0.0, 0.9, 1.8, 1.81, 1.82]))) == 1


def test_a_message_that_simply_stops_long_before_the_end_of_the_capture_is_late() -> None:
    sent = [*lines("7E8 10 14 49 02 01 5A 5A 5A"), *lines("7E9 03 41 0D 00")]
    faults = reassemble(capture(sent, times_s=[0.0, 30.0])).faults
    assert [fault.kind for fault in faults] == ["late-frame"]


def test_flow_control_of_another_module_does_not_stop_a_message() -> None:
    head, *rest = lines(HEAD + ONE + TWO)
    assert len(reassemble(capture([head, (0x7E1, bytes([0x32, 0, 0])), *rest]))) == 1


def test_up_to_twenty_like_faults_are_told_one_by_one_and_more_are_folded() -> None:
    odd = lines("7E8 40 41 0D 00")
    assert [fault.count for fault in reassemble(capture(odd * 20)).faults] == [1] * 20
    (fault,) = reassemble(capture(odd * 21)).faults
    assert (fault.count, fault.first_frame, fault.last_frame) == (21, 1, 21)
