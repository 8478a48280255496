"""How the answer to each service is read: one function per service byte, all of one shape."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial

import numpy as np

from relearn.capture.keep import module_name
from relearn.faults import Fault
from relearn.isotp import Messages
from relearn.j1979 import folding, identity, refusals
from relearn.j1979.codes import trouble_codes
from relearn.j1979.found import Found, first_identifiers, stops, wrong_lengths
from relearn.j1979.freeze import freeze_frames
from relearn.j1979.identifiers import data_by_identifier
from relearn.j1979.records import MASKS, CodeKind, Codes, Identity, Refusal
from relearn.j1979.split import Ints, Layout, split

Reader = Callable[[Messages, Ints], Found]
MASK_LENGTH = 6  # service, infotype and four bytes of mask
ANSWERED = 0x40  # an answer's service byte is the request's plus this
PLAIN = Layout(1)
FROZEN = Layout(1, behind=1)


def current_data(messages: Messages, rows: Ints) -> Found:
    """Service 01: one parameter or several in one answer."""
    samples, unknown, wrong = split(messages, rows, messages.start[rows] + 1, PLAIN)
    return Found(
        samples,
        folding.raw_parameters(messages, 0x01, unknown),
        faults=wrong_lengths(messages, 0x01, wrong, PLAIN) + stops(messages, 0x01, unknown, PLAIN),
    )


def freeze_frame_data(messages: Messages, rows: Ints) -> Found:
    """Service 02: parameters of a stored frame. They never join the live samples."""
    samples, unknown, wrong = split(messages, rows, messages.start[rows] + 1, FROZEN)
    return Found(
        raw=folding.raw_parameters(messages, 0x02, unknown),
        freeze_frames=freeze_frames(messages, samples),
        faults=wrong_lengths(messages, 0x02, wrong, PLAIN) + stops(messages, 0x02, unknown, FROZEN),
    )


def codes(kind: CodeKind, messages: Messages, rows: Ints) -> Found:
    """Services 03, 07 and 0A: trouble codes with their count.

    An odd answer without a code in it does not say that there are none: it is a fault and nothing else.
    """
    said, faults = [], []
    for row in rows:
        module, time_s, frame = _sent(messages, row)
        found, trouble = trouble_codes(messages.bytes_at(row)[1:])
        if found or trouble is None:
            said.append(Codes(module, kind, found, time_s, frame))
        if trouble is not None:
            text = f"{module} answered the request for {kind} codes oddly: {trouble}."
            faults.append(Fault("code-count", text, module, time_s, int(messages.first_frame[row]), frame))
    return Found(codes=tuple(said), faults=tuple(faults))


def vehicle_information(messages: Messages, rows: Ints) -> Found:
    """Service 09: identifications as texts; other infotypes raw, as is one whose length fits no reading. A mask of the
    infotypes a module has is understood and carries nothing that is judged."""
    every = first_identifiers(messages, rows, PLAIN.width)
    masks = np.isin(every.identifier, list(MASKS)) & (messages.length[rows] == MASK_LENGTH)
    named, rows = every.take(~masks), rows[~masks]
    said = [_identity(messages, row, infotype) for row, infotype in zip(rows, named.identifier, strict=True)]
    unread = named.take(np.array([one is None for one in said], np.bool_))
    wrong = unread.row[np.isin(unread.identifier, [-1, *identity.INFOTYPES])]
    return Found(
        raw=folding.raw_parameters(messages, 0x09, unread),
        identity=tuple(one for one in said if one is not None),
        faults=wrong_lengths(messages, 0x09, wrong, PLAIN),
    )


def refused(messages: Messages, rows: Ints) -> Found:
    """7F: refusals, one record per module, service and reason; 'response pending' is only counted."""
    whole = rows[messages.length[rows] == 3]
    pairs = first_identifiers(messages, whole, 2)
    pending = pairs.identifier & 0xFF == refusals.PENDING
    made = []
    for module, pair, part in folding.groups(messages, pairs.take(~pending)):
        first = part.row[0]
        made.append(
            Refusal(
                module,
                pair >> 8,
                pair & 0xFF,
                refusals.meaning(pair & 0xFF),
                len(part),
                float(messages.time_s[first]),
                int(messages.first_frame[first]),
            )
        )
    return Found(
        refusals=tuple(made),
        pending_count=int(pending.sum()),
        faults=wrong_lengths(messages, 0x7F, rows[messages.length[rows] != 3], PLAIN),
    )


def unknown_service(messages: Messages, rows: Ints) -> Found:
    """An answer that no reader here understands: kept raw, under the service that was asked."""
    service = int(messages.payload[messages.start[rows[0]]])
    named = first_identifiers(messages, rows, PLAIN.width)
    return Found(raw=folding.raw_parameters(messages, service & ~ANSWERED, named))


READERS: Mapping[int, Reader] = {
    0x41: current_data,
    0x42: freeze_frame_data,
    0x43: partial(codes, "stored"),
    0x47: partial(codes, "pending"),
    0x49: vehicle_information,
    0x4A: partial(codes, "permanent"),
    0x62: data_by_identifier,
    0x7F: refused,
}


def _identity(messages: Messages, row: int, infotype: int) -> Identity | None:
    kind = identity.INFOTYPES.get(infotype)
    values = None if kind is None else identity.counted(kind, messages.bytes_at(row)[2:])
    if kind is None or values is None:
        return None
    module, time_s, frame = _sent(messages, row)
    return Identity(module, kind.item, values, time_s, frame)


def _sent(messages: Messages, row: int) -> tuple[str, float, int]:
    """Who sent this message, when, and in which frame it ended."""
    module = module_name(int(messages.identifier[row]))
    return module, float(messages.time_s[row]), int(messages.last_frame[row])
