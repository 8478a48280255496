"""Service 22 of SAE J1979-2: parameters as identifiers F4xx, infotypes as F8xx, several in one answer."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from relearn.capture.keep import module_name
from relearn.isotp import Messages
from relearn.j1979 import folding, identity
from relearn.j1979.found import Found, stops, wrong_lengths
from relearn.j1979.records import Identity
from relearn.j1979.split import Ints, Layout, Pieces, joined, split

SERVICE = 0x22
LAYOUT = Layout(2, base=0xF400)
IDENTIFICATIONS = {0xF800 + infotype: kind for infotype, kind in identity.INFOTYPES.items()}


@dataclass(frozen=True)
class Read:
    """One identification inside an answer, and the payload position behind it."""

    row: int
    said: Identity
    behind: int


def data_by_identifier(messages: Messages, rows: Ints) -> Found:
    """Walk the parameters; where an identification stands in the way, read it and walk on behind it.

    An identification that cannot be read makes its answer one of a wrong length, and is kept raw besides.
    """
    at, known, unread, read = messages.start[rows] + 1, [], [], []
    wrong = np.empty(0, np.int64)
    while len(rows):
        samples, unknown, cut = split(messages, rows, at, LAYOUT)
        named = np.isin(unknown.identifier, list(IDENTIFICATIONS))
        met, unclear = _identifications(messages, unknown.take(named))
        known.append(samples)
        unread += [unknown.take(~named), unclear]
        wrong = np.concatenate([wrong, cut, unclear.row])
        read += met
        rows, at = _left(messages, met)
    return _found(messages, joined(known), joined(unread), wrong, read)


def _identifications(messages: Messages, pieces: Pieces) -> tuple[list[Read], Pieces]:
    """Those that can be read, and the pieces of those that cannot."""
    read = [
        _identification(messages, int(row), IDENTIFICATIONS[int(identifier)], int(at))
        for row, identifier, at in zip(pieces.row, pieces.identifier, pieces.at, strict=True)
    ]
    unclear = np.array([one is None for one in read], np.bool_)
    return [one for one in read if one is not None], pieces.take(unclear)


def _identification(messages: Messages, row: int, kind: identity.Infotype, at: int) -> Read | None:
    data = messages.payload[at : _end(messages, row)].tobytes()
    length = identity.extent(kind, data)
    values = None if length is None else identity.entries(kind, data[:length])
    if length is None or values is None:
        return None
    module, time_s = module_name(int(messages.identifier[row])), float(messages.time_s[row])
    return Read(row, Identity(module, kind.item, values, time_s, int(messages.last_frame[row])), at + length)


def _left(messages: Messages, read: list[Read]) -> tuple[Ints, Ints]:
    """Messages with something left behind their identification, and where."""
    going = [one for one in read if one.behind < _end(messages, one.row)]
    return (np.array([one.row for one in going], np.int64), np.array([one.behind for one in going], np.int64))


def _end(messages: Messages, row: int) -> int:
    return int(messages.start[row] + messages.length[row])


def _found(messages: Messages, samples: Pieces, unread: Pieces, wrong: Ints, read: list[Read]) -> Found:
    """Everything met, less what stands in answers of a wrong length."""
    bad = set(wrong.tolist())
    samples = samples.take(~np.isin(samples.row, wrong))
    unknown = unread.take(~np.isin(unread.row, wrong))
    return Found(
        Pieces(samples.row, samples.identifier - LAYOUT.base, samples.at),
        folding.raw_parameters(messages, SERVICE, unread),
        identity=tuple(one.said for one in read if one.row not in bad),
        faults=wrong_lengths(messages, SERVICE, wrong, LAYOUT) + stops(messages, SERVICE, unknown, LAYOUT),
    )
