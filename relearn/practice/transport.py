"""ISO 15765-4 as it lies on the bus: which identifiers a scenario's questions and answers travel under."""

from __future__ import annotations

from dataclasses import dataclass

from relearn.capture.keep import ANSWERS_11, ANSWERS_29, FUNCTIONAL_11, FUNCTIONAL_29, REQUESTS_11, REQUESTS_29
from relearn.practice.scenario import Module


@dataclass(frozen=True, order=True)
class Sent:
    """One frame on the bus, in microseconds from the start. Ordered by time."""

    time_us: int
    identifier: int
    extended: bool
    data: bytes


def functional(extended: bool) -> int:
    """The identifier that asks every module."""
    return FUNCTIONAL_29 if extended else FUNCTIONAL_11


def request_to(module: Module, extended: bool) -> int:
    """The identifier that asks one module."""
    return REQUESTS_29 | module.address << 8 if extended else REQUESTS_11[module.number]


def answer_of(module: Module, extended: bool) -> int:
    """The identifier under which it answers."""
    return ANSWERS_29 | module.address if extended else ANSWERS_11[module.number]
