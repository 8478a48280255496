"""Broadcast signals by a database (DBC): which frames to keep, and their values as channels, column by column.

cantools reads the database; the bits are taken out of all frames at once. Frames of diagnostic identifiers are left to
the diagnostic decoder, whatever a database says of them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

import cantools
import numpy as np
from cantools.database.can import Database, Message
from cantools.database.can import Signal as Coded
from numpy.typing import NDArray

from relearn.capture.frames import Frames
from relearn.capture.keep import Keep, is_diagnostic
from relearn.errors import SheetError
from relearn.j1979.columns import Target, load_map
from relearn.j1979.names import known, match, near
from relearn.j1979.series import BROADCAST, Series
from relearn.j1979.table import Signal, signals
from relearn.j1979.units import convert, find

Mask = NDArray[np.bool_]
Values = NDArray[np.float64]
Raw = NDArray[Any]  # uint64, int64 or a float, by how the signal is coded

__all__ = ["Database", "carried", "database", "keep_for", "raw_numbers", "read"]


@dataclass(frozen=True, eq=False)
class _Claim:
    """What one coded signal becomes: the channel, the unit its numbers are in, and what its words mean.

    numbers: raw number → number of the channel's state; where it is not None, other raw numbers are no value.
    words: raw numbers that the database names ("not available") where the channel is a measurement: no values either.
    """

    signal: Signal
    unit: str
    numbers: Mapping[int, int] | None = None
    words: frozenset[int] = field(default_factory=frozenset)


@lru_cache(maxsize=2)
def _parsed(text: str) -> object:
    """By its content: while a bus is listened to, the same database is asked for every second."""
    return cantools.database.load_string(text, database_format="dbc", strict=True)


def database(path: Path) -> Database:
    """The database of a DBC file; one that cannot be read or does not hold together is a SheetError."""
    try:
        found = _parsed(_text(path))
    except OSError as wrong:
        raise SheetError(f"cannot be read ({wrong.strerror})", path=path, remedy="check its name") from None
    except (cantools.Error, ValueError) as wrong:
        raise SheetError(
            f"this is no sound DBC database ({' '.join(str(wrong).split())})",
            path=path,
            remedy="correct it, or give another database",
        ) from None
    if not isinstance(found, Database) or not any(message.signals for message in found.messages):
        raise SheetError("it describes no signal", path=path, remedy="give the database of this car")
    return found


def keep_for(database: Database) -> Keep:
    """What a reader must keep for this database: its broadcast frames, beside the diagnostic ones."""
    identifiers = [(message.frame_id, message.is_extended_frame) for message in _messages(database)]
    return Keep(
        frozenset(one for one, extended in identifiers if not extended),
        frozenset(one for one, extended in identifiers if extended),
    )


def read(frames: Frames, database: Database, mapping: Path | None) -> tuple[Series, ...]:
    """The database's signals as series of the module 'broadcast' ('broadcast-bus1' … for what another bus repeats).

    A signal becomes a channel by the user's map, or where its name or the first sentence of its comment names one
    and its unit fits; every other keeps its own name. Two signals that name one channel both keep their own. A frame
    too short for a signal, a multiplexed signal not in this frame, a raw number that the database calls by a word
    although the channel is a measurement, or one that is no state of a state channel: no sample.
    A signal in the map that the database lacks is a SheetError.
    """
    claims = _claims(database, mapping)
    found: list[Series] = []
    for message in _messages(database):
        mine = frames.take((frames.identifier == message.frame_id) & (frames.extended == message.is_extended_frame))
        for bus in np.unique(mine.bus):
            module = BROADCAST if bus == mine.bus.min() else f"{BROADCAST}-bus{bus}"
            found += _series(module, message, mine.take(mine.bus == bus), claims)
    return tuple(found)


def _text(path: Path) -> str:
    """UTF-8, or else the code page of the programs that write databases."""
    given = path.read_bytes()
    try:
        return given.decode("utf-8-sig")
    except UnicodeDecodeError:
        return given.decode("cp1252")


def _messages(database: Database) -> list[Message]:
    """Those with signals, of broadcast identifiers."""
    return [
        message
        for message in database.messages
        if message.signals
        and not is_diagnostic(np.array([message.frame_id], np.uint32), np.array([message.is_extended_frame])).any()
    ]


def _claims(database: Database, mapping: Path | None) -> Mapping[Coded, _Claim]:
    """What each signal becomes: mapped first, then named by itself, then under its own name."""
    owned = [(message, signal) for message in _messages(database) for signal in message.signals]
    mapped = _mapped(owned, mapping)
    taken = {claim.signal.name for claim in mapped.values()}
    named = {
        signal: claim
        for _, signal in owned
        if signal not in mapped and (claim := _by_itself(signal)) and claim.signal.name not in taken
    }
    counts = Counter(claim.signal.name for claim in named.values())
    named = {signal: claim for signal, claim in named.items() if counts[claim.signal.name] == 1}
    return {**dict(_own_names(owned)), **named, **mapped}


def _mapped(owned: Iterable[tuple[Message, Coded]], mapping: Path | None) -> dict[Coded, _Claim]:
    """The user's word: 'Signal', or 'Message.Signal' where several messages have one of that name."""
    if mapping is None:
        return {}
    by_name: dict[str, list[Coded]] = {}
    for message, signal in owned:
        by_name.setdefault(signal.name, []).append(signal)
        by_name.setdefault(f"{message.name}.{signal.name}", []).append(signal)
    claims = {}
    for name, target in load_map(mapping).signals.items():
        found = by_name.get(name, [])
        if len(found) != 1:
            what, remedy = (
                ("several messages have a", "write it as Message.Signal")
                if found
                else ("the database has no", near(name, by_name))
            )
            raise SheetError(f"{what} signal '{name}'", path=mapping, key=f"signals.{name}", remedy=remedy)
        claims[found[0]] = _by_map(found[0], target, mapping, f"signals.{name}")
    return claims


def _by_map(coded: Coded, target: Target, mapping: Path, key: str) -> _Claim:
    """A mapped signal. Without a unit in the map or the database, the channel's own is the user's meaning."""
    unit = target.unit or coded.unit or target.signal.unit
    if convert(np.empty(0), unit, target.signal.unit) is None:
        raise SheetError(
            f"its unit '{unit}' cannot become {target.signal.unit or 'a plain number'}",
            path=mapping,
            key=key,
            remedy="give a unit that fits, or another channel",
        )
    raws = _words(coded)
    if not target.signal.states:
        return _Claim(target.signal, unit, None, frozenset(raws))
    if not target.states:
        return _Claim(target.signal, unit, {number: number for number in target.signal.states})
    by_text = {text: raw for raw, text in raws.items()}
    numbers = {}
    for given, number in target.states.items():
        raw = by_text.get(given, int(given) if given.isdigit() else None)
        if raw is None:
            words = ", ".join(by_text) or "it has none"
            raise SheetError(
                f"the signal has no value '{given}'",
                path=mapping,
                key=f"{key}.states",
                remedy=f"write a number, or a word of the database ({words})",
            )
        numbers[raw] = number
    return _Claim(target.signal, unit, numbers)


def _by_itself(coded: Coded) -> _Claim | None:
    """A signal whose name or comment (or both) names one channel that modules answer with, in a unit that fits."""
    texts = (coded.name, (coded.comment or "").split(".")[0])
    found = [claim for text in texts if (claim := _by_text(coded, f"{text} [{coded.unit}]" if coded.unit else text))]
    return found[0] if len({claim.signal.name for claim in found}) == 1 else None


def _by_text(coded: Coded, text: str) -> _Claim | None:
    signal, unit = match(text) or (None, "")
    if signal is None or signal.name not in signals() or convert(np.empty(0), unit, signal.unit) is None:
        return None
    words = _words(coded)
    if not signal.states:
        return _Claim(signal, unit, None, frozenset(words))
    # Numbers of states mean something else in every database; only the channel's own words can be trusted.
    states = {state.casefold(): number for number, state in signal.states.items()}
    numbers = {raw: states[word.casefold()] for raw, word in words.items() if word.casefold() in states}
    return _Claim(signal, unit, numbers) if words and len(numbers) == len(words) else None


def _own_names(owned: Iterable[tuple[Message, Coded]]) -> Iterator[tuple[Coded, _Claim]]:
    """Signals under their own names, with their message's in front where the name alone would mislead."""
    owned = list(owned)
    counts = Counter(signal.name for _, signal in owned)
    for message, coded in owned:
        plain = counts[coded.name] == 1 and coded.name not in known()
        name = coded.name if plain else f"{message.name}.{coded.name}"
        known_unit = find(coded.unit or "")
        unit = known_unit.name if known_unit else coded.unit or ""
        words = _words(coded)
        states = words if (coded.scale, coded.offset) == (1, 0) else {}
        signal = Signal(name, coded.comment or coded.name, 0, coded.length, unit=unit, states=states)
        yield coded, _Claim(signal, unit, None, frozenset(words) - set(states))


def _words(coded: Coded) -> dict[int, str]:
    return {int(raw): str(word) for raw, word in (coded.choices or {}).items()}


def _series(module: str, message: Message, frames: Frames, claims: Mapping[Coded, _Claim]) -> Iterator[Series]:
    for coded in message.signals:
        claim = claims[coded]
        rows = carried(message, coded, frames)
        values = _values(raw_numbers(coded, frames.data), coded, claim)
        rows &= np.isfinite(values)
        if rows.any():
            yield Series(module, claim.signal, frames.time_s[rows], values[rows], frames.number[rows])


def _values(raw: Raw, coded: Coded, claim: _Claim) -> Values:
    """Values in the channel's unit, NaN where the raw number stands for none."""
    if claim.numbers is not None:
        values = np.full(len(raw), np.nan)
        for number, state in claim.numbers.items():
            values[raw == number] = state
        return values
    with np.errstate(over="ignore", invalid="ignore"):  # what is too large for a number is left out by the caller
        scaled = raw.astype(np.float64) * coded.scale + coded.offset
    converted = convert(scaled, claim.unit, claim.signal.unit)
    values = scaled if converted is None else converted  # only a unit nobody knows, which stays as it is
    return np.where(np.isin(raw, list(claim.words)), np.nan, values)


def carried(message: Message, coded: Coded, frames: Frames) -> Mask:
    """The frames that carry a signal: long enough, and with a number of its own in each multiplexer above it."""
    rows: Mask = frames.length > _bits(coded).max() // 8
    if coded.multiplexer_signal is not None and coded.multiplexer_ids:
        above = message.get_signal_by_name(coded.multiplexer_signal)
        rows &= np.isin(raw_numbers(above, frames.data), coded.multiplexer_ids)
        rows &= carried(message, above, frames)
    return rows


def raw_numbers(coded: Coded, data: NDArray[np.uint8]) -> Raw:
    """The raw number of a signal in each row of data (uint8, one frame a row): unsigned, signed or a float."""
    raw = np.zeros(len(data), np.uint64)
    for place, bit in enumerate(_bits(coded).tolist()):
        if bit // 8 < data.shape[1]:
            raw |= ((data[:, bit // 8] >> (bit % 8)) & 1).astype(np.uint64) << np.uint64(place)
    if coded.is_float:
        return raw.astype(f"u{coded.length // 8}").view(f"f{coded.length // 8}")
    if coded.is_signed:
        unused = 64 - coded.length
        signed: Raw = (raw << np.uint64(unused)).view(np.int64) >> unused
        return signed
    return raw


def _bits(coded: Coded) -> NDArray[np.int64]:
    """Where a signal's bits lie, least significant first; bit 8n is the lowest of byte n (the DBC numbering)."""
    run = np.arange(coded.length)
    if coded.byte_order == "little_endian":
        return coded.start + run
    sent = 8 * (coded.start // 8) + 7 - coded.start % 8 + run[::-1]  # counted in the order of transmission
    return 8 * (sent // 8) + 7 - sent % 8
