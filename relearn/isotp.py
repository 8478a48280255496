"""ISO 15765-2: frames become whole diagnostic messages. What does not fit together is a fault, never a value.

Each stream (bus, identifier) is cut into runs: a single or first frame, the consecutive frames up to the next
one, and the flow control sent back meanwhile. A run that is plainly whole is taken over by column arithmetic;
one with something odd in it is looked at frame by frame.

Consecutive frames are numbered 0 to 15 and no more, so a recorder that lost the end of one message and the
beginning of the next can hide it. Every single loss, immediate repeat or swap of neighbours shows.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from relearn.capture.frames import Frames
from relearn.capture.keep import is_answer, is_diagnostic, module_name
from relearn.faults import Fault

SINGLE, FIRST, CONSECUTIVE, FLOW = range(4)  # N_PCI types; the others are reserved
TOO_SHORT = 16  # stands for the type of a frame that has no room for its own N_PCI bytes
OVERFLOW = 2  # the sender stops at this flow status, and at the reserved ones above it
CLASSIC_BYTES, FLOW_BYTES = 8, 3
TWELVE_BIT_LENGTH = 0xFFF
FLOW_FAULTS = {0: None, 1: None, OVERFLOW: "overflow"}  # flow status: go on, wait, …; the others are reserved
N_CR_S = 1.0  # longest wait for the next consecutive frame
CLOCK_S = 1e-6  # captures count microseconds; a wait of exactly N_Cr is allowed
FOLD_OVER = 20  # more like faults of one module than this become one fault with a count

SENTENCES = {
    "lost-frame": "a consecutive frame is missing, so its message was left out",
    "repeated-frame": "a consecutive frame came twice, so its message was left out",
    "out-of-order": "consecutive frames came in the wrong order, so their message was left out",
    "late-frame": "no consecutive frame came within 1000 ms, so the message was left out",
    "interrupted-message": "a new message began before the last one was complete, which was left out",
    "unfinished-message": "the capture ends before the message does, so it was left out",
    "overflow": "the receiver refused the message as too long, so it was left out",
    "reserved-flow-status": "the receiver answered with a reserved flow status, so the message was left out",
    "unexpected-frame": "a consecutive frame belongs to no message and was left out",
    "length-not-allowed": "a frame has a length that ISO 15765-2 does not allow, so its message was left out",
    "reserved-frame-type": "a frame has a type that ISO 15765-2 reserves and was left out",
}

Ints = NDArray[np.int64]
Mask = NDArray[np.bool_]
Trouble = tuple[str, int, int]  # kind, rows of the first and of the last frame concerned


@dataclass(frozen=True, eq=False)
class Messages:
    """Whole diagnostic messages in the order their last frame was seen, as ragged columns.

    time_s: float64, seconds from capture start, of the message's last frame.
    identifier: uint32 as seen on the bus; answer: bool, True when a module sent it, False when a tester did.
    first_frame, last_frame: int64 frame numbers.
    start, length: int64 places of each payload inside `payload` (uint8, all payloads end to end, no padding).
    """

    time_s: NDArray[np.float64]
    identifier: NDArray[np.uint32]
    answer: NDArray[np.bool_]
    first_frame: NDArray[np.int64]
    last_frame: NDArray[np.int64]
    start: NDArray[np.int64]
    length: NDArray[np.int64]
    payload: NDArray[np.uint8]
    faults: tuple[Fault, ...] = ()

    def __len__(self) -> int:
        return len(self.time_s)

    def bytes_at(self, row: int) -> bytes:
        """The payload of one message, service byte first."""
        return self.payload[self.start[row] : self.start[row] + self.length[row]].tobytes()


@dataclass(frozen=True, eq=False)
class _Runs:
    """Frames sorted by stream, then time, and the runs they fall into.

    Per frame: row (in time order), type (N_PCI), stream, run (index), rank (consecutive frames so far),
    carried (bytes of payload, 0 behind the message's end), fits (its length suits that of the first frame).
    Per run: begin (position), size (bytes announced, 0 where not allowed), column (of the first byte), needed
    (consecutive frames).
    """

    frames: Frames
    row: Ints
    type: Ints
    stream: Ints
    run: Ints
    rank: Ints
    carried: Ints
    fits: Mask
    begin: Ints
    size: Ints
    column: Ints
    needed: Ints


def reassemble(frames: Frames) -> Messages:
    """Messages of all diagnostic frames, each (bus, identifier) on its own, both directions, classic and FD.

    A message touched by a fault is never among them; the fault is, with its frame numbers. Flow control is
    understood and is no message; a capture without any (answers only) works. More than 20 faults of one kind
    from one module fold into one. Source: ISO 15765-2.
    """
    seen = frames.take(is_diagnostic(frames.identifier, frames.extended))
    pci = _type(seen)
    runs = _runs(seen, pci)
    whole, broken = _judge(runs, float(seen.time_s[-1]) if len(seen) else 0.0)
    faults = _faults(seen, [*_odd_frames(seen, pci, runs, whole), *broken])
    return _messages(seen, runs, whole, faults)


def _type(seen: Frames) -> Ints:
    pci = (seen.data[:, 0] >> 4).astype(np.int64)
    return np.where(seen.length >= np.where(pci == FLOW, FLOW_BYTES, 1), pci, TOO_SHORT)


def _stream(seen: Frames, pci: Ints) -> Ints:
    """One number per (bus, identifier). Flow control counts to the stream that it controls."""
    identifier = np.where(pci == FLOW, _peer(seen.extended, seen.identifier), seen.identifier)
    return (seen.bus.astype(np.int64) << 30) | (seen.extended.astype(np.int64) << 29) | identifier


def _peer(extended: Mask, identifier: NDArray[np.uint32]) -> NDArray[np.uint32]:
    """The identifier that the other side sends with (ISO 15765-4): 7E0 ↔ 7E8, 18DAxxF1 ↔ 18DAF1xx."""
    swapped = (identifier & 0xFFFF0000) | ((identifier & 0xFF) << 8) | ((identifier >> 8) & 0xFF)
    return np.where(extended, swapped, identifier ^ 8)


def _announced(head: Frames, pci: Ints) -> tuple[Ints, Ints]:
    """Where the payload begins in each single or first frame, and its length (0 where not allowed)."""
    length, low = head.length.astype(np.int64), (head.data[:, 0] & 0xF).astype(np.int64)
    fd = length > CLASSIC_BYTES
    column = np.where(fd, 2, 1)
    size = np.where(fd, np.where(low == 0, head.data[:, 1], 0), low)
    size[(size > length - column) | (pci != SINGLE)] = 0
    first = np.flatnonzero(pci == FIRST)
    column[first], size[first] = _announced_first(head.data[first, :6].astype(np.int64).T, length[first])
    return column, size


def _announced_first(byte: Ints, length: Ints) -> tuple[Ints, Ints]:
    """The same of first frames, of which these are the first bytes, a row for each place, and the lengths."""
    short = ((byte[0] & 0xF) << 8) | byte[1]
    long = (byte[2] << 24) | (byte[3] << 16) | (byte[4] << 8) | byte[5]
    size = np.where(short == 0, long, short)
    # A first frame is for what no single frame of its size holds, the long form for what 12 bits do not hold.
    least = np.where(short == 0, TWELVE_BIT_LENGTH + 1, np.where(length > CLASSIC_BYTES, length - 1, CLASSIC_BYTES))
    return np.where(short == 0, 6, 2), np.where((size >= least) & (length >= CLASSIC_BYTES), size, 0)


def _runs(seen: Frames, pci: Ints) -> _Runs:
    known = np.flatnonzero(pci <= FLOW)
    stream = _stream(seen, pci)
    row = known[np.argsort(stream[known], kind="stable")]
    frames, stream, pci = seen.take(row), stream[row], pci[row]
    opens = (pci <= FIRST) | (np.diff(stream, prepend=-1) != 0)
    begin, run = np.flatnonzero(opens), np.cumsum(opens) - 1
    follows = pci == CONSECUTIVE
    rank = np.cumsum(follows)
    rank -= (rank - follows)[begin][run]
    column, size = _announced(frames.take(begin), pci[begin])
    length = frames.length.astype(np.int64)
    bytes_each = np.maximum(length[begin] - 1, 1)
    in_head = np.minimum(size, bytes_each + 1 - column)
    carried = np.clip((size - in_head)[run] - (rank - 1) * bytes_each[run], 0, bytes_each[run])
    carried = np.where(rank == 0, in_head[run], carried)
    # As long as the first frame; the last one may be shorter if it holds what is left.
    fits = (length > carried) & (length <= length[begin][run])
    return _Runs(
        frames, row, pci, stream, run, rank, carried, fits, begin, size, column, -((in_head - size) // bytes_each)
    )


def _judge(runs: _Runs, end_s: float) -> tuple[Mask, list[Trouble]]:
    """Which runs hold a whole message, and what broke those that began one and do not."""
    low, follows = runs.frames.data[:, 0] & 0xF, runs.type == CONSECUTIVE
    odd = follows & ~(runs.fits & (low == runs.rank & 0xF))
    odd |= (runs.type == FLOW) & (low >= OVERFLOW)
    odd |= _asks_again(runs, low)
    odd |= (runs.type > FIRST) & (np.diff(runs.frames.time_s, prepend=0.0) > N_CR_S + CLOCK_S)
    count = len(runs.begin)
    plain = np.bincount(runs.run, odd, count) == 0
    plain &= np.bincount(runs.run, follows, count) == runs.needed
    whole = (runs.size > 0) & (plain | (runs.type[runs.begin] == SINGLE))
    broken: list[Trouble] = []
    for run in np.flatnonzero((runs.size > 0) & ~whole).tolist():
        found = _examine(runs, run, end_s)
        whole[run] = found is None
        if found is not None:
            broken.append((found[0], int(runs.row[runs.begin[run]]), int(runs.row[found[1]])))
    return whole, broken


def _asks_again(runs: _Runs, low: Ints) -> Mask:
    """A go-on that is not the first of its run: due only behind a block of the size that the one before gave."""
    on: Mask = (runs.type == FLOW) & (low == 0)
    seen = np.cumsum(on)
    before: Ints = (seen - on)[runs.begin][runs.run]
    again: Mask = on & (seen - before > 1)
    return again


def _examine(runs: _Runs, run: int, end_s: float) -> tuple[str, int] | None:
    """The first thing wrong with a run: its kind and the position of the frame that shows it, if any."""
    begin, needed = int(runs.begin[run]), int(runs.needed[run])
    end = int(runs.begin[run + 1]) if run + 1 < len(runs.begin) else len(runs.row)
    for here in range(begin + 1, end):
        whole = runs.rank[here - 1] == needed
        if whole and runs.type[here] == CONSECUTIVE:
            return ("repeated-frame", here) if _number(runs, here) == needed & 0xF else None
        if not whole and (kind := _misstep(runs, begin, here)):
            return kind, here
    if runs.rank[end - 1] == needed:
        return None
    followed = end < len(runs.row) and runs.stream[end] == runs.stream[begin]
    if _waited(runs.frames.time_s[end - 1], runs.frames.time_s[end] if followed else end_s):
        return "late-frame", end - 1
    return ("interrupted-message", end) if followed else ("unfinished-message", end - 1)


def _misstep(runs: _Runs, begin: int, here: int) -> str | None:
    """What is wrong with a frame of the message that begins at `begin`, all before it being right."""
    if _waited(*runs.frames.time_s[here - 1 : here + 1]):
        return "late-frame"
    if runs.type[here] == FLOW:
        if _number(runs, here) == 0 and not _due(runs, begin, here):
            return "interrupted-message"
        return FLOW_FAULTS.get(_number(runs, here), "reserved-flow-status")
    if _number(runs, here) != runs.rank[here] & 0xF:
        return _misnumbered(runs, begin, here)
    return None if runs.fits[here] else "length-not-allowed"


def _due(runs: _Runs, begin: int, here: int) -> bool:
    """Whether a go-on may come here. One too many was sent for another message, whose first frame was lost."""
    gone_on = np.flatnonzero((runs.type[begin:here] == FLOW) & (runs.frames.data[begin:here, 0] & 0xF == 0)) + begin
    if not len(gone_on):
        return True
    block = int(runs.frames.data[gone_on[-1], 1])
    return block > 0 and int(runs.rank[here] - runs.rank[gone_on[-1]]) == block


def _waited(from_s: float, to_s: float) -> bool:
    """Longer than N_Cr. The receiver's clock starts anew with each consecutive frame and flow control."""
    return bool(to_s - from_s > N_CR_S + CLOCK_S)


def _number(runs: _Runs, position: int) -> int:
    """The sequence number of a consecutive frame, the status of a flow control."""
    return int(runs.frames.data[position, 0] & 0xF)


def _misnumbered(runs: _Runs, begin: int, here: int) -> str:
    """Why a consecutive frame does not bear the number that was due."""
    mine = np.flatnonzero(runs.type[begin : here + 16] == CONSECUTIVE) + begin
    mine = mine[runs.run[mine] == runs.run[begin]]
    past, data = mine[mine < here][-15:], runs.frames.data
    if (data[past] == data[here]).all(axis=1).any() or (data[past[-1:], 0] == data[here, 0]).any():
        return "repeated-frame"
    # The number that was due comes round again by itself once the rest of the sixteen have passed.
    due, got = int(runs.rank[here]), _number(runs, here)
    soon = mine[mine > here][: 15 - ((got - due) & 0xF)]
    return "out-of-order" if due & 0xF in (data[soon, 0] & 0xF) else "lost-frame"


def _odd_frames(seen: Frames, pci: Ints, runs: _Runs, whole: Mask) -> Iterator[Trouble]:
    """Frames that are faults by themselves. Those behind the break in a broken message are not told again."""
    astray = (runs.size == 0)[runs.run] | (whole[runs.run] & (runs.rank > runs.needed[runs.run]))
    bad_head = (runs.size == 0) & (runs.type[runs.begin] <= FIRST)
    for kind, rows in (
        ("unexpected-frame", runs.row[astray & (runs.type == CONSECUTIVE)]),
        ("length-not-allowed", runs.row[runs.begin[bad_head]]),
        ("length-not-allowed", np.flatnonzero(pci == TOO_SHORT)),
        ("reserved-frame-type", np.flatnonzero((pci > FLOW) & (pci != TOO_SHORT))),
    ):
        yield from ((kind, row, row) for row in rows.tolist())


def _faults(seen: Frames, troubles: Iterable[Trouble]) -> tuple[Fault, ...]:
    """One fault each, or one for all of a kind and module where there are many, in time order."""
    groups: dict[tuple[str, int], list[tuple[int, int]]] = defaultdict(list)
    for kind, first, last in troubles:
        groups[kind, int(seen.identifier[first])].append((first, last))
    found: list[Fault] = []
    for (kind, identifier), spans in groups.items():
        count = len(spans) if len(spans) > FOLD_OVER else 1
        told = spans if count == 1 else [(min(first for first, _ in spans), max(last for _, last in spans))]
        found += [_fault(seen, kind, module_name(identifier), *span, count) for span in told]
    return tuple(sorted(found, key=lambda fault: fault.first_frame or 0))


def _fault(seen: Frames, kind: str, module: str, first: int, last: int, count: int) -> Fault:
    numbers = int(seen.number[first]), int(seen.number[last])
    place = f"frame {numbers[0]}" if first == last else f"frames {numbers[0]} to {numbers[1]}"
    times = f"{count} times, " if count > 1 else ""
    return Fault(
        kind, f"{module}: {SENTENCES[kind]} ({times}{place}).", module, float(seen.time_s[first]), *numbers, count
    )


def _messages(seen: Frames, runs: _Runs, whole: Mask, faults: tuple[Fault, ...]) -> Messages:
    """The payloads of the whole runs, gathered at once: a piece per frame, by message, then frame."""
    piece = np.flatnonzero(whole[runs.run] & (runs.type != FLOW) & (runs.rank <= runs.needed[runs.run]))
    final = piece[runs.rank[piece] == runs.needed[runs.run[piece]]]
    final = final[np.argsort(runs.row[final], kind="stable")]
    order = np.empty(len(runs.begin), np.int64)
    order[runs.run[final]] = np.arange(len(final))
    piece = piece[np.argsort(order[runs.run[piece]], kind="stable")]  # the frames of a run are in order of time
    count = runs.carried[piece]
    column = np.where(runs.rank[piece] == 0, runs.column[runs.run[piece]], 1)
    at = piece * seen.data.shape[1] + column - (np.cumsum(count) - count)
    payload = runs.frames.data.reshape(-1)[np.repeat(at, count) + np.arange(count.sum())]
    chosen = runs.run[final]
    head, tail, size = runs.row[runs.begin[chosen]], runs.row[final], runs.size[chosen]
    return Messages(
        seen.time_s[tail],
        seen.identifier[tail],
        is_answer(seen.identifier[tail], seen.extended[tail]),
        seen.number[head],
        seen.number[tail],
        np.cumsum(size) - size,
        size,
        payload,
        faults,
    )
