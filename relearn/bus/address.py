"""Where a diagnostic question goes and under which identifier a module answers: ISO 15765-4, 11 and 29 bits."""

from __future__ import annotations

from dataclasses import dataclass

from relearn.capture.keep import ANSWERS_11, ANSWERS_29, FUNCTIONAL_11, FUNCTIONAL_29, REQUESTS_11, REQUESTS_29
from relearn.errors import BusError

MODULES_29 = range(0x100)


def is_tester(identifier: int, extended: bool) -> bool:
    """An identifier that a tester sends under (ISO 15765-4)."""
    if extended:
        return identifier == FUNCTIONAL_29 or identifier in (REQUESTS_29 | one << 8 for one in MODULES_29)
    return identifier == FUNCTIONAL_11 or identifier in REQUESTS_11


def is_module(identifier: int, extended: bool) -> bool:
    """An identifier that a module answers under (ISO 15765-4)."""
    return identifier - ANSWERS_29 in MODULES_29 if extended else identifier in ANSWERS_11


def hex_of(identifier: object) -> str:
    """An identifier for a sentence, whatever somebody took for one."""
    return f"{identifier:X}" if isinstance(identifier, int) else repr(identifier)


def not_said(what: str) -> BusError:
    """The refusal of a sentence that must not be said on a bus."""
    return BusError(what, remedy="relearn says nothing on a bus but reading questions and what belongs to them")


@dataclass(frozen=True)
class Address:
    """Where a question goes: 7DF or 18DB33F1 to all modules, 7E0 to 7E7 or 18DAxxF1 to one. Any other is a BusError."""

    identifier: int
    extended: bool = False

    def __post_init__(self) -> None:
        if type(self.identifier) is not int or not is_tester(self.identifier, self.extended):
            raise not_said(f"{hex_of(self.identifier)} is no identifier that ISO 15765-4 gives to a tester")

    @property
    def everyone(self) -> bool:
        """Goes to all modules."""
        return self.identifier in (FUNCTIONAL_11, FUNCTIONAL_29)

    @property
    def answers(self) -> int | None:
        """The identifier that the one module answers under; None where all are asked."""
        if self.everyone:
            return None
        return ANSWERS_29 | (self.identifier >> 8 & 0xFF) if self.extended else self.identifier + 8

    @classmethod
    def of_module(cls, answers: int, extended: bool) -> Address:
        """Where the module that answers under this identifier is asked alone."""
        return cls(REQUESTS_29 | (answers & 0xFF) << 8 if extended else answers - 8, extended)


ALL_11, ALL_29 = Address(FUNCTIONAL_11), Address(FUNCTIONAL_29, extended=True)
