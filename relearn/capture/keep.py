"""Which frames of a busy bus are worth keeping: the diagnostic ones of ISO 15765-4, and any a database asks for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FUNCTIONAL_11 = 0x7DF
REQUESTS_11 = range(0x7E0, 0x7E8)
ANSWERS_11 = range(0x7E8, 0x7F0)
FUNCTIONAL_29 = 0x18DB33F1
REQUESTS_29 = 0x18DA00F1  # 18DA<module>F1
ANSWERS_29 = 0x18DAF100  # 18DAF1<module>
USUAL_ENGINE = (0x7E8, 0x18DAF110)  # where ISO 15765-4 recommends the engine module to answer


@dataclass(frozen=True)
class Keep:
    """What a reader keeps: diagnostic frames always, and these broadcast identifiers (11-bit, 29-bit) besides."""

    broadcast_11: frozenset[int] = frozenset()
    broadcast_29: frozenset[int] = frozenset()

    def mask(self, identifier: NDArray[np.uint32], extended: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """True for each frame to keep."""
        kept = is_diagnostic(identifier, extended)
        if self.broadcast_11:
            kept |= ~extended & np.isin(identifier, sorted(self.broadcast_11))
        if self.broadcast_29:
            kept |= extended & np.isin(identifier, sorted(self.broadcast_29))
        return kept


def is_diagnostic(identifier: NDArray[np.uint32], extended: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """True for ISO 15765-4 requests and answers: 7DF, 7E0–7EF; 18DB33F1, 18DAxxF1, 18DAF1xx."""
    return is_request(identifier, extended) | is_answer(identifier, extended)


def is_request(identifier: NDArray[np.uint32], extended: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """True for frames a tester sends: 7DF, 7E0–7E7; 18DB33F1, 18DAxxF1."""
    eleven = (identifier == FUNCTIONAL_11) | ((identifier >= REQUESTS_11.start) & (identifier < REQUESTS_11.stop))
    twenty_nine = (identifier == FUNCTIONAL_29) | ((identifier & 0xFFFF00FF) == REQUESTS_29)
    return np.asarray(np.where(extended, twenty_nine, eleven), np.bool_)


def is_answer(identifier: NDArray[np.uint32], extended: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """True for frames a module sends: 7E8–7EF; 18DAF1xx."""
    eleven = (identifier >= ANSWERS_11.start) & (identifier < ANSWERS_11.stop)
    return np.asarray(np.where(extended, (identifier & 0xFFFFFF00) == ANSWERS_29, eleven), np.bool_)


def module_name(identifier: int) -> str:
    """How a module is called everywhere: its answer identifier in hex, '7E8' or '18DAF110'."""
    return f"{identifier:X}"


KEEP_DIAGNOSTIC = Keep()
