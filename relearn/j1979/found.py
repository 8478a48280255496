"""What the answers to one service held, and the sentences for what could not be read of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from relearn.faults import Fault
from relearn.isotp import Messages
from relearn.j1979 import folding
from relearn.j1979.records import Codes, FreezeFrame, Identity, RawParameter, Refusal
from relearn.j1979.split import Ints, Layout, Pieces, joined

NONE = joined([])


@dataclass(frozen=True, eq=False)
class Found:
    """The answers to one service, read. samples: live parameters, with identifiers as in the table."""

    samples: Pieces = NONE
    raw: tuple[RawParameter, ...] = ()
    identity: tuple[Identity, ...] = ()
    codes: tuple[Codes, ...] = ()
    refusals: tuple[Refusal, ...] = ()
    freeze_frames: tuple[FreezeFrame, ...] = ()
    pending_count: int = 0
    faults: tuple[Fault, ...] = ()


def wrong_lengths(messages: Messages, service: int, rows: Ints, layout: Layout) -> tuple[Fault, ...]:
    """Answers whose length does not fit what they carry, told apart by their first identifier."""

    def say(module: str, identifier: int, data: str) -> str:
        named = f"{identifier:0{2 * layout.width}X}" if identifier >= 0 else "nothing"
        return (
            f"{module} answered service {service:02X} with {named} and a length that does not fit "
            f"({data}); no value was taken from it."
        )

    return folding.faults(messages, "wrong-length", first_identifiers(messages, rows, layout.width), say)


def stops(messages: Messages, service: int, unknown: Pieces, layout: Layout) -> tuple[Fault, ...]:
    """Answers with several parameters whose reading stopped at an unknown one."""

    def say(module: str, identifier: int, data: str) -> str:
        named = f"{identifier:0{2 * layout.width}X}"
        return (
            f"{module} answered service {service:02X} with several parameters, and {named} among them "
            f"is not in the table; it and what follows it were left unread ({data})."
        )

    first = messages.start[unknown.row] + 1 + layout.width + layout.behind
    return folding.faults(messages, "unknown-parameter", unknown.take(unknown.at > first), say)


def first_identifiers(messages: Messages, rows: Ints, width: int) -> Pieces:
    """Whole messages as pieces, named by the identifier behind the service byte; -1 where there is none."""
    identifier = np.zeros(len(rows), np.int64)
    for byte in range(1, width + 1):
        place = np.minimum(messages.start[rows] + byte, len(messages.payload) - 1)
        identifier = (identifier << 8) | messages.payload[place]
    whole = messages.length[rows] > width
    return Pieces(
        rows, np.where(whole, identifier, -1), messages.start[rows] + np.minimum(messages.length[rows], width + 1)
    )
