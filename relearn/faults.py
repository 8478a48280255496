"""Things wrong inside a usable capture. They are kept as data beside what was read, never raised, never dropped."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Fault:
    """One thing wrong in a capture.

    kind: a short fixed word, e.g. 'malformed-line', 'lost-frame', 'unknown-parameter'.
    text: one plain sentence for a person.
    time_s: seconds from the capture's start, None when the place has no time.
    first_frame, last_frame: 1-based frame numbers as in Frames.number (a text file's line numbers), None when unknown.
    count: how many like it are folded into this one.
    """

    kind: str
    text: str
    module: str | None = None
    time_s: float | None = None
    first_frame: int | None = None
    last_frame: int | None = None
    count: int = 1
