"""The packaged procedures, read once and held against each other.

An unknown key, check, fact, channel, relearn, event or caution in them is a ProcedureError with file and key.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from graphlib import CycleError, TopologicalSorter
from pathlib import Path
from types import MappingProxyType
from typing import TypeVar

from relearn.errors import ChoiceError
from relearn.procedures.cross_check import first_problem
from relearn.procedures.models import (
    Catalogue,
    Caution,
    CautionFile,
    Event,
    EventFile,
    Precondition,
    Procedure,
    Programming,
)
from relearn.procedures.packaged import DATA, read, refuse

PRECONDITION_CHECKS = ("within", "engine-idling", "lamp-off", "ignition-on", "pedal-released", "no-stored-codes")
"""How a precondition may be judged. The room of the checks has one function for each of these names."""

__all__ = [
    "PRECONDITION_CHECKS",
    "Catalogue",
    "Precondition",
    "Procedure",
    "catalogue",
    "load",
    "procedure",
    "procedures",
]

Named = TypeVar("Named", Event, Caution)


@cache
def catalogue() -> Catalogue:
    """The packaged data."""
    return load(DATA)


def procedures() -> Mapping[str, Procedure]:
    """Every relearn by its id, in the order in which they are done."""
    return catalogue().procedures


def procedure(relearn: str) -> Procedure:
    """One relearn. An id nobody knows is a ChoiceError naming the known ones."""
    if relearn not in procedures():
        known = ", ".join(procedures())
        raise ChoiceError(f"there is no relearn called '{relearn}'", remedy=f"choose one of {known}")
    return procedures()[relearn]


def load(folder: Path) -> Catalogue:
    """A folder laid out as the packaged one: events, cautions, programming, and a file each in relearns/."""
    events, cautions = folder / "events.toml", folder / "cautions.toml"
    loaded = Catalogue(
        folder,
        _by_id(read(EventFile, events).event, events),
        _by_id(read(CautionFile, cautions).caution, cautions),
        read(Programming, folder / "programming.toml"),
        _relearns(folder / "relearns"),
    )
    if problem := first_problem(loaded, PRECONDITION_CHECKS):
        refuse(problem.what, folder / problem.file, problem.key)
    return loaded


def _by_id(rows: Sequence[Named], path: Path) -> Mapping[str, Named]:
    found = {row.id: row for row in rows}
    if len(found) < len(rows):
        refuse("an id stands twice", path, ", ".join(row.id for row in rows))
    return MappingProxyType(found)


def _relearns(folder: Path) -> Mapping[str, Procedure]:
    found = {path.stem: read(Procedure, path) for path in sorted(folder.glob("*.toml"))}
    for name, procedure in found.items():
        if name != procedure.id:
            refuse(f"must be the file's name, '{name}'", folder / f"{name}.toml", "id")
    return MappingProxyType({name: found[name] for name in _in_order(found, folder) if name in found})


def _in_order(found: Mapping[str, Procedure], folder: Path) -> Sequence[str]:
    """Every id after those it comes after; where that leaves a choice, by id."""
    sorter = TopologicalSorter({name: [row.id for row in found[name].comes_after] for name in found})
    try:
        sorter.prepare()
    except CycleError as circle:
        names = circle.args[1]
        refuse(f"a circle: {' before '.join(names)}", folder / f"{names[0]}.toml", "comes_after")
    order: list[str] = []
    while sorter.is_active():
        ready = sorted(sorter.get_ready())
        order += ready
        sorter.done(*ready)
    return order
