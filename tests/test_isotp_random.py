"""Segmentation of messages made at random, split by the frame layout of ISO 15765-2, then lost, repeated, swapped."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from relearn.isotp import reassemble
from tests.segments import Sent, capture, payloads, split

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
