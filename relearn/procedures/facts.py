"""The numbers a vehicle sheet can set and a timed step can carry: one row each, in `data/sheet-keys.toml`."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Annotated, Literal

from pydantic import Field

from relearn.procedures.packaged import DATA, Identifier, Number, Row, Text, read, refuse
from relearn.procedures.wording import quantity

PATH = DATA / "sheet-keys.toml"

Kind = Literal["number", "range", "floor", "above", "ceiling", "text"]


class FactRow(Row):
    """One fact: its key in a sheet, unit, kind, what it means, and what a sheet may set it to.

    kind: 'number'; 'range' (low and high, one may be left out); 'floor' (this or more); 'above' (over this);
    'ceiling' (at most this); 'text'. allowed: sanity window for each number, ends included; a text has none.
    pattern: what the whole of a text must match; None allows any text that is not blank.
    """

    key: Annotated[str, Field(pattern=r"^[a-z]+\.[a-z0-9_]+$")]
    unit: str
    kind: Kind
    allowed: tuple[Number, Number] | None = None
    pattern: str | None = None
    text: Text


class StepNumberRow(Row):
    """One kind of number in a step: its name ('at_least_s'), unit, meaning, and window (ends included)."""

    name: Annotated[str, Field(pattern=r"^[a-z_]+$")]
    unit: str
    allowed: tuple[Number, Number]
    text: Text


class _SheetKeys(Row):
    sections: dict[Identifier, Text]
    fact: tuple[FactRow, ...]
    step_number: tuple[StepNumberRow, ...]


def load(path: Path) -> _SheetKeys:
    """A file of rows. A key twice, an unknown section, a window missing or upside down: ProcedureError."""
    keys = read(_SheetKeys, path)
    names = [row.key for row in keys.fact] + [row.name for row in keys.step_number]
    for name in names:
        if names.count(name) > 1:
            refuse("stands twice", path, name)
    for row in keys.fact:
        if row.key.split(".")[0] not in keys.sections:
            refuse("its section is not among the sections", path, row.key)
        if (row.allowed is None) != (row.kind == "text"):
            refuse("a number needs an allowed window, a text has none", path, row.key)
    for name, (low, high) in _windows(keys):
        if low > high:
            refuse("the allowed window is upside down", path, name)
    return keys


def _windows(keys: _SheetKeys) -> list[tuple[str, tuple[float, float]]]:
    facts = [(row.key, row.allowed) for row in keys.fact if row.allowed is not None]
    return facts + [(row.name, row.allowed) for row in keys.step_number]


def number_problem(row: FactRow | StepNumberRow, value: float) -> str | None:
    """How a number misses its row's sanity window, as the end of a sentence; None inside, ends included."""
    low, high = row.allowed or (float("-inf"), float("inf"))
    if low <= value <= high:
        return None
    return f"must be {low:g} to {quantity(high, row.unit)}" if low < high else f"must be {low:g}"


@cache
def _packaged() -> _SheetKeys:
    return load(PATH)


@cache
def sections() -> Mapping[str, str]:
    """What each section of a sheet is about, in the order of the file."""
    return MappingProxyType(_packaged().sections)


@cache
def fact_rows() -> Mapping[str, FactRow]:
    """Every fact by its key, in the order of the file."""
    return MappingProxyType({row.key: row for row in _packaged().fact})


@cache
def step_number_rows() -> Mapping[str, StepNumberRow]:
    """Every kind of step number by its name."""
    return MappingProxyType({row.name: row for row in _packaged().step_number})
