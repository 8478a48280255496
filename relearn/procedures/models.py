"""What the procedure files hold, as frozen rows. Texts name numbers in braces: a fact, or a step's own."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

from pydantic import AfterValidator, Field

from relearn.procedures.packaged import Identifier, Number, Row, Text
from relearn.procedures.standing import is_standing

AFTER_WRITE = "after-write"


def _standing(given: str) -> str:
    if not is_standing(given):
        raise ValueError("a standing is C, M, CM, 'P: source' or words of its own")
    return given


Standing = Annotated[str, AfterValidator(_standing)]


class Item(Row):
    """One thing to have, do, hold or know. events: said only after one of these; empty: after every event."""

    id: Identifier
    text: Text
    standing: Standing
    events: tuple[Identifier, ...] = ()


class Event(Row):
    """Something done to the car that asks for relearns. writes_module: a module is written for it."""

    id: Identifier
    title: Text
    writes_module: bool


class NeededAfter(Row):
    """An event that asks for this relearn, and why."""

    event: Identifier
    because: Text
    standing: Standing


class ComesAfter(Row):
    """A relearn that must be done first, and why. otherwise: what to say when that is not in the plan."""

    id: Identifier
    because: Text
    otherwise: Text | None = None
    standing: Standing


class Precondition(Row):
    """What scan data can show. check: how (loader.PRECONDITION_CHECKS); limits: the fact that holds them."""

    id: Identifier
    text: Text
    check: str
    channel: str | None = None
    limits: str | None = None
    standing: Standing


class Step(Row):
    """One step of a relearn. numbers: by their kind (facts.step_number_rows), e.g. {'at_least_s': 10}.

    shows: what scan data shows of it (patterns.PATTERNS), none for a step that is seen by eye; what follows the first
    is looked for during the first. after: the earlier step it is timed from. keeps: conditions of the procedure (a
    precondition or one of `during`) that hold while it is done.
    """

    id: Identifier
    text: Text
    numbers: Mapping[str, Number] = Field(default_factory=dict)
    shows: tuple[Identifier, ...] = ()
    after: Identifier | None = None
    keeps: tuple[Identifier, ...] = ()
    standing: Standing


class Expectation(Row):
    """What should be true afterwards. At most one of limits (a fact) and around (centre, tolerance)."""

    id: Identifier
    text: Text
    limits: str | None = None
    around: tuple[str, str] | None = None
    standing: Standing


class Procedure(Row):
    """One relearn, as its file says it. how: by which way the steps do it. cautions: ids in cautions.toml.

    during: conditions that only steps keep, written like preconditions.
    """

    id: Identifier
    title: Text
    how: Text
    cautions: tuple[Identifier, ...]
    needed_after: tuple[NeededAfter, ...]
    comes_after: tuple[ComesAfter, ...] = ()
    preconditions: tuple[Precondition, ...] = Field(alias="precondition")
    by_eye: tuple[Item, ...] = ()
    during: tuple[Precondition, ...] = ()
    steps: tuple[Step, ...] = Field(alias="step")
    afterwards: tuple[Expectation, ...] = ()
    standing: Standing


class Caution(Row):
    """One caution. general: said for every job, whatever its relearns."""

    id: Identifier
    text: Text
    general: bool = False


class Programming(Row):
    """What surrounds the relearns: what to have ready, and everything about writing a module."""

    have_ready: tuple[Item, ...]
    while_writing: tuple[Item, ...]
    upsets_the_supply: tuple[Item, ...]
    after_write: tuple[Step, ...]
    if_the_write_fails: tuple[Item, ...]
    if_no_newer_file: tuple[Item, ...]
    read_back: tuple[Item, ...]
    customer_gets: tuple[Item, ...]


class EventFile(Row):
    """events.toml."""

    event: tuple[Event, ...]


class CautionFile(Row):
    """cautions.toml."""

    caution: tuple[Caution, ...]


@dataclass(frozen=True)
class Catalogue:
    """Everything the files of one folder hold. procedures: by id, in the order in which they are done."""

    folder: Path
    events: Mapping[str, Event]
    cautions: Mapping[str, Caution]
    programming: Programming
    procedures: Mapping[str, Procedure]

    def steps(self, group: str) -> tuple[Step, ...]:
        """The steps of a relearn, or of AFTER_WRITE; KeyError for any other group."""
        return self.programming.after_write if group == AFTER_WRITE else self.procedures[group].steps

    def step_groups(self) -> tuple[str, ...]:
        """What has steps: every relearn, and the wait after a write."""
        return (*self.procedures, AFTER_WRITE)
