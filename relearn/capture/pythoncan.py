"""Files of frames through python-can's readers: ASC, TRC and python-can's own CSV; BLF and SQLite (MF4: mf4.py).

What python-can stumbles over in a text is a malformed line: it is counted, and reading goes on behind it. In a binary
file it is damage: what was read before it stays. A file out of which nothing could be read is a CaptureError.
"""

from __future__ import annotations

import logging
import re
import sqlite3
import struct
from collections.abc import Iterator
from pathlib import Path
from typing import TextIO, cast

import can
from can.io.blf import BLFParseError
from can.io.generic import MessageReader, TextIOMessageReader

from relearn.capture import assemble, files
from relearn.capture.assemble import Tally
from relearn.capture.frames import Capture
from relearn.capture.keep import KEEP_DIAGNOSTIC, Keep
from relearn.capture.lines import Lines, TextFormat
from relearn.capture.messages import Gathered, gather
from relearn.errors import CaptureError
from relearn.faults import Fault

MALFORMED = (ValueError, IndexError, KeyError, TypeError, ArithmeticError)
"""What python-can's text readers raise on a line they can make no sense of."""

Errors = tuple[type[Exception], ...]
DAMAGE: Errors = (
    *MALFORMED,
    *files.GZIP_DAMAGE,
    OSError,
    struct.error,
    BLFParseError,
    sqlite3.Error,
    AttributeError,
    MemoryError,
)
"""What python-can's binary readers raise on noise or on a file cut short."""

logging.getLogger("can").addHandler(logging.NullHandler())  # its warnings about a bad file are faults here


_ASC = TextFormat(
    can.ASCReader,
    resume="internal events logged\n",
    quiet=re.compile(
        r"\s*(//|date\b|base\b|(no\s+)?internal events|(begin|end)\s+triggerblock|$|"
        r"\d+\.\d+\s+(?!\s|canfd\b)(\D|\d+\s+(?!\s|\w+\s+[rt]x\b)\D))",
        re.IGNORECASE,
    ),
    frame=re.compile(r"\s*\d+\.\d+\s"),
)
_TRC = TextFormat(
    can.TRCReader, resume=";\n", quiet=re.compile(r"\s*(;|$|\d+\)?\s+[\d.]+\s+(\d+\s+)?(Warng|Error|ST|ER|EC|EV)\b)")
)
_CSV = TextFormat(can.CSVReader, resume="\n", quiet=re.compile(r"\s*(timestamp\b|$)"))


def read_asc(path: Path, keep: Keep = KEEP_DIAGNOSTIC) -> Capture:
    """The kept frames of an ASC log. Its date, where python-can understands it, is taken as this computer's local time.

    CaptureError besides those of every text log: times counted from line to line.
    """
    reader, lines = _open(path, _ASC, keep)
    gathered = gather(_text_messages(reader, lines), lines.gathered)
    if cast(can.ASCReader, reader).timestamps_format == "relative":
        raise CaptureError(
            "counts its times from line to line, so a line left out shifts all that follow",
            path=path,
            remedy="save it again with absolute timestamps",
        )
    zero_unix_s = _asc_zero(path)
    notes = ("Its date has no time zone; this computer's is assumed.",) if zero_unix_s else ()
    return _text_capture(path, gathered, lines, notes, zero_unix_s)


def read_trc(path: Path, keep: Keep = KEEP_DIAGNOSTIC) -> Capture:
    """The kept frames of a TRC log, version 1.0, 1.1, 1.3, 2.0 or 2.1."""
    return _read_text(path, keep, _TRC)


def read_csv(path: Path, keep: Keep = KEEP_DIAGNOSTIC) -> Capture:
    """The kept frames of python-can's own CSV (timestamp, arbitration_id, extended, remote, error, dlc, data)."""
    return _read_text(path, keep, _CSV)


def _read_text(path: Path, keep: Keep, format_: TextFormat) -> Capture:
    reader, lines = _open(path, format_, keep)
    return _text_capture(path, gather(_text_messages(reader, lines), lines.gathered), lines)


def _open(path: Path, format_: TextFormat, keep: Keep) -> tuple[TextIOMessageReader, Lines]:
    lines = Lines(path, format_, Gathered(keep))
    return format_.reader(cast(TextIO, lines)), lines


def _text_messages(reader: TextIOMessageReader, lines: Lines) -> Iterator[tuple[int, can.Message]]:
    """Each message with its line number, over all lines the reader stumbles at."""
    before = -1
    while before < lines.number and not lines.closed:  # a reader closes the file at its end
        before = lines.number
        try:
            for message in reader:
                yield lines.answered(reader), message
        except MALFORMED:
            lines.stumbled()
    lines.close()


def _asc_zero(path: Path) -> float:
    """The wall clock of an ASC log's time zero; 0 without a date or with one that python-can cannot read."""
    reader = can.ASCReader(cast(TextIO, Lines(path, _ASC, Gathered(KEEP_DIAGNOSTIC))), relative_timestamp=False)
    try:
        next(iter(reader), None)
    except MALFORMED:
        return 0.0
    finally:
        reader.stop()
    return reader.start_time


def _text_capture(
    path: Path, gathered: Gathered, lines: Lines, notes: tuple[str, ...] = (), zero_unix_s: float = 0.0
) -> Capture:
    malformed = sorted({*lines.malformed, *gathered.malformed})
    cut_off = bool(malformed) and malformed[-1] == lines.number and lines.unfinished()
    faults = assemble.line_faults(Tally.of(malformed[:-1] if cut_off else malformed))
    faults += assemble.cut_off_fault(lines.number) if cut_off else []
    faults += _other_faults(path, gathered, lines.damage, "line")
    return assemble.capture(path, gathered.parts, gathered.span, faults=faults, notes=notes, zero_unix_s=zero_unix_s)


def _other_faults(path: Path, gathered: Gathered, damage: BaseException | None, unit: str) -> list[Fault]:
    """Faults for damage and for error frames. CaptureError for damage before the first frame."""
    if damage and gathered.span.first is None:
        raise unreadable(path, damage) from damage
    faults = [assemble.damage_fault(damage, gathered.span.last[0], unit)] if damage else []
    return faults + assemble.error_frame_fault(gathered.error_frames)


def read_blf(path: Path, keep: Keep = KEEP_DIAGNOSTIC) -> Capture:
    """The kept frames of a BLF log."""
    file = files.open_binary(path)
    try:
        reader = can.BLFReader(file)
    except DAMAGE as error:
        file.close()
        raise unreadable(path, error) from error
    missing = 0 if files.is_gzipped(path) else reader.file_size - path.stat().st_size
    cut = EOFError(f"{missing} bytes are missing at its end") if missing > 0 else None
    return read_binary(path, reader, keep, known=cut)


def read_sqlite(path: Path, keep: Keep = KEEP_DIAGNOSTIC) -> Capture:
    """The kept frames of python-can's SQLite table `messages`."""
    return read_binary(path, can.SqliteReader(path), keep)


def read_binary(
    path: Path, reader: MessageReader, keep: Keep, *, known: BaseException | None = None, damage: Errors = DAMAGE
) -> Capture:
    """The kept frames that come from a reader, numbered from 1, up to the first error that is one of `damage`.

    known: damage that shows in the file's size, should the reader not stumble.
    """
    broken: list[BaseException] = []
    with reader:
        gathered = gather(_until_damage(reader, damage, broken), Gathered(keep))
    faults = assemble.line_faults(Tally.of(gathered.malformed), "frame")
    faults += _other_faults(path, gathered, broken[0] if broken else known, "frame")
    return assemble.capture(path, gathered.parts, gathered.span, unit="frame", faults=faults)


def _until_damage(
    reader: MessageReader, damage: Errors, broken: list[BaseException]
) -> Iterator[tuple[int, can.Message]]:
    """Each message with its ordinal, up to the first damage, which goes into `broken`."""
    try:
        yield from enumerate(reader, 1)
    except damage as error:
        broken.append(error)


def unreadable(path: Path, error: BaseException) -> CaptureError:
    """The error for a file out of which nothing could be read."""
    form, reason = files.format_suffix(path)[1:].upper(), str(error) or type(error).__name__
    return CaptureError(
        f"cannot be read as {form} ({reason})",
        path=path,
        remedy="copy it again from where it was recorded, or check its suffix",
    )
