"""Where each parameter lies inside the answers: all are walked at once, one parameter further each step."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from relearn.isotp import Messages
from relearn.j1979.records import MASKS
from relearn.j1979.table import parameters

Ints = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Pieces:
    """Parts of messages, one row each: which message, the identifier, where in the payload its data is."""

    row: Ints
    identifier: Ints
    at: Ints

    def __len__(self) -> int:
        return len(self.row)

    def take(self, which: NDArray[np.bool_] | Ints) -> Pieces:
        return Pieces(self.row[which], self.identifier[which], self.at[which])


@dataclass(frozen=True)
class Layout:
    """How identifiers are written in an answer.

    width: bytes of each. base: the identifier of parameter 00. behind: bytes between an identifier and its data
    (a freeze frame's number).
    """

    width: int
    base: int = 0
    behind: int = 0


def joined(parts: list[Pieces]) -> Pieces:
    """Pieces end to end."""
    none = [np.empty(0, np.int64)]
    return Pieces(
        np.concatenate(none + [part.row for part in parts]),
        np.concatenate(none + [part.identifier for part in parts]),
        np.concatenate(none + [part.at for part in parts]),
    )


def split(messages: Messages, rows: Ints, at: Ints, layout: Layout) -> tuple[Pieces, Pieces, Ints]:
    """Parameters of these messages from these payload positions on: (known, unknown, rows of a wrong length).

    A known piece's data is all there. The first identifier without a length in the table stops its message:
    it is in `unknown`, what stood before it in `known`. A message whose last parameter is cut short, or that
    puts a support mask behind other data (the standard keeps them apart, so it is padding), has a wrong
    length and gives no pieces at all.
    """
    known: list[Pieces] = []
    unknown: list[Pieces] = []
    wrong: list[Ints] = []
    after_data = np.zeros(len(rows), np.bool_)
    while len(rows):
        identifier, room = _identifiers(messages, rows, at, layout)
        pid = identifier - layout.base
        need = np.where((pid >= 0) & (pid < 256), _lengths()[pid & 0xFF], 0)
        is_mask = np.isin(pid, sorted(MASKS))
        cut = (room < 1) | (room < need) | (is_mask & after_data & (need > 0))
        stop = ~cut & (need == 0)
        pieces = Pieces(rows, identifier, at + layout.width + layout.behind)
        wrong.append(rows[cut])
        unknown.append(pieces.take(stop))
        known.append(pieces.take(~cut & ~stop))
        going = ~cut & ~stop & (room > need)
        rows, at, after_data = rows[going], (pieces.at + need)[going], ~is_mask[going]
    bad = np.concatenate([np.empty(0, np.int64), *wrong])
    whole = joined(known)
    return whole.take(~np.isin(whole.row, bad)), joined(unknown), bad


def data_of(messages: Messages, at: Ints, length: int) -> NDArray[np.uint8]:
    """The data bytes at each position, shape (n, length)."""
    data: NDArray[np.uint8] = messages.payload[at[:, None] + np.arange(length)]
    return data


def _identifiers(messages: Messages, rows: Ints, at: Ints, layout: Layout) -> tuple[Ints, Ints]:
    """The identifier at each position, and how many bytes its message has behind it (below 1: none)."""
    room = messages.start[rows] + messages.length[rows] - at - layout.width - layout.behind
    value = np.zeros(len(rows), np.int64)
    for byte in range(layout.width):
        value = (value << 8) | messages.payload[np.minimum(at + byte, len(messages.payload) - 1)]
    return value, room


@cache
def _lengths() -> Ints:
    """Data bytes of each parameter 00–FF, 0 where the table has no row."""
    lengths = np.zeros(256, np.int64)
    for pid, parameter in parameters().items():
        lengths[pid] = parameter.length
    return lengths
