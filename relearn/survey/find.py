"""Which captures lie below some folders: each file once, however many links lead to it, in an order that stays."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from relearn.capture import READERS
from relearn.capture.files import first_line, format_suffix
from relearn.errors import CaptureError, ChoiceError
from relearn.survey.columns import CSV_BEGINS


@dataclass(frozen=True)
class Found:
    """One capture. folder: as it was named; file: below it, with forward slashes; path: absolute."""

    folder: str
    file: str
    path: str


@dataclass(frozen=True)
class Listing:
    """What lies below the folders. notes: what could not be looked into, and what was left out, as sentences."""

    captures: tuple[Found, ...]
    notes: tuple[str, ...] = ()


def captures_below(folders: Iterable[Path], besides: Iterable[Path] = ()) -> Listing:
    """Files whose suffix names a format of a capture (`capture.READERS`, also with .gz), sorted folder by folder.

    Links are followed, and a folder or file that was met already is not met again. `besides` and the CSV tables of
    surveys are left out. A folder that is not there: ChoiceError; one that may not be opened: a note.
    """
    notes: list[str] = []
    met = {os.path.realpath(path) for path in besides}
    found = tuple(one for folder in folders for one in _below(_checked(folder), met, notes))
    return Listing(found, tuple(notes))


def shown(path: str | Path) -> str:
    """A name as text that any file can hold: bytes that are no UTF-8 become escapes."""
    return os.fsencode(path).decode("utf-8", "backslashreplace")


def _checked(folder: Path) -> Path:
    if not folder.is_dir():
        what = "is no folder" if folder.exists() else "does not exist"
        raise ChoiceError(what, path=folder, remedy="name a folder with captures below it")
    return folder


def _below(folder: Path, met: set[str], notes: list[str]) -> Iterator[Found]:
    def closed(wrong: OSError) -> None:
        notes.append(f"{shown(wrong.filename)} cannot be opened ({wrong.strerror}); nothing below it was judged")

    if not _first_time(folder, met):
        return
    for place, inner, files in os.walk(folder, onerror=closed, followlinks=True):
        inner[:] = [name for name in sorted(inner) if _first_time(Path(place, name), met)]
        for name in sorted(files):
            path = Path(place, name)
            if format_suffix(path) in READERS and _first_time(path, met) and not _table(path, notes):
                relative = path.relative_to(folder)
                yield Found(shown(folder), shown(relative.as_posix()), str(path.absolute()))


def _first_time(path: Path, met: set[str]) -> bool:
    """Whether this file or folder, by its real name, is new; it is not any more."""
    real = os.path.realpath(path)  # unlike Path.resolve, it takes a link that leads to itself
    new = real not in met
    met.add(real)
    return new


def _table(path: Path, notes: list[str]) -> bool:
    """Whether this is the table of another survey and no capture."""
    if path.suffix.lower() != ".csv":
        return False
    try:
        ours = first_line(path).startswith(CSV_BEGINS)
    except (OSError, CaptureError):
        return False  # it becomes a row, with the reason
    if ours:
        notes.append(f"{shown(path)} is the table of a survey and was left out")
    return ours
