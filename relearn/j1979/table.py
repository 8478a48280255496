"""The parameter table: `parameters.toml` read once, checked, and turned into frozen rows."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cache
from itertools import combinations, pairwise
from pathlib import Path
from types import MappingProxyType
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

from relearn.errors import ProcedureError

PATH = Path(__file__).with_name("parameters.toml")
REMEDY = "correct that row of the parameter table"


@dataclass(frozen=True)
class Signal:
    """One value inside a parameter's data bytes: value = raw × scale + offset.

    name: the channel's name everywhere. abbreviation: SAE J1930, '' if it has none. unit: '' for counts and
    states. first_bit: 0 is the most significant bit of data byte A; bits: how many follow it, most
    significant first. states: named numbers of a bit-coded value, else empty.
    present_bit must be 1 and absent_bit must be 0 for the signal to be carried at all; None where there is no
    such bit. not_used: the raw number that means "no value here", None where there is none.
    plausible: window (ends included) outside of which a reading is a broken sensor or circuit, not a
    measurement.
    """

    name: str
    title: str
    first_bit: int
    bits: int
    abbreviation: str = ""
    unit: str = ""
    signed: bool = False
    scale: float = 1.0
    offset: float = 0.0
    states: Mapping[int, str] = field(default_factory=lambda: MappingProxyType({}), hash=False)
    present_bit: int | None = None
    absent_bit: int | None = None
    not_used: int | None = None
    plausible: tuple[float, float] | None = None

    def __getstate__(self) -> dict[str, Any]:
        """To be pickled or copied: a read-only view cannot be, what it shows can."""
        return {**self.__dict__, "states": dict(self.states)}

    def __setstate__(self, state: Mapping[str, Any]) -> None:
        self.__dict__.update(state, states=MappingProxyType(state["states"]))

    def raw_limits(self) -> tuple[int, int]:
        """Lowest and highest raw number that stands for a value; `not_used` at the top does not."""
        low = -(1 << (self.bits - 1)) if self.signed else 0
        high = low + (1 << self.bits) - 1
        return low, high - (self.not_used == high)

    def limits(self) -> tuple[float, float]:
        """Lowest and highest value that the field can carry, in `unit`."""
        low, high = (raw * self.scale + self.offset for raw in self.raw_limits())
        return min(low, high), max(low, high)


@dataclass(frozen=True)
class Parameter:
    """One mode 01 parameter: identifier, title, number of data bytes, source of the row, its signals."""

    pid: int
    title: str
    length: int
    source: str
    signals: tuple[Signal, ...]


@cache
def parameters() -> Mapping[int, Parameter]:
    """Every packaged parameter by its identifier."""
    return parse(PATH.read_text(encoding="utf-8"), PATH)


@cache
def signals() -> Mapping[str, Signal]:
    """Every packaged signal by its channel name."""
    return MappingProxyType({signal.name: signal for row in parameters().values() for signal in row.signals})


def parse(text: str, path: Path) -> Mapping[int, Parameter]:
    """The table in a TOML text. What does not hold together is a ProcedureError naming the pid and key."""
    try:
        table = _Table.model_validate(tomllib.loads(text))
    except tomllib.TOMLDecodeError as wrong:
        raise ProcedureError(f"this is not TOML ({wrong})", path=path, remedy=REMEDY) from None
    except ValidationError as wrong:
        first = wrong.errors()[0]
        key = ".".join(str(part) for part in first["loc"])
        raise ProcedureError(f"{first['msg']}", path=path, key=key, remedy=REMEDY) from None
    rows = [_parameter(key, row, table, path) for key, row in table.pid.items()]
    _check_unique(rows, path)
    return MappingProxyType({row.pid: row for row in sorted(rows, key=lambda row: row.pid)})


def _number(given: Any) -> Any:
    """Numbers as they are; a text like '100/255' as the fraction that the standard prints."""
    try:
        return float(Fraction(given)) if isinstance(given, str) else given
    except ZeroDivisionError:
        raise ValueError("a fraction over zero is no number") from None


def _window(given: tuple[float, float]) -> tuple[float, float]:
    if given[0] >= given[1]:
        raise ValueError("the low end must come first")
    return given


_Number = Annotated[float, BeforeValidator(_number)]
_Window = Annotated[tuple[float, float], AfterValidator(_window)]


class _Row(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class _SignalRow(_Row):
    field: Annotated[str, Field(pattern=r"^([A-Z]{1,4}|[A-Z][0-7](-[0-7])?)$")]
    title: str | None = None
    abbreviation: str = ""
    unit: str = ""
    signed: bool = False
    scale: Annotated[_Number, Field(allow_inf_nan=False)] = 1.0
    offset: Annotated[_Number, Field(allow_inf_nan=False)] = 0.0
    states: str | None = None
    present: Annotated[str, Field(pattern=r"^[A-Z][0-7]$")] | None = None
    absent: Annotated[str, Field(pattern=r"^[A-Z][0-7]$")] | None = None
    not_used: int | None = None
    plausible: _Window | None = None


class _ParameterRow(_Row):
    title: str
    length: Annotated[int, Field(ge=1, le=64)]
    source: str | None = None
    signals: dict[Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$")], _SignalRow]


class _Table(_Row):
    source: str
    states: dict[str, dict[Annotated[str, Field(pattern=r"^(\d+|0x[0-9A-F]+)$")], str]]
    pid: dict[Annotated[str, Field(pattern=r"^[0-9A-F]{2}$")], _ParameterRow]


def _parameter(key: str, row: _ParameterRow, table: _Table, path: Path) -> Parameter:
    made = tuple(
        _signal(name, signal, row, table, f"pid.{key}.signals.{name}", path) for name, signal in row.signals.items()
    )
    for signal in made:
        if max(_used_bits(signal)) >= 8 * row.length:
            _refuse(f"lies outside the {row.length} data bytes", path, f"pid.{key}.signals.{signal.name}")
    for one, other in combinations(made, 2):
        if _overlap(one, other):
            _refuse(f"shares bits with {one.name}", path, f"pid.{key}.signals.{other.name}")
    return Parameter(int(key, 16), row.title, row.length, row.source or table.source, made)


def _signal(name: str, row: _SignalRow, parent: _ParameterRow, table: _Table, key: str, path: Path) -> Signal:
    if row.states is not None and row.states not in table.states:
        _refuse(f"there are no states called {row.states!r}", path, f"{key}.states")
    states = {int(number, 0): text for number, text in table.states.get(row.states or "", {}).items()}
    first_bit, bits = _place(row.field, path, f"{key}.field")
    if row.scale == 0:
        _refuse("a scale of zero loses the value", path, f"{key}.scale")
    return Signal(
        name,
        row.title or parent.title,
        first_bit,
        bits,
        row.abbreviation,
        row.unit,
        row.signed,
        row.scale,
        row.offset,
        MappingProxyType(states),
        _bit(row.present),
        _bit(row.absent),
        row.not_used,
        row.plausible,
    )


def _place(written: str, path: Path, key: str) -> tuple[int, int]:
    """'AB' → (0, 16), 'B' → (8, 8), 'B3' → (12, 1), 'A6-0' → (1, 7): the standard's letters and bits."""
    first = 8 * (ord(written[0]) - ord("A"))
    if written.isalpha():
        if any(ord(right) - ord(left) != 1 for left, right in pairwise(written)):
            _refuse(f"the bytes of {written!r} do not follow each other", path, key)
        return first, 8 * len(written)
    high, low = int(written[1]), int(written[-1])
    if low > high:
        _refuse(f"the bits of {written!r} must be written high to low", path, key)
    return first + 7 - high, high - low + 1


def _bit(written: str | None) -> int | None:
    return None if written is None else 8 * (ord(written[0]) - ord("A")) + 7 - int(written[1])


def _used_bits(signal: Signal) -> Iterator[int]:
    yield from range(signal.first_bit, signal.first_bit + signal.bits)
    yield from (bit for bit in (signal.present_bit, signal.absent_bit) if bit is not None)


def _overlap(one: Signal, other: Signal) -> bool:
    """Two signals claim the same bits and could both be carried by one answer."""
    alternatives = (one.present_bit is not None and one.present_bit == other.absent_bit) or (
        one.absent_bit is not None and one.absent_bit == other.present_bit
    )
    start = max(one.first_bit, other.first_bit)
    end = min(one.first_bit + one.bits, other.first_bit + other.bits)
    return start < end and not alternatives


def _check_unique(rows: list[Parameter], path: Path) -> None:
    seen: set[str] = set()
    for row in rows:
        for signal in row.signals:
            if signal.name in seen:
                _refuse("this channel name is used twice", path, f"pid.{row.pid:02X}.signals.{signal.name}")
            seen.add(signal.name)


def _refuse(what: str, path: Path, key: str) -> None:
    raise ProcedureError(what, path=path, key=key, remedy=REMEDY)
