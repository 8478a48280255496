"""A whole survey: the rows that an earlier one made of the same captures, then the rest, kept as they come."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Protocol

from relearn import __version__
from relearn.capture import sha256
from relearn.capture.files import format_suffix
from relearn.errors import CaptureError
from relearn.survey import table
from relearn.survey.columns import UNREADABLE, Row
from relearn.survey.find import Found
from relearn.survey.flow import Meanwhile
from relearn.survey.questions import Asked

SAVE_S = 10.0  # the most that a kill can cost
Judged = Iterator[tuple[Found, Row]]
Step = Callable[[Row, bool], None]


class Crew(Protocol):
    """Who judges (pool.judged, cluster.judged): captures to rows, as they are done."""

    def __call__(self, captures: Iterable[Found], *, meanwhile: Meanwhile) -> Judged: ...


def survey(captures: Sequence[Found], asked: Asked, crew: Crew, out: Path | None, step: Step) -> tuple[Row, ...]:
    """One row for each capture, in their order.

    step: told of each row, and whether it was there already. out: where rows are read from and kept, every ten seconds,
    however long a capture takes, and whatever ends the survey early. They are looked up in `out` itself and in no
    cache: one file, which its owner sees, moves and deletes. Rows of folders that this survey was not asked about stay.
    """
    kept = _Kept(out, asked, captures, table.read(out, asked) if out is not None else ())
    try:
        for found, row, was_there in _rows(captures, crew, kept):
            kept.made[found] = row
            step(row, was_there)
            kept.save_if_due()
    finally:
        _surely(kept.save)
    return tuple(kept.made[one] for one in captures)


def _surely(save: Callable[[], None]) -> None:
    """Save even where Ctrl-C comes right then."""
    try:
        save()
    except KeyboardInterrupt:
        save()
        raise


@dataclass
class _Kept:
    """The rows so far, and the file they go to. old: what it held before."""

    out: Path | None
    asked: Asked
    captures: Sequence[Found]
    old: Sequence[Row]
    made: dict[Found, Row] = field(default_factory=dict)
    saved: int = 0
    saved_s: float = field(default_factory=time.monotonic)

    def save_if_due(self) -> None:
        if time.monotonic() - self.saved_s >= SAVE_S:
            self.save()

    def save(self) -> None:
        """All rows, where there are new ones."""
        if self.out is not None and len(self.made) > self.saved:
            made = [self.made[one] for one in self.captures if one in self.made]
            table.write(self.out, (*made, *_left(self.captures, self.made, self.old)), self.asked.question)
            self.saved = len(made)
        self.saved_s = time.monotonic()


def _rows(captures: Sequence[Found], crew: Crew, kept: _Kept) -> Iterator[tuple[Found, Row, bool]]:
    """Every capture with its row, and whether that was there already."""
    known = _usable(kept.old)
    rest = []
    for found in captures:
        row = _known(found, known)
        if row is None:
            rest.append(found)
        else:
            yield found, row, True
    for found, row in crew(rest, meanwhile=kept.save_if_due) if rest else ():
        yield found, row, False


def _usable(old: Iterable[Row]) -> Mapping[tuple[str, str], Row]:
    """Rows that would be made the same again, by the content and format of their capture. One that could not be read is
    tried again: it may have lacked memory, or a library that is there now."""
    return {
        (str(row["sha256"]), format_suffix(Path(str(row["file"])))): row
        for row in old
        if row["verdict"] != UNREADABLE and row["version"] == __version__
    }


def _known(found: Found, known: Mapping[tuple[str, str], Row]) -> Row | None:
    """The row of the same content, under the name that it has now."""
    if not known:
        return None
    path = Path(found.path)
    try:
        row = known.get((sha256(path), format_suffix(path)))
    except CaptureError:
        return None  # judging it says what is wrong
    return None if row is None else {**row, "folder": found.folder, "file": found.file, "path": found.real}


def _left(captures: Sequence[Found], made: Mapping[Found, Row], old: Iterable[Row]) -> Iterator[Row]:
    """Old rows that stay: of other folders, unless their file went to one of these; and until this survey is through,
    of captures that it has not reached."""
    whole = len(made) == len(captures)
    folders = {one.folder for one in captures}
    below = tuple(f"{folder.rstrip(os.sep)}{os.sep}" for folder in folders)
    here, contents = {one.real for one in made}, {row["sha256"] for row in made.values()} - {""}
    for row in old:
        path = str(row["path"])
        gone = row["folder"] in folders or path.startswith(below)
        moved = row["sha256"] in contents and not Path(path).exists()
        if path not in here and not moved and not (whole and gone):
            yield row
