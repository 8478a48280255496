"""A drill: a trainer's TOML of where to stop in which capture and what to ask, read with its captures.

A drill holds no answers. Its captures lie in its own folder or below, so that a drill travels as one folder and reads
nothing else.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from relearn.errors import RelearnError, SheetError
from relearn.procedures.loader import procedures
from relearn.procedures.packaged import Number, Text
from relearn.procedures.sheets import Sheet, generic, load_sheet, sheet_path
from relearn.recording import Recording, read
from relearn.toml_files import read_toml

Kind = Literal["ready", "missing", "settle", "happened"]
OF_A_RELEARN = ("ready", "missing")
MOST_STOPS, LONGEST = 1_000, 1_000  # stops, letters of a text: far beyond any lesson
MOST_BYTES, LONGEST_LINE = 500_000, 12_000  # reading TOML takes very long where a key is nested very deep
Said = Annotated[Text, Field(max_length=LONGEST)]
HEADING = """\
# A drill: recordings that stop and ask. Edit it as you like; `relearn drill check` names what does not fit.
# The right answers are not written here: they are worked out from the recording when the drill is played.
#   capture  a recording in this folder or below it      at_s  where it stops, in seconds from its start
#   kind     ready, missing, settle or happened          relearn  which one, for ready and missing
#   wording  (if you like) your own question             note  (if you like) shown after the answer
"""


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class Stop(_Part):
    """One question: where the recording stops and what is asked. relearn: for 'ready' and 'missing', and only there."""

    capture: Said
    at_s: Annotated[Number, Field(ge=0)]
    kind: Kind
    relearn: Said | None = None
    wording: Said | None = None
    note: Said | None = None


class DrillFile(_Part):
    """The whole file. sheet: a packaged sheet's name or a path from the drill's folder; the generic limits without."""

    title: Said
    sheet: Said | None = None
    stop: Annotated[tuple[Stop, ...], Field(min_length=1, max_length=MOST_STOPS)]


@dataclass(frozen=True, eq=False)
class Drill:
    """A drill that holds together: its stops in the order in which they are played, its captures by name, read."""

    path: Path
    title: str
    sheet: Sheet
    stops: tuple[Stop, ...]
    recordings: Mapping[str, Recording]


def load(path: Path) -> Drill:
    """The drill with everything it needs. The first mistake is a SheetError with the file and the key."""
    file, recordings = _file(path), dict[str, Recording]()
    for mistake in _mistakes(path, file, recordings):
        raise mistake
    return Drill(path, file.title, _sheet(path, file), played(file), recordings)


def mistakes(path: Path) -> tuple[str, ...]:
    """Every mistake in a drill as one sentence with its key; none at all for a good one. Never raises."""
    try:
        return tuple(str(one) for one in _mistakes(path, _file(path), {}))
    except SheetError as unreadable:
        return (str(unreadable),)


def played(file: DrillFile) -> tuple[Stop, ...]:
    """Capture after capture as the file first names them, each from its start on; at one moment as the file has it."""
    names = list(dict.fromkeys(stop.capture for stop in file.stop))
    return tuple(sorted(file.stop, key=lambda stop: (names.index(stop.capture), stop.at_s)))


def to_toml(file: DrillFile) -> str:
    """The file as it is written for a trainer. Keys that are not set are left out."""
    head = [f"title = {_string(file.title)}", *([f"sheet = {_string(file.sheet)}"] if file.sheet is not None else [])]
    return "\n".join((HEADING + head[0], *head[1:], *map(_stop_toml, file.stop))) + "\n"


def _stop_toml(stop: Stop) -> str:
    given = {name: value for name, value in stop.model_dump().items() if value is not None}
    lines = [
        f"{name} = {str(value).removesuffix('.0')}" if name == "at_s" else f"{name} = {_string(value)}"
        for name, value in given.items()
    ]
    return "\n".join(("", "[[stop]]", *lines))


def _string(text: str) -> str:
    """A basic string of TOML: the escapes of JSON, and the one control character that JSON lets pass."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _file(path: Path) -> DrillFile:
    _small(path, "drill")
    try:
        return DrillFile.model_validate(read_toml(path, "drill"))
    except ValidationError as wrong:
        first = wrong.errors()[0]
        key = ".".join(str(part) for part in first["loc"])
        raise SheetError(_said(first["type"], first["msg"]), path=path, key=key, remedy="correct that key") from None


def _small(path: Path, what: str) -> None:
    """SheetError for a pipe, which nobody may ever fill, and for what is far too large to be written by a trainer.

    What is not there or may not be read is left to whoever reads it.
    """
    if path.exists() and not path.is_file():
        raise SheetError(f"this is no file and so no {what}", path=path, remedy="name a TOML file")
    if path.is_file() and path.stat().st_size > MOST_BYTES:
        raise SheetError(f"no {what} is larger than {MOST_BYTES} bytes", path=path, remedy="make it smaller")
    for number, line in enumerate(_lines(path), start=1):
        if len(line) > LONGEST_LINE:
            said = f"this line has more than {LONGEST_LINE} characters"
            raise SheetError(said, path=path, line=number, remedy="make it shorter")


def _lines(path: Path) -> Sequence[bytes]:
    try:
        return path.read_bytes().splitlines()
    except OSError:
        return ()  # whoever reads it next says why


SAID = {
    "extra_forbidden": "a drill has no such key",
    "string_pattern_mismatch": "this is blank",
    "string_too_long": f"no text in a drill is longer than {LONGEST} characters",
    "too_long": f"no drill has more than {MOST_STOPS} stops",
    "too_short": "a drill has at least one stop",
    "missing": "this is missing",
    "tuple_type": "stops are tables that begin with [[stop]]",
    "model_type": "a stop is a table that begins with [[stop]]",
    "float_type": "this should be a number of seconds",
}


def _said(kind: str, message: str) -> str:
    return SAID.get(kind, message.lower())


def _mistakes(path: Path, file: DrillFile, recordings: dict[str, Recording]) -> Iterator[SheetError]:
    """Every mistake, and into `recordings` every capture that can be read."""
    try:
        _sheet(path, file)
    except RelearnError as wrong:
        yield SheetError(f"the sheet cannot be used ({wrong.what})", path=path, key="sheet", remedy="name another")
    failed: set[str] = set()
    for place, stop in enumerate(file.stop):
        if stop.capture not in recordings and stop.capture not in failed:
            try:
                recordings[stop.capture] = read(_inside(path, stop.capture))
            except RelearnError as wrong:
                failed.add(stop.capture)
                yield SheetError(
                    f"the capture '{stop.capture}' cannot be used ({wrong.what})",
                    path=path,
                    key=f"stop.{place}.capture",
                    remedy="correct the name or put the file there",
                )
        yield from _stop_mistakes(path, place, stop, recordings.get(stop.capture))
    yield from _repeated(path, file.stop)


def _repeated(path: Path, stops: Sequence[Stop]) -> Iterator[SheetError]:
    asked: dict[tuple[object, ...], int] = {}
    for place, stop in enumerate(stops):
        first = asked.setdefault((stop.capture, stop.at_s, stop.kind, stop.relearn), place)
        if first != place:
            said = f"the same is asked at stop {first} already"
            yield SheetError(said, path=path, key=f"stop.{place}", remedy="leave one out")


def _stop_mistakes(path: Path, place: int, stop: Stop, recording: Recording | None) -> Iterator[SheetError]:
    def mistake(key: str, what: str, remedy: str) -> SheetError:
        return SheetError(what, path=path, key=f"stop.{place}.{key}", remedy=remedy)

    if recording is not None and stop.at_s > recording.duration_s:
        ends = f"the capture '{stop.capture}' ends at {recording.duration_s:.1f} s"
        yield mistake("at_s", f"{stop.at_s:g} s lies outside: {ends}", "stop before its end")
    known = ", ".join(askable())
    if stop.kind not in OF_A_RELEARN and stop.relearn is not None:
        yield mistake("relearn", f"'{stop.kind}' is not asked of a relearn", "leave it out")
    if stop.kind in OF_A_RELEARN and stop.relearn is None:
        yield mistake("relearn", f"'{stop.kind}' is asked of a relearn", f"name one of {known}")
    if stop.kind in OF_A_RELEARN and stop.relearn is not None and stop.relearn not in askable():
        yield mistake("relearn", f"no relearn called '{stop.relearn}' can be asked for", f"choose one of {known}")


def askable() -> tuple[str, ...]:
    """The relearns whose preconditions can be seen in a recording."""
    return tuple(name for name, one in procedures().items() if one.preconditions)


def _sheet(path: Path, file: DrillFile) -> Sheet:
    if file.sheet is None:
        return generic()
    packaged = sheet_path(file.sheet)
    if packaged != Path(file.sheet):
        return load_sheet(packaged)
    own = _inside(path, file.sheet)
    _small(own, "sheet")
    return load_sheet(own)


def _inside(path: Path, name: str) -> Path:
    """A capture or sheet by its name from the drill's folder; SheetError for one outside of it, by a link too."""
    pure = PurePosixPath(name.replace("\\", "/"))
    found = path.parent / Path(*pure.parts)
    try:
        within = found.resolve().is_relative_to(path.parent.resolve())
        found.exists()  # a name that no file can have
    except (ValueError, OSError, RuntimeError):  # a zero byte; too long; a link to itself
        raise SheetError("no file can have this name", path=path, remedy="correct the name") from None
    if not within:
        raise SheetError("it lies outside of the drill's folder", path=path, remedy="put it into the drill's folder")
    return found
