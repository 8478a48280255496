"""Where ASC, TRC and python-can's CSV have what in a line (read by sifting.py)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import can
import numpy as np
from can.io.generic import TextIOMessageReader
from can.io.trc import TRCFileVersion
from numpy.typing import NDArray

from relearn.capture import skim_fields
from relearn.capture.fields import NO_NUMBER, Fields, Identifiers, base64_bytes, hex_numbers, in_range, spaced_bytes
from relearn.capture.marks import BLANK, COMMA, I64, U8, Mask, at
from relearn.capture.skim_fields import Dull

Times = NDArray[np.float64]
DIRECTIONS = frozenset({b"Rx", b"Tx"})


@dataclass(frozen=True)
class Layout:
    """Where a format has what, as numbers of fields.

    separator: a comma, or a blank for any stretch of blanks. seconds: python-can's, of the number in the field of the
    time. bus: None where there is none; channel: python-can's name of bus 0, or of the only one. words: fields that
    hold one of these words of one or two letters. data: the first field with it; packed: there is only one. exact: is
    there nothing behind the data? restart: what a line that may change the layout holds. whole: may a time have no
    fraction?
    """

    separator: int
    time: int
    seconds: Callable[[Times], Times]
    bus: int | None
    channel: int | None
    words: tuple[tuple[int, frozenset[bytes]], ...]
    length: int
    data: int
    identifiers: Callable[[Fields], Identifiers]
    read_data: Callable[[Fields, I64, int], tuple[U8, Mask]]
    dull: Dull
    packed: bool = False
    exact: bool = False
    restart: bytes = b""
    whole: bool = False


def _asc_identifiers(fields: Fields) -> Identifiers:
    place, width = fields.place(2), fields.width(2)
    extended = at(fields.text, place + width - 1) == ord("x")
    return in_range(hex_numbers(fields.text, place, width - extended), extended)


def _csv_identifiers(fields: Fields) -> Identifiers:
    place, width = fields.place(1), fields.width(1)
    prefixed = (at(fields.text, place) == ord("0")) & (at(fields.text, place + 1) == ord("x"))
    number = np.where(prefixed, hex_numbers(fields.text, place + 2, width - 2), NO_NUMBER)
    return in_range(number, at(fields.text, fields.place(2)) == ord("1"))


def _trc_identifiers(field: int) -> Callable[[Fields], Identifiers]:
    def identifiers(fields: Fields) -> Identifiers:
        width = fields.width(field)
        return in_range(hex_numbers(fields.text, fields.place(field), width), width > 4)

    return identifiers


def _as_it_is(time_s: Times) -> Times:
    return time_s


def layout(reader: TextIOMessageReader) -> Layout | None:
    """The layout that a reader has found in its header; None for one without usual lines."""
    if isinstance(reader, can.CSVReader):
        return CSV
    if isinstance(reader, can.ASCReader):
        return ASC if reader.base == "hex" else None
    return _trc(reader) if isinstance(reader, can.TRCReader) else None


ASC = Layout(
    BLANK, 0, _as_it_is, bus=1, channel=1, words=((3, DIRECTIONS), (4, frozenset({b"d"}))), length=5, data=6,
    identifiers=_asc_identifiers, read_data=spaced_bytes, dull=skim_fields.ASC,
)  # fmt: skip
CSV = Layout(
    COMMA, 0, _as_it_is, bus=None, channel=None,
    words=((2, frozenset({b"0", b"1"})), (3, frozenset({b"0"})), (4, frozenset({b"0"}))), length=5, data=6,
    identifiers=_csv_identifiers, read_data=base64_bytes, dull=skim_fields.CSV, packed=True, exact=True,
)  # fmt: skip
_TRC_FIELDS = {
    TRCFileVersion.UNKNOWN: {"N": 0, "O": 1, "I": 2, "L": 3, "D": 4},
    TRCFileVersion.V1_0: {"N": 0, "O": 1, "I": 2, "L": 3, "D": 4},
    TRCFileVersion.V1_1: {"N": 0, "O": 1, "d": 2, "I": 3, "L": 4, "D": 5},
    TRCFileVersion.V1_3: {"N": 0, "O": 1, "B": 2, "d": 3, "I": 4, "L": 6, "D": 7},
}


def _trc(reader: can.TRCReader) -> Layout | None:
    """Columns by their letters, which a header of version 2 lists."""
    columns = _TRC_FIELDS.get(reader.file_version, reader.columns)
    length = columns.get("l", columns.get("L", -1))
    if (
        (columns is not reader.columns and reader.columns)
        or not {"O", "I", "D"} <= set(columns)
        or length < 0
        or {"l", "L"} <= set(columns)
        or columns["D"] != max(columns.values())
    ):
        return None
    words = [
        (columns[letter], one) for letter, one in (("d", DIRECTIONS), ("T", frozenset({b"DT"}))) if letter in columns
    ]
    unknown_start = reader.file_version in (TRCFileVersion.UNKNOWN, TRCFileVersion.V1_0) or not reader.start_time
    start_s = 0.0 if unknown_start or reader.start_time is None else reader.start_time.timestamp()
    return Layout(
        BLANK,
        columns["O"],
        lambda time_ms: time_ms / 1000 + start_s,
        bus=columns.get("B"),
        channel=0 if "B" in columns else 1,
        words=tuple(words),
        length=length,
        data=columns["D"],
        identifiers=_trc_identifiers(columns["I"]),
        read_data=spaced_bytes,
        dull=skim_fields.trc(columns),
        exact=True,
        restart=b";$",
        whole=True,
    )
