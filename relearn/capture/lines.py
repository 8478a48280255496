"""The lines of a text file on their way to python-can's reader, those left out that can be read without it."""

from __future__ import annotations

import codecs
import re
from collections.abc import Callable, Generator, Iterator
from dataclasses import dataclass, field
from io import BytesIO, TextIOWrapper
from pathlib import Path
from typing import TextIO

import numpy as np
from can.io.generic import TextIOMessageReader

from relearn.capture.assemble import MAX_11
from relearn.capture.blocks import BLOCK_BYTES, WAITING_BYTES, Blocks, Waiting
from relearn.capture.fields import split, unmistakable
from relearn.capture.layouts import Layout, layout
from relearn.capture.marks import NEWLINE, Desk, places
from relearn.capture.messages import Gathered
from relearn.capture.sifting import sift
from relearn.capture.skim_fields import without_dull_lines


@dataclass(frozen=True)
class TextFormat:
    """A text format of python-can.

    resume: a line after which the reader goes on, behind a line it stumbled over, as it does behind a header.
    quiet: lines that hold no frame by right. frame: how a line with a frame begins, where the reader would swallow the
    first one as part of its header.
    """

    reader: Callable[[TextIO], TextIOMessageReader]
    resume: str
    quiet: re.Pattern[str]
    frame: re.Pattern[str] | None = None


@dataclass
class Lines:
    """A text file as python-can reads it: a line at a time, watched; but once the layout is known, only odd lines.

    number, text: of the line it is at. malformed: the numbers of lines that came to nothing.
    """

    path: Path
    format: TextFormat
    gathered: Gathered
    number: int = 0
    text: str = "\n"
    malformed: list[int] = field(default_factory=list)
    layout: Layout | None = None
    closed: bool = False
    _waiting: list[str] = field(default_factory=list)
    _aside: Waiting = field(default_factory=Waiting)
    _examples: list[re.Match[bytes]] = field(default_factory=list)
    _unanswered: bool = False
    _begun: bool = False
    _settled: bool = False

    def __post_init__(self) -> None:
        self._blocks = Blocks(self.path, BLOCK_BYTES, (b"\n", b"\r"))
        self._texts = self._numbered()
        every_11 = np.arange(MAX_11 + 1, dtype=np.uint32)
        self._unwanted_11 = np.append(~self.gathered.keep.mask(every_11, np.zeros(len(every_11), np.bool_)), False)

    @property
    def damage(self) -> BaseException | None:
        """What broke while reading."""
        return self._blocks.damage

    def __iter__(self) -> Iterator[str]:
        return self

    def __next__(self) -> str:
        if self._waiting:
            return self._waiting.pop()
        if self._unanswered and not self.format.quiet.match(self.text):
            self.malformed.append(self.number)
        self._unanswered = False
        try:
            self.number, self.text = next(self._texts)
        except (ValueError, LookupError, TypeError, ArithmeticError) as error:
            raise RuntimeError("a mistake in sifting") from error  # must not pass for a malformed line
        self._unanswered = True
        return self._with_header_ended(self.text)

    def _numbered(self) -> Generator[tuple[int, str], None, None]:
        """The lines that python-can is to read, with their numbers."""
        count, desk = 0, Desk(BLOCK_BYTES)  # gone with this generator: readers of python-can outlive their reading
        for block in self._blocks:
            text = block.tobytes()
            text = text.removeprefix(codecs.BOM_UTF8) if not count else text
            begin = 0
            while begin < len(text) and not self._settled:  # the layout is known behind the first frame
                end = text.find(b"\n", begin) + 1 or len(text)
                for line in _lines(text[begin:end]):
                    count += 1
                    yield count, line
                begin = end
            text = text[begin:]
            yield from self._before_restart(text)
            if lines := self._set_aside(text, count + 1, desk):
                yield from self._odd_lines(WAITING_BYTES)
                count += lines
                continue
            yield from self._odd_lines()
            for line in _lines(text):
                count += 1
                yield count, line
        yield from self._odd_lines()
        if not self.damage:
            yield from enumerate(_lines(self._blocks.rest.removeprefix(b"" if count else codecs.BOM_UTF8)), count + 1)

    def _set_aside(self, text: bytes, number: int, desk: Desk) -> int:
        """Let whole lines wait, those that nobody asked for left out; how many; 0 where all are to be read now."""
        if self.layout is None:
            return 0
        view = np.frombuffer(text, np.uint8)
        newline = places(desk.equal(view, NEWLINE))
        if not unmistakable(view, newline):
            return 0
        found = without_dull_lines(view, newline, self.layout.dull, self._unwanted_11, self._examples)
        self._aside.add(found.text, found.rows + number)
        self.gathered.span.frames += found.lines - len(found.rows)
        return found.lines

    def _before_restart(self, text: bytes) -> Iterator[tuple[int, str]]:
        """Where the layout may change: what waits, still by the old one; from there on python-can reads every line."""
        sign = self.layout.restart if self.layout else b""
        if sign and sign[:1] in text and sign in text:  # to look for one byte takes a tenth of the time
            yield from self._odd_lines()
            self.layout = None

    def _odd_lines(self, at_least: int = 1) -> Iterator[tuple[int, str]]:
        """Gather the usual ones of the lines set aside, if there are so many bytes of them; the others."""
        if self._aside.size >= at_least and self.layout:
            texts, numbers = self._aside.drain()
            fields = split(np.concatenate(texts), self.layout.separator)
            for row in sift(self.layout, fields, numbers, self.gathered):
                yield int(numbers[row]), _lines(fields.line(row))[0]

    def _with_header_ended(self, text: str) -> str:
        if self._begun or not self.format.frame or not self.format.frame.match(text):
            return text
        self._begun = True
        self._waiting.append(text)
        return self.format.resume

    def answered(self, reader: TextIOMessageReader) -> int:
        """A frame came of this line; its number. The first says that the reader knows the layout."""
        self._unanswered = False
        if not self._settled:
            self._settled, self.layout = True, layout(reader)
        return self.number

    def stumbled(self) -> None:
        """The reader cannot go on: let it begin anew behind this line."""
        self._waiting = [self.format.resume]

    def unfinished(self) -> bool:
        """Has the last line no newline?"""
        return bool(self._blocks.rest)

    def close(self) -> None:
        """Nothing more will be read."""
        self.closed = True
        self._texts.close()


def _lines(text: bytes) -> list[str]:
    """Lines as a text file of Python has them."""
    return list(TextIOWrapper(BytesIO(text), encoding="utf-8", errors="replace"))
