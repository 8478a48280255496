"""Which captures lie below some folders: each file once, however many links lead to it, in an order that stays."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from relearn.capture import READERS
from relearn.capture.files import GZIP_DAMAGE, format_suffix
from relearn.errors import CaptureError, ChoiceError
from relearn.samples import header, is_export
from relearn.survey.columns import CSV_BEGINS


@dataclass(frozen=True)
class Found:
    """One capture. folder: the named one, absolute and with no link in it; file: below it, with forward slashes; path:
    absolute, as it was met; real: the path with no link in it, as text, which is what the file is known by."""

    folder: str
    file: str
    path: str
    real: str


@dataclass(frozen=True)
class Listing:
    """What lies below the folders. notes: what could not be looked into, and what was left out, as sentences."""

    captures: tuple[Found, ...]
    notes: tuple[str, ...] = ()


def captures_below(folders: Iterable[Path], besides: Iterable[Path] = ()) -> Listing:
    """Files whose suffix names a format of a capture (`capture.READERS`, also with .gz), sorted folder by folder.

    Links are followed, and a folder or file that was met already is not met again. Left out: `besides`; what relearn
    itself wrote, tables of surveys and exported samples; pipes and devices, which would be waited for. A folder that
    is not there: ChoiceError; one that may not be opened: a note.
    """
    walk = _Walk({os.path.realpath(path) for path in besides})
    found = tuple(one for folder in folders for one in walk.below(_checked(folder)))
    return Listing(found, tuple(walk.notes()))


def shown(path: str | Path) -> str:
    """A name as text that any file can hold: bytes that are no UTF-8 become escapes."""
    return os.fsencode(path).decode("utf-8", "backslashreplace")


def _checked(folder: Path) -> Path:
    if not folder.is_dir():
        what = "is no folder" if folder.exists() else "does not exist"
        raise ChoiceError(what, path=folder, remedy="name a folder with captures below it")
    return folder


@dataclass
class _Walk:
    """A walk through folders. met: real names of what was met; closed, own, odd: what was left out; others: how many
    files, by a suffix that names no format."""

    met: set[str]
    closed: list[str] = field(default_factory=list)
    own: list[str] = field(default_factory=list)
    odd: list[str] = field(default_factory=list)
    others: Counter[str] = field(default_factory=Counter)

    def below(self, folder: Path) -> Iterator[Found]:
        if not self._first_time(folder):
            return
        named = shown(os.path.realpath(folder))
        for place, inner, files in os.walk(folder, onerror=self._closed, followlinks=True):
            inner[:] = [name for name in sorted(inner) if self._first_time(Path(place, name))]
            for path in (Path(place, name) for name in sorted(files)):
                if self._first_time(path) and self._has_format(path) and self._may_be_judged(path):
                    file = path.relative_to(folder).as_posix()
                    yield Found(named, shown(file), str(path.absolute()), shown(os.path.realpath(path)))

    def notes(self) -> Iterator[str]:
        yield from self.closed
        if self.own:
            yield f"left out, written by relearn itself (tables of surveys, exported samples): {_counted(self.own)}"
        if self.odd:
            yield f"left out, no regular file (a pipe or a device): {_counted(self.odd)}"
        if self.others:
            several = ", ".join(f"{count} {suffix}" for suffix, count in sorted(self.others.items()))
            yield f"left out, since the name's ending is that of no format of captures: {several}"

    def _has_format(self, path: Path) -> bool:
        suffix = format_suffix(path)
        if suffix not in READERS:
            self.others[shown(suffix) or "without one"] += 1
        return suffix in READERS

    def _first_time(self, path: Path) -> bool:
        """Whether this file or folder, by its real name, is new; it is not any more."""
        real = os.path.realpath(path)  # unlike Path.resolve, it takes a link that leads to itself
        new = real not in self.met
        self.met.add(real)
        return new

    def _closed(self, wrong: OSError) -> None:
        self.closed.append(f"{shown(wrong.filename)} cannot be opened ({wrong.strerror}); nothing below it was judged")

    def _may_be_judged(self, path: Path) -> bool:
        if path.exists() and not path.is_file():
            self.odd.append(shown(path))
            return False
        if _is_own(path):
            self.own.append(shown(path))
            return False
        return True


def _is_own(path: Path) -> bool:
    """Whether relearn wrote this as an answer; what cannot be opened becomes a row, with the reason."""
    return _is_table(path) or is_export(path)


def _is_table(path: Path) -> bool:
    """The table of a survey."""
    try:
        return format_suffix(path) == ".csv" and header(path).startswith(CSV_BEGINS)
    except (OSError, CaptureError, *GZIP_DAMAGE):
        return False


def _counted(names: list[str]) -> str:
    return f"1 file ({names[0]})" if len(names) == 1 else f"{len(names)} files (the first: {names[0]})"
