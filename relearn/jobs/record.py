"""The record of a job: one JSON line for each thing that happened, each holding the hash of the line before.

A line is never changed and never removed. `record.head` says how many lines there are and what the last one hashes to;
it is written after the line, so a line beyond it is one whose command was stopped. Nobody without a secret can keep a
person from writing the whole record anew; the job book remembers the head too, and `verify` compares.
"""

from __future__ import annotations

import hashlib
from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import AfterValidator, AwareDatetime, BaseModel, ConfigDict, Field, ValidationError

from relearn.findings.base import Answer

FILE, HEAD, LOCK = "record.jsonl", "record.head", "record.lock"
NOTHING_BEFORE = "0" * 64

Hash = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]


def is_inside(name: str) -> bool:
    """A file's path inside the job folder, with forward slashes; never out of it."""
    return not set(name) & set("\\:\0") and all(part not in ("", ".", "..") for part in name.split("/"))


def _name(given: str) -> str:
    if not is_inside(given):
        raise ValueError("is no path inside the job folder")
    return given


Name = Annotated[str, AfterValidator(_name)]
Role = Literal["before", "write", "ready", "steps", "after"]


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Item(_Part):
    """Something to be seen by eye."""

    id: str
    text: str


class Answered(_Part):
    """What one check said when the capture was added."""

    kind: str
    verdict: Answer
    reason: str


class Started(_Part):
    """The job begins. job: its own identifier. texts: its files as they were written, by name."""

    kind: Literal["start"] = "start"
    job: str
    version: str
    texts: Mapping[Name, str]


class Edited(_Part):
    """Somebody changed job.toml or the sheet by hand; found and written down by the next command."""

    kind: Literal["edit"] = "edit"
    texts: Mapping[Name, str]


class Added(_Part):
    """A capture came in. verdict: of all its answers, None where nothing was asked of it. original: the name it had.

    by_eye: what readiness left to the eye. anyway: the reason for going on against `refused`.
    """

    kind: Literal["add"] = "add"
    role: Role
    relearn: str | None = None
    file: Name
    original: str
    recorded: str | None = None
    verdict: Answer | None = None
    answers: tuple[Answered, ...] = ()
    vin: str | None = None
    calibrations: tuple[str, ...] = ()
    by_eye: tuple[Item, ...] = ()
    by: str = ""
    refused: tuple[str, ...] = ()
    anyway: str | None = None
    version: str


class Confirmed(_Part):
    """Somebody saw it: an item of the plan, or a relearn as a whole."""

    kind: Literal["confirm"] = "confirm"
    item: str
    by: str
    note: str = ""
    refused: tuple[str, ...] = ()
    anyway: str | None = None


What = Annotated[Started | Edited | Added | Confirmed, Field(discriminator="kind")]


class Line(_Part):
    """One line. before: SHA-256 of the line before without its newline. files: SHA-256 of the files it speaks of."""

    number: Annotated[int, Field(ge=1)]
    time: AwareDatetime
    before: Hash
    files: Mapping[Name, Hash] = Field(default_factory=dict)
    what: What


class Head(_Part):
    """How far the record goes: the number of lines, and the hash of the last."""

    lines: Annotated[int, Field(ge=1)]
    last: Hash


@dataclass(frozen=True)
class Raw:
    """The bytes of record.jsonl: whole lines without their newlines, and what stands behind the last newline."""

    lines: tuple[bytes, ...]
    torn: bytes

    @classmethod
    def of(cls, data: bytes) -> Raw:
        *lines, torn = data.split(b"\n")
        return cls(tuple(lines), torn)


@dataclass(frozen=True)
class Problem:
    """One thing that is not as it was written. where: a line, a file or the record itself."""

    where: str
    text: str


def hash_of(raw: bytes) -> str:
    return hashlib.sha256(raw).hexdigest()


def to_bytes(line: Line) -> bytes:
    """One line without its newline."""
    return line.model_dump_json().encode()


def parse(raw: bytes) -> Line | None:
    """The line in these bytes, None where they are none."""
    try:
        return Line.model_validate_json(raw)
    except ValidationError:
        return None


def parse_head(data: bytes) -> Head | None:
    try:
        return Head.model_validate_json(data)
    except ValidationError:
        return None


def head_of(lines: Sequence[bytes]) -> Head:
    """The head that belongs to these lines, of which there is at least one."""
    return Head(lines=len(lines), last=hash_of(lines[-1]))


def sealed(raw: Raw, head: Head | None) -> int:
    """How many lines stand, for `problems` to judge: those up to the head, and what is readable behind it.

    A stopped command leaves one line at most behind the head: a whole one, or one that cannot be read, which a cut
    write left and which does not stand. Where there is more, nothing of it is a cut write.
    """
    base = min(head.lines if head is not None else 0, len(raw.lines))
    cut = len(raw.lines) - base == 1 and parse(raw.lines[base]) is None
    return base if cut else len(raw.lines)


def problems(lines: Sequence[bytes], head: Head | None) -> tuple[Problem, ...]:
    """Every line that was changed, removed or put elsewhere, by its number; none for a whole record."""
    parsed = [parse(one) for one in lines]
    numbers = [line.number if line is not None else None for line in parsed]
    called = [number for number in numbers if number is not None and number <= len(lines)]
    last = max([head.lines, *called]) if head is not None else len(lines)
    return (
        *_unreadable(numbers),
        *_missing(numbers, last),
        *_misplaced(numbers, last),
        *_broken_links(lines, parsed),
        *_against_head(lines, numbers, head),
    )


def _unreadable(numbers: Sequence[int | None]) -> list[Problem]:
    return [
        Problem(f"line {place}", "was changed: it cannot be read any more")
        for place, number in enumerate(numbers, start=1)
        if number is None
    ]


def _missing(numbers: Sequence[int | None], last: int) -> list[Problem]:
    gone = set(range(1, last + 1)) - set(numbers)
    unreadable = {place for place, number in enumerate(numbers, start=1) if number is None}
    return [Problem(f"line {number}", "is missing: it was removed") for number in sorted(gone - unreadable)]


def _misplaced(numbers: Sequence[int | None], last: int) -> list[Problem]:
    """Lines that call themselves by a number the record cannot have, and the fewest that stand elsewhere or twice."""
    strange = [(place, number) for place, number in enumerate(numbers, start=1) if number is not None and number > last]
    known = [number for number in numbers if number is not None and number <= last]
    kept = _longest_rising(known)
    moved = sorted(number for number in known if number not in kept or known.count(number) > 1)
    return [
        *(Problem(f"line {place}", f"was changed: it calls itself line {number}") for place, number in strange),
        *(Problem(f"line {number}", _where_it_stands(number, known)) for number in dict.fromkeys(moved)),
    ]


def _where_it_stands(number: int, known: Sequence[int]) -> str:
    if known.count(number) > 1:
        return "stands in the record more than once"
    place = known.index(number)
    return f"was moved: it stands {f'behind line {known[place - 1]}' if place else 'first'}"


def _longest_rising(numbers: Sequence[int]) -> set[int]:
    """Of a longest rising subsequence, the numbers: what need not have been moved."""
    tails: list[tuple[int, ...]] = []
    for number in numbers:
        place = bisect_left(tails, number, key=lambda run: run[-1])
        tails[place : place + 1] = [(*(tails[place - 1] if place else ()), number)]
    return set(tails[-1]) if tails else set()


def _broken_links(lines: Sequence[bytes], parsed: Sequence[Line | None]) -> list[Problem]:
    """Lines whose bytes are not those that the next line was written after."""
    by_number = {line.number: (data, line) for data, line in zip(lines, parsed, strict=True) if line is not None}
    found = [
        Problem(f"line {number}", f"was changed, or what line {number + 1} holds of it was: they do not fit each other")
        for number, (data, _) in sorted(by_number.items())
        if number + 1 in by_number and by_number[number + 1][1].before != hash_of(data)
    ]
    first = by_number.get(1)
    if first is not None and first[1].before != NOTHING_BEFORE:
        found.append(Problem("line 1", "was changed: it speaks of a line before it"))
    return found


def _against_head(lines: Sequence[bytes], numbers: Sequence[int | None], head: Head | None) -> list[Problem]:
    if head is None:
        return [Problem(HEAD, "is missing or cannot be read: how far the record goes is unknown")] if lines[1:] else []
    last = next((data for data, number in zip(lines, numbers, strict=True) if number == head.lines), None)
    if last is not None and hash_of(last) != head.last:
        return [Problem(f"line {head.lines}", f"was changed, or {HEAD} was: they do not fit each other")]
    return []
