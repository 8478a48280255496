"""Segmentation by a sender that we did not write: whole exchanges of can-isotp with itself."""

from __future__ import annotations

from collections import deque
from typing import Any

import isotp
import pytest

from relearn.isotp import reassemble
from tests.segments import Sent, capture, payloads


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
