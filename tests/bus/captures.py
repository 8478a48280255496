"""Demo captures read by hand: who asked what when, and what was answered before the next question."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

CAPTURES = Path(__file__).parents[2] / "captures"
ASKED = sorted(path.name for path in CAPTURES.glob("*.log") if path.name != "passive-broadcast.log")
TESTERS = {0x7DF, *range(0x7E0, 0x7E8)}


@dataclass
class Turn:
    """One question and the payloads that each module answered to it, in order."""

    time_s: float
    identifier: int
    data: bytes
    answers: dict[int, list[bytes]] = field(default_factory=dict)

    @property
    def payload(self) -> bytes:
        return self.data[1 : 1 + self.data[0]]


def lines(name: str) -> Iterator[tuple[float, int, bytes]]:
    """Seconds from the first frame, identifier and data of every frame."""
    start_us = None
    for line in (CAPTURES / name).read_text(encoding="ascii").splitlines():
        stamp, _, frame = line.split()
        time_us = int(stamp[1:-1].replace(".", ""))
        start_us = time_us if start_us is None else start_us
        identifier, data = frame.split("#")
        yield (time_us - start_us) / 1e6, int(identifier, 16), bytes.fromhex(data)


def turns(name: str) -> list[Turn]:
    """Every question of a capture with its whole answers (ISO 15765-2, put together by hand)."""
    found: list[Turn] = []
    open_: dict[int, tuple[int, bytes]] = {}
    for time_s, identifier, data in lines(name):
        tester = identifier in TESTERS or identifier >> 8 == 0x18DB33 or (identifier & 0xFFFF00FF) == 0x18DA00F1
        if tester and data[0] >> 4 == 0:
            found.append(Turn(time_s, identifier, data))
            open_.clear()
        elif not tester:
            answers = found[-1].answers.setdefault(identifier, [])
            if data[0] >> 4 == 0:
                answers.append(data[1 : 1 + data[0]])
            elif data[0] >> 4 == 1:
                open_[identifier] = (int.from_bytes(data[:2], "big") & 0xFFF, data[2:])
            elif data[0] & 0xF == (len(open_.get(identifier, (0, b""))[1]) - 6) // 7 + 1 & 0xF:
                length, gathered = open_[identifier]
                open_[identifier] = (length, gathered + data[1:])
                if len(gathered) + 7 >= length:
                    answers.append((gathered + data[1:])[:length])
    return found


def by_module(said: list[tuple[int, bytes]]) -> dict[int, list[bytes]]:
    """Payloads in order, by module."""
    found: dict[int, list[bytes]] = defaultdict(list)
    for identifier, payload in said:
        found[identifier].append(payload)
    return dict(found)
