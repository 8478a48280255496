"""Messages from literal bytes, one frame each, one second apart, for the tests of this room."""

from __future__ import annotations

import numpy as np

from relearn.isotp import Messages

FUNCTIONAL = 0x7DF


def messages(*given: tuple[int, str | bytes]) -> Messages:
    """(identifier, payload as hex or bytes) each; 7DF is a request, everything else an answer."""
    payloads = [bytes.fromhex(payload) if isinstance(payload, str) else payload for _, payload in given]
    identifier = np.array([one for one, _ in given], np.uint32)
    length = np.array([len(payload) for payload in payloads], np.int64)
    number = np.arange(1, len(given) + 1, dtype=np.int64)
    return Messages(
        time_s=number - 1.0,
        identifier=identifier,
        answer=identifier != FUNCTIONAL,
        first_frame=number,
        last_frame=number,
        start=np.cumsum(length) - length,
        length=length,
        payload=np.frombuffer(b"".join(payloads), np.uint8),
    )


def engine(*payloads: str | bytes) -> Messages:
    """Answers of module 7E8."""
    return messages(*((0x7E8, payload) for payload in payloads))
