"""What a column or a database signal is: its header matched to a channel by the standard's names, units taken apart.

A header matches by the channel's own name, its title, its SAE J1930 abbreviation or a spelling in `aliases.toml`. Words
that nothing explains ("Engine speed target") never match: a channel is claimed by its whole name or not at all.
"""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType

from pydantic import BaseModel, ConfigDict, ValidationError

from relearn.errors import ProcedureError
from relearn.j1979.table import Signal, signals
from relearn.j1979.units import find

PATH = Path(__file__).with_name("aliases.toml")

BRACKETED = re.compile(r"(.*\S)\s*[(\[{]([^()\[\]{}]*)[)\]}]\s*")  # Engine speed (rpm), ECT [°F]
BEHIND_A_COMMA = re.compile(r"(.*\S)\s*,\s*([^,]*)")  # Engine speed, rpm
BEHIND_A_SIGN = re.compile(r"(.*[^\s%°_])[\s_]*([%°]\s*\w*)")  # TP%, ECT °F
LAST_WORD = re.compile(r"(.*[^\s_])[\s_]+([^\s_]+)")  # engine_speed_rpm, Coolant temp F
LAST_TWO_WORDS = re.compile(r"(.*[^\s_])[\s_]+([^\s_]+[\s_][^\s_]+)")  # Coolant temp deg C
CAPITAL_INSIDE = re.compile(r"(?<=[a-z0-9])(?=[A-Z])")  # CoolantTemp
WORD = re.compile(r"[^\W_]+|[%°]")


class _Row(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class _TableOnly(_Row):
    name: str
    title: str
    unit: str
    names: tuple[str, ...]
    plausible: tuple[float, float] | None = None


class _Aliases(_Row):
    words: dict[str, str]
    aliases: dict[str, tuple[str, ...]]
    table_only: tuple[_TableOnly, ...]


def match(header: str) -> tuple[Signal, str] | None:
    """The channel that a header names and the unit text in it ('' if none); None where no one channel is named.

    The unit stands in brackets, behind a comma, or as the last word: 'Engine speed (rpm)', 'RPM', 'ECT [°F]',
    'coolant_temp_F'. A text in brackets behind a known name is given back even where it is no unit that fits.
    """
    for name, unit in _readings(header.strip()):
        found = _only(name, unit)
        if found is not None:
            return found, unit
    bracketed = BRACKETED.fullmatch(header.strip())
    found = _only(bracketed[1], "") if bracketed else None
    return (found, bracketed[2].strip()) if bracketed and found else None


@cache
def known() -> Mapping[str, Signal]:
    """Every channel that can be named: the parameter table's, and those that only tables hold."""
    return MappingProxyType({**signals(), **_table_only()})


def near(name: str, names: Iterable[str]) -> str:
    """The way out of a misspelt name, for the end of an error sentence."""
    close = difflib.get_close_matches(name, list(names), n=3, cutoff=0.0)
    return f"the nearest known are {', '.join(close)}" if close else "there is nothing to name"


def _readings(header: str) -> Iterator[tuple[str, str]]:
    """Ways to take a header apart into name and unit, the likeliest first."""
    last = LAST_WORD.fullmatch(header)
    yield header, last[2] if last else header  # Engine RPM: the name ends with its unit
    for pattern in (BRACKETED, BEHIND_A_COMMA, BEHIND_A_SIGN, LAST_WORD, LAST_TWO_WORDS):
        if parts := pattern.fullmatch(header):
            yield parts[1], parts[2].strip()
    yield header, ""


def _only(name: str, unit: str) -> Signal | None:
    """The one channel of that name which the unit fits. Two of them are none."""
    fitting = [signal for signal in _named(name) if not unit or _fits(unit, signal.unit)]
    return fitting[0] if len(fitting) == 1 else None


def _fits(given: str, wanted: str) -> bool:
    one, other = find(given), find(wanted)
    return one is not None and other is not None and one.quantity == other.quantity


def _named(name: str) -> tuple[Signal, ...]:
    """The channels called so; 'Engine coolant temperature (ECT)' says the same thing twice."""
    found = _exact().get(name) or _index().get(_plain(name), ())
    bracketed = BRACKETED.fullmatch(name)
    if found or bracketed is None:
        return found
    inner = _index().get(_plain(bracketed[2]), ())
    return tuple(signal for signal in _index().get(_plain(bracketed[1]), ()) if signal in inner)


def _plain(name: str) -> str:
    """Lower case without spaces and punctuation, short words spelt out: 'Coolant Temp' → 'coolanttemperature'."""
    words = WORD.findall(CAPITAL_INSIDE.sub(" ", name).casefold())
    return "".join(_aliases().words.get(word, word) for word in words).replace(" ", "")


@cache
def _exact() -> Mapping[str, tuple[Signal, ...]]:
    """Channels by abbreviation and by name to the letter: RUN_TIME is another parameter than run_time."""
    index: dict[str, tuple[Signal, ...]] = {}
    for signal in signals().values():
        index[signal.abbreviation] = (*index.get(signal.abbreviation, ()), signal)
    return MappingProxyType(index | {name: (signal,) for name, signal in known().items()} | {"": ()})


@cache
def _index() -> Mapping[str, tuple[Signal, ...]]:
    """Channels by every plain spelling. A spelling listed in the aliases belongs to that channel alone."""
    index: dict[str, tuple[Signal, ...]] = {}
    for signal in signals().values():
        for name in {_plain(signal.name), _plain(signal.title), _plain(signal.abbreviation)} - {""}:
            index[name] = (*index.get(name, ()), signal)
    return MappingProxyType(index | {_plain(name): (signal,) for name, signal in _listed()})


def _listed() -> Iterator[tuple[str, Signal]]:
    for channel, names in _aliases().aliases.items():
        if channel not in signals():
            raise ProcedureError(
                "no parameter has that channel",
                path=PATH,
                key=f"aliases.{channel}",
                remedy="correct that row of the aliases",
            )
        yield from ((name, signals()[channel]) for name in names)
    for row in _aliases().table_only:
        yield from ((name, _table_only()[row.name]) for name in (row.name, row.title, *row.names))


@cache
def _table_only() -> Mapping[str, Signal]:
    return {
        row.name: Signal(row.name, row.title, 0, 0, unit=row.unit, plausible=row.plausible)
        for row in _aliases().table_only
    }


@cache
def _aliases() -> _Aliases:
    try:
        return _Aliases.model_validate(tomllib.loads(PATH.read_text(encoding="utf-8")))
    except (tomllib.TOMLDecodeError, ValidationError) as wrong:
        raise ProcedureError(
            f"the aliases do not hold together ({wrong})", path=PATH, remedy="correct that file"
        ) from None
