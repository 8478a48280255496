"""A job file: what was done to which car, for whom, and which captures belong to it. TOML, written by a person."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, ValidationError

from relearn.errors import SheetError
from relearn.toml_files import read_toml

BLANK = "this is blank"
Text = Annotated[str, Field(pattern=r"\S")]


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class PeopleFile(_Part):
    """Who worked, for whom, on what."""

    workshop: str = ""
    technician: str = ""
    customer: str = ""
    vehicle: str = ""
    order: str = ""


class CapturesFile(_Part):
    """Captures by what they were taken for, as paths from the job file's folder. ready, steps: one for each relearn;
    steps also for 'after-write', the wait after the module was written."""

    before: Text | None = None
    programming: Text | None = None
    ready: Mapping[str, Text] = Field(default_factory=dict)
    steps: Mapping[str, Text] = Field(default_factory=dict)
    after: Text | None = None


class EarlierFile(_Part):
    """A try that a later one took the place of, kept beside it. role: 'before', 'programming', 'after', or
    'ready.RELEARN' or 'steps.RELEARN'. Oldest first; shown, and never counted in the verdict."""

    role: Annotated[str, Field(pattern=r"^(before|programming|after|(ready|steps)\.\S+)$")]
    file: Text


class AnywayFile(_Part):
    """Something done although the job's order or a check refused it: what, what stood against it, and why."""

    what: Text
    overrode: tuple[Text, ...] = ()
    reason: Text
    by: str = ""
    time: str = ""


class ConfirmedFile(_Part):
    """One thing seen by eye, and by whom."""

    item: Text
    by: Text
    note: str = ""


class JobFile(_Part):
    """The whole file. sheet: a packaged sheet's name or a path from the job file's folder. vin: whose job this is; a
    capture that reads another one makes the job a no."""

    title: Text
    events: Annotated[tuple[Text, ...], Field(min_length=1)]
    sheet: Text | None = None
    expected_calibration: Text | None = None
    module: Text | None = None
    vin: Annotated[Text, StringConstraints(to_upper=True, strip_whitespace=True)] | None = None
    people: PeopleFile = PeopleFile()
    captures: CapturesFile = CapturesFile()
    earlier: tuple[EarlierFile, ...] = ()
    confirmed: tuple[ConfirmedFile, ...] = ()
    anyway: tuple[AnywayFile, ...] = ()


def read(path: Path) -> JobFile:
    """The job in a TOML file. Unreadable, not TOML, an unknown or missing key: SheetError naming the key."""
    try:
        return JobFile.model_validate(read_toml(path, "job file"))
    except ValidationError as wrong:
        first = wrong.errors()[0]
        key = ".".join(str(part) for part in first["loc"])
        what = BLANK if first["type"] == "string_pattern_mismatch" else first["msg"].lower()
        raise SheetError(what, path=path, key=key, remedy="correct or remove that key") from None


def beside(path: Path, name: str, key: str) -> Path:
    """A file named in the job, which must exist; SheetError naming the key where it does not."""
    found = path.parent / name
    if not found.is_file():
        raise SheetError(
            f"there is no capture '{name}' in {path.parent or '.'}",
            path=path,
            key=key,
            remedy="correct the name or put the file there",
        )
    return found
