"""How often each channel is asked for: the rows of data/pace.toml."""

from __future__ import annotations

import tomllib
from collections.abc import Collection, Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from relearn.errors import ProcedureError
from relearn.j1979.table import parameters, signals

PATH = Path(__file__).with_name("data") / "pace.toml"
REMEDY = "correct the packaged data"


class Pace(BaseModel):
    """One channel. stands_for: the channel in whose place this one is read where the module lacks that one."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    channel: str
    every_s: Annotated[float, Field(gt=0)]
    stands_for: str | None = None


class _File(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")

    pace: tuple[Pace, ...]


@cache
def paces() -> Mapping[str, Pace]:
    """Every packaged row by its channel."""
    return parse(PATH.read_text(encoding="utf-8"), PATH)


def parse(text: str, path: Path) -> Mapping[str, Pace]:
    """The rows in a TOML text. Not TOML, a wrong or unknown key, a channel nobody knows or named twice:
    ProcedureError with file and key."""
    try:
        data: dict[str, Any] = tomllib.loads(text)
        rows = _File.model_validate(data).pace
    except ValidationError as wrong:
        first = wrong.errors()[0]
        key = ".".join(str(part) for part in first["loc"])
        raise ProcedureError(first["msg"], path=path, key=key, remedy=REMEDY) from None
    except tomllib.TOMLDecodeError as wrong:
        raise ProcedureError(f"this is not TOML ({wrong})", path=path, remedy=REMEDY) from None
    found = {row.channel: row for row in rows}
    named = [*found, *(row.stands_for for row in rows if row.stands_for is not None)]
    for name in named:
        if name not in signals() or (name not in found):
            raise ProcedureError("there is no such channel here", path=path, key=name, remedy=REMEDY)
    if len(found) < len(rows):
        raise ProcedureError("a channel stands twice", path=path, key="pace", remedy=REMEDY)
    return MappingProxyType(found)


def of_parameters(channels: Collection[str], supported: Collection[int]) -> Mapping[int, float]:
    """How often to ask for each parameter that a module supports and that carries one of these channels, fastest first.

    Channels without a row are not asked for.
    """
    every_s: dict[int, float] = {}
    for name, row in paces().items():
        pid = _parameter_of()[name]
        if name in channels and pid in supported:
            every_s[pid] = min(every_s.get(pid, row.every_s), _pace_s(row, supported))
    return dict(sorted(every_s.items(), key=lambda one: one[1]))


def covered(name: str, supported: Collection[int]) -> bool:
    """Whether a module with these parameters has this channel, or the one that it only stands for."""
    stands_for = paces()[name].stands_for
    return any(_parameter_of()[one] in supported for one in (name, stands_for) if one is not None)


def _pace_s(row: Pace, supported: Collection[int]) -> float:
    if row.stands_for is None or _parameter_of()[row.stands_for] in supported:
        return row.every_s
    return min(row.every_s, paces()[row.stands_for].every_s)


@cache
def _parameter_of() -> Mapping[str, int]:
    return {signal.name: row.pid for row in parameters().values() for signal in row.signals}
