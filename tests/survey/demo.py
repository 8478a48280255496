"""Small folders of captures for the tests, and what a survey asks of them."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

from relearn.procedures.sheets import Sheet, load_sheet, sheet_path
from relearn.survey.columns import Row
from relearn.survey.find import Found
from relearn.survey.flow import nothing
from relearn.survey.judge import judge
from relearn.survey.questions import Asked, asked

CAPTURES = Path(__file__).parents[2] / "captures"


def sheet(name: str = "demo-car") -> Sheet:
    return load_sheet(sheet_path(name))


def found(name: str, path: Path | None = None) -> Found:
    """A demo capture, or another file under its name."""
    path = path or CAPTURES / name
    return Found(str(path.parent), name, str(path), str(path))


def settle() -> Asked:
    return asked("settle", None, sheet())


def folder_of(place: Path, *names: str) -> Path:
    """A folder with copies of demo captures, and one file that is no capture."""
    place.mkdir()
    for name in names:
        shutil.copyfile(CAPTURES / name, place / name)
    (place / "bad.log").write_text("Dear diary,\ntoday the idle was fine.\n", encoding="ascii")
    return place


def here(
    captures: Iterable[Found], ask: Asked, *, meanwhile: Callable[[], None] = nothing
) -> Iterator[tuple[Found, Row]]:
    """Judged in this process: what the pools do, without their start."""
    return ((one, judge(one, ask)) for one in captures)
