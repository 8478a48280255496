"""A whole survey: the rows that an earlier one made of the same captures, then the rest, kept as they come."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from pathlib import Path

from relearn import __version__
from relearn.capture import sha256
from relearn.capture.files import format_suffix
from relearn.errors import CaptureError
from relearn.survey import table
from relearn.survey.columns import Row
from relearn.survey.find import Found
from relearn.survey.questions import Asked

SAVE_S = 10.0  # the most that a kill can cost
Judged = Iterator[tuple[Found, Row]]
Crew = Callable[[Iterable[Found]], Judged]
Step = Callable[[Row, bool], None]


def survey(captures: Sequence[Found], asked: Asked, crew: Crew, out: Path | None, step: Step) -> tuple[Row, ...]:
    """One row for each capture, in their order.

    crew: who judges (pool.judged, cluster.judged). step: told of each row, and whether it was there already.
    out: where rows are read from and kept, every ten seconds and whatever ends the survey early. They are looked up in
    `out` itself and in no cache: one file, which its owner sees, moves and deletes. Rows of folders that this survey
    was not asked about stay in it.
    """
    old = table.read(out, asked) if out is not None else ()
    made: dict[Found, Row] = {}
    saved_s = time.monotonic()
    try:
        for found, row in _rows(captures, asked, crew, old, step):
            made[found] = row
            if time.monotonic() - saved_s >= SAVE_S:
                _save(out, asked, captures, made, old)
                saved_s = time.monotonic()
    finally:
        _save(out, asked, captures, made, old)
    return tuple(made[one] for one in captures)


def _rows(captures: Sequence[Found], asked: Asked, crew: Crew, old: Iterable[Row], step: Step) -> Judged:
    known = _usable(old, asked)
    rest = []
    for found in captures:
        row = _known(found, known)
        if row is None:
            rest.append(found)
            continue
        step(row, True)
        yield found, row
    for found, row in crew(rest) if rest else ():
        step(row, False)
        yield found, row


def _usable(old: Iterable[Row], asked: Asked) -> Mapping[tuple[str, str], Row]:
    """Rows that would be made the same again, by the content and format of their capture."""
    same = (asked.question, asked.relearn, asked.sheet_sha256, __version__)
    return {
        (str(row["sha256"]), format_suffix(Path(str(row["file"])))): row
        for row in old
        if row["sha256"] and (row["question"], row["relearn"], row["sheet_sha256"], row["version"]) == same
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
    return None if row is None else {**row, "folder": found.folder, "file": found.file}


def _save(
    out: Path | None, asked: Asked, captures: Sequence[Found], made: Mapping[Found, Row], old: Iterable[Row]
) -> None:
    if out is not None and made:
        table.write(out, (*(made[one] for one in captures if one in made), *_left(captures, made, old)), asked.question)


def _left(captures: Sequence[Found], made: Mapping[Found, Row], old: Iterable[Row]) -> Iterator[Row]:
    """Old rows that stay: of other folders; and until this survey is through, of captures that it has not reached."""
    whole = len(made) == len(captures)
    folders = {one.folder for one in captures}
    named = {(one.folder, one.file) for one in made}
    for row in old:
        if (row["folder"], row["file"]) not in named and not (whole and row["folder"] in folders):
            yield row
