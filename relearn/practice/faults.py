"""Faults to be switched into the engine model while it runs: rows of `data/faults.toml`, as a scenario's events."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from pydantic import Field, field_validator

from relearn.errors import ChoiceError
from relearn.practice.engine import DATA, Inputs
from relearn.practice.scenario import Event
from relearn.procedures.packaged import Identifier, Row, Text, read

SOUND = Inputs()


class Fault(Row):
    """One fault: what it is called when it is chosen, and which inputs become what, over what time in seconds."""

    id: Identifier
    title: Text
    over_s: float = Field(default=0.0, ge=0.0)
    set: Mapping[str, float] = Field(min_length=1)

    @field_validator("set")
    @classmethod
    def known(cls, values: Mapping[str, float]) -> Mapping[str, float]:
        """Only inputs that the model has, and none that is as it always is."""
        Event.known(values)
        if any(getattr(SOUND, name) == value for name, value in values.items()):
            raise ValueError("this changes nothing")
        return values


class Faults(Row):
    """The whole file."""

    fault: tuple[Fault, ...]


@cache
def faults() -> Mapping[str, Fault]:
    """Every fault by its id, in the file's order. ProcedureError if the file does not hold together."""
    return {row.id: row for row in read(Faults, DATA / "faults.toml").fault}


def begins(name: str, at_s: float) -> Event:
    """The event that brings a fault in at at_s. ChoiceError: there is no such fault."""
    fault = _fault(name)
    return Event(at_s=at_s, over_s=fault.over_s, set=fault.set)


def ends(name: str, at_s: float, before: Inputs = SOUND) -> Event:
    """The event that mends it at at_s: its inputs become what they were before, those of a sound car unless given."""
    fault = _fault(name)
    return Event(at_s=at_s, over_s=fault.over_s, set={one: float(getattr(before, one)) for one in fault.set})


def _fault(name: str) -> Fault:
    if name not in faults():
        raise ChoiceError(f"there is no fault called '{name}'", remedy=f"choose one of {', '.join(faults())}")
    return faults()[name]
