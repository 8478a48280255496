"""Every other file of frames, through python-can's readers: ASC, TRC and python-can's own CSV; BLF, MF4 and SQLite.

What python-can stumbles over in a text is a malformed line: it is counted, and reading goes on behind it. In a binary
file it is damage: what was read before it stays. A file out of which nothing could be read is a CaptureError.
"""

from __future__ import annotations

import gc
import logging
import re
import sqlite3
import struct
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from functools import partial
from io import TextIOWrapper
from pathlib import Path
from typing import TextIO, cast

import can
from can.io.blf import BLFParseError
from can.io.generic import MessageReader, TextIOMessageReader

from relearn.capture import assemble, files
from relearn.capture.assemble import Tally
from relearn.capture.frames import Capture
from relearn.capture.keep import KEEP_DIAGNOSTIC, Keep
from relearn.capture.messages import Gathered, gather
from relearn.errors import CaptureError
from relearn.faults import Fault

MALFORMED = (ValueError, IndexError, KeyError, TypeError, ArithmeticError)
"""What python-can's text readers raise on a line they can make no sense of."""

DAMAGE = (*MALFORMED, *files.GZIP_DAMAGE, OSError, struct.error, BLFParseError, sqlite3.Error, AttributeError,
          MemoryError)
"""What python-can's binary readers, and asammdf below one of them, raise on noise or on a file cut short."""

MDF_MAGIC = (b"MDF     4.", b"UnFinMF 4.")  # ASAM MDF 4, identification block: file and format identifiers
MDF_ID_BYTES = 64

for _name in ("can", "asammdf"):  # their warnings about a bad file are faults here, and no text on a terminal
    logging.getLogger(_name).addHandler(logging.NullHandler())


@dataclass(frozen=True)
class _TextFormat:
    """A text format of python-can.

    resume: a line after which the reader goes on, behind a line it stumbled over, as it does behind a header.
    quiet: lines that hold no frame by right. frame: how a line with a frame begins, where the reader would swallow the
    first one as part of its header.
    """

    reader: Callable[[TextIO], TextIOMessageReader]
    resume: str
    quiet: re.Pattern[str]
    frame: re.Pattern[str] | None = None


_ASC = _TextFormat(
    can.ASCReader,
    resume="internal events logged\n",
    quiet=re.compile(r"\s*(//|date\b|base\b|(no\s+)?internal events|(begin|end)\s+triggerblock|$|"
                     r"\d+\.\d+\s+(?!\s|canfd\b)(\D|\d+\s+(?!\s|\w+\s+[rt]x\b)\D))", re.IGNORECASE),
    frame=re.compile(r"\s*\d+\.\d+\s"),
)
_TRC = _TextFormat(can.TRCReader, resume=";\n", quiet=re.compile(r"\s*(;|$)|.*\b(Warng|Error|ST|ER|EC|EV)\b"))
_CSV = _TextFormat(can.CSVReader, resume="\n", quiet=re.compile(r"\s*(timestamp\b|$)"))


@dataclass
class _Lines:
    """A text file that python-can reads, watched: which line it is at, and which lines came to nothing."""

    file: TextIO
    format: _TextFormat
    number: int = 0
    text: str = "\n"
    malformed: list[int] = field(default_factory=list)
    damage: BaseException | None = None
    _waiting: list[str] = field(default_factory=list)
    _unanswered: bool = False
    _begun: bool = False

    def __iter__(self) -> Iterator[str]:
        return self

    def __next__(self) -> str:
        if self._waiting:
            return self._waiting.pop()
        if self._unanswered and not self.format.quiet.match(self.text):
            self.malformed.append(self.number)
        self._unanswered = False
        self.text = self._next_line()
        self.number, self._unanswered = self.number + 1, True
        return self._with_header_ended(self.text)

    def _next_line(self) -> str:
        try:
            return next(self.file)
        except files.GZIP_DAMAGE as error:
            self.damage = error
            raise StopIteration from error

    def _with_header_ended(self, text: str) -> str:
        if self._begun or not self.format.frame or not self.format.frame.match(text):
            return text
        self._begun = True
        self._waiting.append(text)
        return self.format.resume

    def answered(self) -> int:
        """A frame came of this line; its number."""
        self._unanswered = False
        return self.number

    def stumbled(self) -> None:
        """The reader cannot go on: let it begin anew behind this line."""
        self._waiting = [self.format.resume]

    def unfinished(self) -> bool:
        """Has the last line no newline?"""
        return not self.text.endswith("\n")

    def close(self) -> None:
        """Close the file."""
        self.file.close()


def read_asc(path: Path, keep: Keep = KEEP_DIAGNOSTIC) -> Capture:
    """The kept frames of an ASC log. Its date, where python-can understands it, is taken as this computer's local time.

    CaptureError besides those of every text log: times counted from line to line.
    """
    reader, lines = _open(path, _ASC)
    gathered = gather(_text_messages(reader, lines), keep)
    if cast(can.ASCReader, reader).timestamps_format == "relative":
        raise CaptureError("counts its times from line to line, so a line left out shifts all that follow", path=path,
                           todo="save it again with absolute timestamps")
    start_unix_s = _asc_start(path)
    notes = () if start_unix_s is None else ("Its date has no time zone; this computer's is assumed.",)
    return _text_capture(path, gathered, lines, notes, start_unix_s)


def read_trc(path: Path, keep: Keep = KEEP_DIAGNOSTIC) -> Capture:
    """The kept frames of a TRC log, version 1.0, 1.1, 1.3, 2.0 or 2.1."""
    return _read_text(path, keep, _TRC)


def read_csv(path: Path, keep: Keep = KEEP_DIAGNOSTIC) -> Capture:
    """The kept frames of python-can's own CSV (timestamp, arbitration_id, extended, remote, error, dlc, data)."""
    return _read_text(path, keep, _CSV)


def _read_text(path: Path, keep: Keep, format_: _TextFormat) -> Capture:
    reader, lines = _open(path, format_)
    return _text_capture(path, gather(_text_messages(reader, lines), keep), lines)


def _open(path: Path, format_: _TextFormat) -> tuple[TextIOMessageReader, _Lines]:
    lines = _Lines(TextIOWrapper(files.open_binary(path), encoding="utf-8-sig", errors="replace"), format_)
    return format_.reader(cast(TextIO, lines)), lines


def _text_messages(reader: TextIOMessageReader, lines: _Lines) -> Iterator[tuple[int, can.Message]]:
    """Each message with its line number, over all lines the reader stumbles at."""
    before = -1
    while before < lines.number and not lines.file.closed:  # a reader closes the file at its end
        before = lines.number
        try:
            for message in reader:
                yield lines.answered(), message
        except MALFORMED:
            lines.stumbled()
    lines.close()


def _asc_start(path: Path) -> float | None:
    """The wall clock of an ASC log's first frame; None without a date or with one that python-can cannot read."""
    reader, lines = _open(path, replace(_ASC, reader=partial(can.ASCReader, relative_timestamp=False)))
    try:
        first = next(iter(reader), None)
    except MALFORMED:
        return None
    finally:
        lines.close()
    return first.timestamp if first and first.timestamp >= assemble.YEAR_2000_S else None


def _text_capture(path: Path, gathered: Gathered, lines: _Lines, notes: Iterable[str] = (),
                  start_unix_s: float | None = None) -> Capture:
    malformed = sorted({*lines.malformed, *gathered.malformed})
    cut_off = bool(malformed) and malformed[-1] == lines.number and lines.unfinished()
    faults = assemble.line_faults(Tally.of(malformed[:-1] if cut_off else malformed))
    faults += assemble.cut_off_fault(lines.number) if cut_off else []
    return _capture(path, gathered, faults, lines.damage, notes, start_unix_s)


def _capture(path: Path, gathered: Gathered, faults: list[Fault], damage: BaseException | None,
             notes: Iterable[str] = (), start_unix_s: float | None = None) -> Capture:
    if damage and gathered.span.first is None:
        raise _unreadable(path, damage) from damage
    faults += [assemble.damage_fault(damage, gathered.span.last[0])] if damage else []
    faults += assemble.error_frame_fault(gathered.error_frames)
    return assemble.capture(path, gathered.parts, gathered.span, faults=faults, notes=tuple(notes),
                            start_unix_s=start_unix_s)


def read_blf(path: Path, keep: Keep = KEEP_DIAGNOSTIC) -> Capture:
    """The kept frames of a BLF log."""
    file = files.open_binary(path)
    try:
        reader = can.BLFReader(file)
    except DAMAGE as error:
        file.close()
        raise _unreadable(path, error) from error
    missing = 0 if files.is_gzipped(path) else reader.file_size - path.stat().st_size
    cut = EOFError(f"{missing} bytes are missing at its end") if missing > 0 else None
    return _read_binary(path, reader, keep, cut)


def read_sqlite(path: Path, keep: Keep = KEEP_DIAGNOSTIC) -> Capture:
    """The kept frames of python-can's SQLite table `messages`."""
    return _read_binary(path, can.SqliteReader(path), keep)


def read_mf4(path: Path, keep: Keep = KEEP_DIAGNOSTIC) -> Capture:
    """The kept frames of an ASAM MDF 4 bus log. CaptureError besides the usual: asammdf is not installed."""
    try:
        from asammdf.blocks.utils import MdfException
    except ImportError:
        raise CaptureError("is an MF4 file, and what reads those is not installed", path=path,
                           todo='install it with pip install "relearn[mf4]"') from None
    with files.open_binary(path) as file:
        head = file.read(MDF_ID_BYTES)
    if len(head) < MDF_ID_BYTES or not head.startswith(MDF_MAGIC):
        raise CaptureError("is no MDF 4 file", path=path, todo="check the file, or give it its own format's suffix")
    with _without_last_words():
        try:
            reader = can.MF4Reader(files.open_binary(path) if files.is_gzipped(path) else path)
        except (*DAMAGE, MdfException) as error:
            reason = _unreadable(path, error)
        else:
            return _read_binary(path, reader, keep)
        gc.collect()  # now, while its last words are not heard
    raise reason


@contextmanager
def _without_last_words() -> Iterator[None]:
    """On a damaged file asammdf leaves a half-made object, whose end prints a traceback; nothing else is hushed."""
    usual = sys.unraisablehook

    def hook(complaint: sys.UnraisableHookArgs) -> None:
        if getattr(complaint.object, "__qualname__", "") != "MDF4.__del__":
            usual(complaint)

    sys.unraisablehook = hook
    try:
        yield
    finally:
        sys.unraisablehook = usual


def _read_binary(path: Path, reader: MessageReader, keep: Keep, damage: BaseException | None = None) -> Capture:
    broken: list[BaseException] = []
    with reader:
        gathered = gather(_until_damage(reader, broken), keep)
    faults = assemble.line_faults(Tally.of(gathered.malformed), "frame")
    return _capture(path, gathered, faults, broken[0] if broken else damage)


def _until_damage(reader: MessageReader, broken: list[BaseException]) -> Iterator[tuple[int, can.Message]]:
    """Each message with its ordinal, up to the first damage, which goes into `broken`."""
    try:
        yield from enumerate(reader, 1)
    except DAMAGE as error:
        broken.append(error)


def _unreadable(path: Path, error: BaseException) -> CaptureError:
    return CaptureError(f"cannot be read as {files.format_suffix(path)[1:].upper()} ({error or type(error).__name__})",
                        path=path, todo="copy it again from where it was recorded, or check its suffix")
