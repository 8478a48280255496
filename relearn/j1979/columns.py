"""A table of decoded values becomes series: each column claimed by its header or by the user's map, in known units.

The map is TOML that the user writes, shared with the signals of a database (dbc.py):

    [columns]
    "Motor turns" = "engine_speed"
    "Water" = { channel = "coolant_temperature", unit = "°F" }
    [signals]
    "LampState" = { channel = "malfunction_lamp", states = { "dark" = "off", "lit" = "on" } }
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Any, NoReturn

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, BeforeValidator, ConfigDict, ValidationError

from relearn.capture.frames import Column, Table
from relearn.errors import MapError, SheetError
from relearn.faults import Fault
from relearn.j1979.names import known, match, near
from relearn.j1979.series import TABLE, Series
from relearn.j1979.table import Signal
from relearn.j1979.units import convert
from relearn.toml_files import read_toml

NOTHING = np.empty(0, np.float64)


@dataclass(frozen=True)
class Target:
    """What a column or database signal is, by the user's word.

    unit: the unit it is in, None where the file says so itself. states: what its words or numbers mean, as numbers of
    `signal.states`; empty where the file's numbers are the channel's own.
    """

    signal: Signal
    unit: str | None = None
    states: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True)
class SignalMap:
    """The user's map, checked: headers of columns and names of database signals to channels."""

    path: Path
    columns: Mapping[str, Target]
    signals: Mapping[str, Target]


class _Row(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class _ColumnRow(_Row):
    channel: str
    unit: str | None = None


class _SignalRow(_ColumnRow):
    states: dict[str, str] = {}


def _spelt_out(given: Any) -> Any:
    return {"channel": given} if isinstance(given, str) else given


class _MapRow(_Row):
    columns: dict[str, Annotated[_ColumnRow, BeforeValidator(_spelt_out)]] = {}
    signals: dict[str, Annotated[_SignalRow, BeforeValidator(_spelt_out)]] = {}


def load_map(path: Path) -> SignalMap:
    """The user's map. Unreadable, not TOML, an unknown key, channel, unit or state: SheetError with file and key."""
    rows = _rows(path)
    columns = {name: _target(row, {}, path, f"columns.{name}") for name, row in rows.columns.items()}
    signals = {name: _target(row, row.states, path, f"signals.{name}") for name, row in rows.signals.items()}
    for section, targets in (("columns", columns), ("signals", signals)):
        seen: dict[str, str] = {}
        for name, target in targets.items():
            if other := seen.get(target.signal.name):
                _refuse(f"'{other}' is {target.signal.name} already", path, f"{section}.{name}", "keep one of the two")
            seen[target.signal.name] = name
    return SignalMap(path, columns, signals)


def _rows(path: Path) -> _MapRow:
    try:
        rows = _MapRow.model_validate(read_toml(path, "map"))
    except ValidationError as wrong:
        first = wrong.errors()[0]
        what = "this key is not known" if first["type"] == "extra_forbidden" else "this names no channel"
        _refuse(
            what,
            path,
            ".".join(str(part) for part in first["loc"]),
            'write "name" = "channel" or { channel, unit }, under [signals] also { channel, unit, states }',
        )
    if not rows.columns and not rows.signals:
        raise SheetError("it maps nothing", path=path, remedy="name columns under [columns] or signals under [signals]")
    return rows


def _target(row: _ColumnRow, states: Mapping[str, str], path: Path, key: str) -> Target:
    signal = known().get(row.channel)
    if signal is None:
        _refuse(f"there is no channel '{row.channel}'", path, key, near(row.channel, known()))
    if row.unit and convert(NOTHING, row.unit, signal.unit) is None:
        _refuse(
            f"'{row.unit}' cannot become {signal.unit or 'a plain number'}",
            path,
            f"{key}.unit",
            f"give a unit of {signal.title}",
        )
    numbers = {text: number for number, text in signal.states.items()}
    for state in states.values():
        if state not in numbers:
            _refuse(f"{row.channel} has no state '{state}'", path, f"{key}.states", near(state, numbers))
    return Target(signal, row.unit or None, {given: numbers[state] for given, state in states.items()})


def _refuse(what: str, path: Path, key: str, remedy: str) -> NoReturn:
    raise SheetError(what, path=path, key=key, remedy=remedy)


@dataclass(frozen=True, eq=False)
class _Claim:
    """A column, the channel that it is, and the unit that its header or the map gives ('' for none)."""

    column: Column
    signal: Signal
    unit: str
    mapped: bool


def read(
    table: Table, mapping: Path | None, path: Path
) -> tuple[tuple[Series, ...], tuple[Fault, ...], tuple[str, ...]]:
    """The series of a table, what is wrong with its columns, and notes on how they were read.

    mapping: the user's map, whose word beats the header's; a column in it that `path` lacks is a SheetError, a MapError
    where it lacks all of them. A column without a unit is taken to be in the standard's own, which a note says; an
    unknown unit, two columns of one channel or a number that is no state of its channel are faults and leave the values
    out. Nothing is interpolated: a cell without a number is no sample. Series.frame is the file's line.
    """
    targets = load_map(mapping).columns if mapping else {}
    if mapping:
        _check_columns(targets, {column.header for column in table.columns}, mapping, path)
    claims = [claim for column in table.columns if (claim := _claim(column, targets))]
    taken, faults = _without_rivals(claims)
    series = []
    for claim in taken:
        values, fault = _values(claim)
        faults += [fault] if fault else []
        rows = np.isfinite(values)
        if rows.any():
            series.append(Series(TABLE, claim.signal, table.time_s[rows], values[rows], table.line[rows]))
    return tuple(series), tuple(faults), (*_left_out(table.columns, claims), *_notes(taken))


def _check_columns(named: Iterable[str], headers: set[str], mapping: Path, path: Path) -> None:
    """SheetError for the first named column that is not there; a MapError where none of them is."""
    missing = [header for header in named if header not in headers]
    if missing:
        kind = SheetError if headers.intersection(named) else MapError
        what, key = f"{path} has no column '{missing[0]}'", f"columns.{missing[0]}"
        raise kind(what, path=mapping, key=key, remedy=near(missing[0], headers))


def _claim(column: Column, targets: Mapping[str, Target]) -> _Claim | None:
    found = match(column.header)
    target = targets.get(column.header)
    if target is not None:
        header_unit = found[1] if found and found[0] == target.signal else ""
        return _Claim(column, target.signal, target.unit or header_unit, True)
    return _Claim(column, *found, False) if found else None


def _without_rivals(claims: Iterable[_Claim]) -> tuple[list[_Claim], list[Fault]]:
    """One column a channel: the mapped one, or the only one. Which of two is right nobody can tell from a header."""
    rivals: dict[str, list[_Claim]] = defaultdict(list)
    for claim in claims:
        rivals[claim.signal.name].append(claim)
    taken, faults = [], []
    for name, mine in rivals.items():
        chosen = [claim for claim in mine if claim.mapped] or mine
        if len(chosen) == 1:
            taken += chosen
        else:
            faults.append(
                Fault(
                    "ambiguous-column",
                    f"The columns {_listed(claim.column.header for claim in chosen)} are all {name}, "
                    "so none was read; choose one with a map.",
                    TABLE,
                    count=len(chosen),
                )
            )
    return taken, faults


def _values(claim: _Claim) -> tuple[NDArray[np.float64], Fault | None]:
    """The column in the channel's unit, NaN where there is no value; and what is wrong with it, if anything."""
    signal, given = claim.signal, claim.column.values
    values = convert(given, claim.unit or signal.unit, signal.unit)
    if values is None:
        return np.full(len(given), np.nan), Fault(
            "unknown-unit",
            f"The column '{claim.column.header}' is left out: '{claim.unit}' cannot become "
            f"{signal.unit or 'a plain number'}, the unit of {signal.name}; name its unit in a map.",
            TABLE,
        )
    strange = np.isfinite(values) & ~np.isin(values, list(signal.states)) if signal.states else np.array([False])
    if not strange.any():
        return values, None
    return np.where(strange, np.nan, values), Fault(
        "unknown-state",
        f"The column '{claim.column.header}' has {strange.sum()} numbers that are no state of "
        f"{signal.name}; they are left out.",
        TABLE,
        count=int(strange.sum()),
    )


def _left_out(columns: Iterable[Column], claims: Iterable[_Claim]) -> Iterator[str]:
    """The columns that are no channel, or no longer one because the map gives the channel to another."""
    mapped = {claim.signal.name for claim in claims if claim.mapped}
    claimed = {id(claim.column): claim for claim in claims}
    unknown = [column.header for column in columns if id(column) not in claimed]
    if unknown:
        yield f"Columns that name no known channel were left out: {_listed(unknown)}; a map can name them."
    beaten = [claim.column.header for claim in claims if not claim.mapped and claim.signal.name in mapped]
    if beaten:
        yield f"Columns whose channel the map gives to another were left out: {_listed(beaten)}."


def _notes(taken: Iterable[_Claim]) -> Iterator[str]:
    """What a reader of the verdict should know about how the columns were taken."""
    assumed = [f"'{one.column.header}' in {one.signal.unit}" for one in taken if not one.unit and one.signal.unit]
    if assumed:
        yield f"Columns without a unit were taken to be in the standard's own: {', '.join(assumed)}."
    for column in (claim.column for claim in taken):
        if column.texts:
            yield f"The column '{column.header}' holds words, read as missing: {_listed(column.texts)}."
        if not np.isfinite(column.values).any():
            yield f"The column '{column.header}' holds no number at all."


def _listed(names: Iterable[str]) -> str:
    return ", ".join(f"'{name}'" for name in names)
