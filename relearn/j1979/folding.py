"""Many like answers become one record: samples a series, unread bytes a raw parameter, trouble a fault."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from relearn.capture.keep import module_name
from relearn.faults import Fault
from relearn.isotp import Messages
from relearn.j1979.decode import decode_rows
from relearn.j1979.records import MASKS, RawParameter, Support
from relearn.j1979.series import Series
from relearn.j1979.split import Pieces, data_of
from relearn.j1979.table import parameters

SHOWN = 32  # hexadecimal digits of an answer that fit a sentence


def groups(messages: Messages, pieces: Pieces) -> Iterator[tuple[str, int, Pieces]]:
    """(module, identifier, pieces) for each module and identifier, every group in message order."""
    module = messages.identifier[pieces.row].astype(np.int64)
    order = np.lexsort((pieces.row, pieces.identifier, module))
    module, pieces = module[order], pieces.take(order)
    changes = np.flatnonzero((np.diff(module) != 0) | (np.diff(pieces.identifier) != 0)) + 1
    for part in np.split(np.arange(len(pieces)), changes):
        if len(part):
            yield module_name(int(module[part[0]])), int(pieces.identifier[part[0]]), pieces.take(part)


def series(messages: Messages, samples: Pieces) -> tuple[Series, ...]:
    """One series per module and signal. Support masks are not measured over time and make none."""
    made = []
    for module, pid, pieces in groups(messages, samples.take(~np.isin(samples.identifier, sorted(MASKS)))):
        parameter = parameters()[pid]
        time_s, frame = messages.time_s[pieces.row], messages.last_frame[pieces.row]
        for signal, value, carried in decode_rows(parameter, data_of(messages, pieces.at, parameter.length)):
            if carried.any():
                made.append(Series(module, signal, time_s[carried], value[carried], frame[carried]))
    return tuple(made)


def support(messages: Messages, samples: Pieces) -> dict[str, Support]:
    """What each module says it has: the newest answer to each support mask."""
    said: dict[str, Support] = {}
    for module, base, pieces in groups(messages, samples.take(np.isin(samples.identifier, sorted(MASKS)))):
        bits = np.unpackbits(data_of(messages, pieces.at[-1:], 4)[0])
        before = said.get(module, Support(frozenset(), frozenset()))
        said[module] = Support(
            before.asked | {base}, before.supported | {base + 1 + int(bit) for bit in np.flatnonzero(bits)}
        )
    return said


def raw_parameters(messages: Messages, service: int, pieces: Pieces) -> tuple[RawParameter, ...]:
    """Pieces that nobody can read, one record per module and identifier, with bytes to the answer's end."""
    return tuple(
        RawParameter(
            module,
            service,
            identifier,
            len(part),
            _rest_hex(messages, part, 0),
            _rest_hex(messages, part, -1),
            *_frames(messages, part),
        )
        for module, identifier, part in groups(messages, pieces)
    )


def faults(messages: Messages, kind: str, pieces: Pieces, say: Callable[[str, int, str], str]) -> tuple[Fault, ...]:
    """One counted fault per module and identifier. say: (module, identifier, first bytes) → sentence."""
    return tuple(
        Fault(
            kind,
            say(module, identifier, _short(_rest_hex(messages, part, 0))),
            module,
            float(messages.time_s[part.row[0]]),
            *_frames(messages, part),
            len(part),
        )
        for module, identifier, part in groups(messages, pieces)
    )


def _frames(messages: Messages, pieces: Pieces) -> tuple[int, int]:
    """First frame of the first message, last frame of the last."""
    return int(messages.first_frame[pieces.row[0]]), int(messages.last_frame[pieces.row[-1]])


def _short(data: str) -> str:
    return data if len(data) <= SHOWN else f"{data[:SHOWN]}…"


def _rest_hex(messages: Messages, pieces: Pieces, which: int) -> str:
    row, at = pieces.row[which], pieces.at[which]
    end = messages.start[row] + messages.length[row]
    return messages.payload[at:end].tobytes().hex().upper()
