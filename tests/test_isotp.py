"""Segmentation. Sources: ISO 15765-2 (frame layout, sequence numbers, N_Cr = 1000 ms); can-isotp as a sender
that we did not write; Hypothesis with a splitter written here from the standard's frame layout alone."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from typing import Any

import isotp
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from relearn.capture.frames import Frames
from relearn.isotp import Messages, reassemble

Sent = tuple[int, bytes]  # identifier, data
STEP_S = 0.001
FD_SIZES = (8, 12, 16, 20, 24, 32, 48, 64)


def capture(sent: Sequence[Sent], times_s: Sequence[float] | None = None, buses: Sequence[int] | None = None) -> Frames:
    count = len(sent)
    data = np.zeros((count, 64 if any(len(one) > 8 for _, one in sent) else 8), np.uint8)
    for row, (_, one) in enumerate(sent):
        data[row, : len(one)] = list(one)
    identifier = np.array([one for one, _ in sent], np.uint32)
    times = np.array([STEP_S * row for row in range(count)] if times_s is None else times_s, np.float64)
    return Frames(
        times,
        np.arange(1, count + 1),
        np.array(buses or [0] * count, np.uint8),
        identifier,
        identifier > 0x7FF,
        np.array([len(one) for _, one in sent], np.uint8),
        data,
    )


def lines(text: str) -> list[Sent]:
    """'7E8 03 41 0D 00' a line."""
    rows = [line.split() for line in text.strip().splitlines()]
    return [(int(row[0], 16), bytes.fromhex("".join(row[1:]))) for row in rows]


def payloads(messages: Messages) -> list[tuple[int, bytes]]:
    return [(int(messages.identifier[row]), messages.bytes_at(row)) for row in range(len(messages))]


def split(payload: bytes, size: int = 8, pad: int | None = 0xAA) -> list[bytes]:
    """Frames of one message, by the layout tables of ISO 15765-2 for normal addressing."""
    if len(payload) <= 7:
        return [_padded(bytes([len(payload)]) + payload, 8, pad)]
    if size > 8 and len(payload) <= size - 2:
        return [_padded(bytes([0, len(payload)]) + payload, size, pad)]
    count = len(payload)
    long = bytes([0x10, 0]) + count.to_bytes(4, "big")
    head = bytes([0x10 | count >> 8, count & 0xFF]) if count <= 4095 else long
    frames = [head + payload[: size - len(head)]]
    rest = payload[size - len(head) :]
    for number, at in enumerate(range(0, len(rest), size - 1), 1):
        frames.append(_padded(bytes([0x20 | number % 16]) + rest[at : at + size - 1], size, pad))
    return frames


def _padded(data: bytes, size: int, pad: int | None) -> bytes:
    """Up to `size` bytes with a pad byte; else only up to the next length that a frame can have."""
    if pad is None:
        size = len(data) if len(data) <= 8 else min(one for one in FD_SIZES if one >= len(data))
    return data.ljust(size, bytes([pad or 0]))


# ---- literal bytes

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


# ---- Hypothesis splits

IDENTIFIERS = (0x7E8, 0x7E9, 0x7E0, 0x18DAF110, 0x18DA10F1)
sizes = st.sampled_from((8, 8, 12, 64))


@st.composite
def traffic(draw: st.DrawFn) -> tuple[list[Sent], list[Sent]]:
    """Messages of several senders and their frames, interleaved; each sender keeps its own order."""
    queues: list[deque[Sent]] = []
    sent: list[Sent] = []
    for identifier in draw(st.lists(st.sampled_from(IDENTIFIERS), unique=True, min_size=1, max_size=3)):
        messages = draw(st.lists(st.binary(min_size=1, max_size=160), min_size=1, max_size=4))
        size, pad = draw(sizes), draw(st.sampled_from((None, 0x00, 0x55, 0xAA, 0xFF)))
        sent += [(identifier, message) for message in messages]
        queues.append(deque((identifier, one) for message in messages for one in split(message, size, pad)))
    return sent, list(_interleaved(queues, draw(st.randoms(use_true_random=False)).randrange))


def _interleaved(queues: list[deque[Sent]], pick: Callable[[int], int]) -> Iterator[Sent]:
    while waiting := [queue for queue in queues if queue]:
        yield waiting[pick(len(waiting))].popleft()


@settings(max_examples=120, deadline=None)
@given(traffic())
def test_whatever_is_split_comes_back(case: tuple[list[Sent], list[Sent]]) -> None:
    sent, frames = case
    found = reassemble(capture(frames))
    assert found.faults == () and sorted(payloads(found)) == sorted(sent)
    assert (np.diff(found.last_frame) > 0).all()
    for identifier in {one for one, _ in sent}:  # each sender's messages in the order sent
        mine = [one for one in sent if one[0] == identifier]
        assert [one for one in payloads(found) if one[0] == identifier] == mine


def is_first(data: bytes) -> bool:
    return data[0] >> 4 == 1


@settings(max_examples=120, deadline=None)
@given(traffic(), st.data())
def test_losses_never_make_a_value(case: tuple[list[Sent], list[Sent]], data: st.DataObject) -> None:
    """Any one frame, or any number of frames that are not first frames."""
    sent, frames = case
    lost = data.draw(
        st.one_of(
            st.integers(0, len(frames) - 1).map(lambda one: {one}),
            st.sets(st.sampled_from([at for at, (_, one) in enumerate(frames) if not is_first(one)] or [-1])),
        )
    )
    found = payloads(reassemble(capture([one for at, one in enumerate(frames) if at not in lost])))
    assert set(found) <= set(sent)


@settings(max_examples=120, deadline=None)
@given(traffic(), st.data())
def test_a_repeat_never_makes_a_value(case: tuple[list[Sent], list[Sent]], data: st.DataObject) -> None:
    """Once more at once, as a bus error makes a sender do; any but a first frame also at any later place."""
    sent, frames = case
    source = data.draw(st.integers(0, len(frames) - 1))
    target = data.draw(st.integers(source + 1, source + 1 if is_first(frames[source][1]) else len(frames)))
    repeated = [*frames[:target], frames[source], *frames[target:]]
    assert set(payloads(reassemble(capture(repeated)))) <= set(sent)


@settings(max_examples=120, deadline=None)
@given(traffic(), st.data())
def test_a_swap_never_makes_a_value(case: tuple[list[Sent], list[Sent]], data: st.DataObject) -> None:
    """Of two frames that follow each other."""
    sent, frames = case
    at = data.draw(st.integers(0, max(0, len(frames) - 2)))
    frames[at : at + 2] = reversed(frames[at : at + 2])
    assert set(payloads(reassemble(capture(frames)))) <= set(sent)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(IDENTIFIERS), st.binary(max_size=8)), max_size=40))
def test_noise_is_read_without_an_error_and_every_fault_has_a_place(noise: list[Sent]) -> None:
    found = reassemble(capture(noise))
    assert found.length.sum() == len(found.payload)
    assert all(
        fault.first_frame and fault.last_frame and fault.first_frame <= fault.last_frame for fault in found.faults
    )


# ---- against can-isotp


def transport(
    inbox: deque[isotp.CanMessage],
    bus: list[Sent],
    outbox: deque[isotp.CanMessage],
    address: isotp.Address,
    params: dict[str, Any],
) -> isotp.TransportLayerLogic:
    """One can-isotp end of a link over queues in memory; what it sends is also written to `bus`."""

    def send(message: isotp.CanMessage) -> None:
        bus.append((message.arbitration_id, bytes(message.data)))
        outbox.append(message)

    def receive(_timeout: float) -> isotp.CanMessage | None:
        return inbox.popleft() if inbox else None

    return isotp.TransportLayerLogic(receive, send, address, params=params)


def exchange(payload: bytes, extended: bool, fd: bool, block_size: int, pad: int | None) -> list[Sent]:
    """All frames, both directions, of one answer sent by can-isotp to can-isotp."""
    bus: list[Sent] = []
    boxes: tuple[deque[isotp.CanMessage], deque[isotp.CanMessage]] = deque(), deque()
    params = {
        "tx_data_length": 64 if fd else 8,
        "can_fd": fd,
        "blocksize": block_size,
        "tx_padding": pad,
        "max_frame_size": 10_000,
    }
    mode = isotp.AddressingMode.Normal_29bits if extended else isotp.AddressingMode.Normal_11bits
    request, answer = (0x18DA10F1, 0x18DAF110) if extended else (0x7E0, 0x7E8)
    module = transport(boxes[0], bus, boxes[1], isotp.Address(mode, txid=answer, rxid=request), params)
    tester = transport(boxes[1], bus, boxes[0], isotp.Address(mode, txid=request, rxid=answer), params)
    module.send(payload)
    for _ in range(20_000):
        module.process()
        tester.process()
        if (received := tester.recv()) is not None:
            assert bytes(received) == payload
            return bus
    raise AssertionError("can-isotp itself did not get the message across")


@pytest.mark.parametrize("extended", [False, True])
@pytest.mark.parametrize("fd", [False, True])
@pytest.mark.parametrize("pad", [None, 0xCC])
@pytest.mark.parametrize(
    ("size", "block_size"), [(1, 0), (7, 0), (8, 0), (20, 8), (62, 0), (63, 2), (200, 4), (4095, 0), (4096, 0)]
)
def test_can_isotp_exchange(extended: bool, fd: bool, pad: int | None, size: int, block_size: int) -> None:
    payload = bytes((7 * index + size) & 0xFF for index in range(size))
    frames = exchange(payload, extended, fd, block_size, pad)
    found = reassemble(capture(frames))
    assert found.faults == ()
    assert payloads(found) == [(0x18DAF110 if extended else 0x7E8, payload)]
    answers_only = [one for one in frames if one[0] in (0x7E8, 0x18DAF110)]
    assert payloads(reassemble(capture(answers_only))) == payloads(found)
