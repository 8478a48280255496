"""A drill made from the captures below a folder: where to stop and what to ask, by how the verdicts change in time."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from math import floor
from pathlib import Path

from relearn.capture import READERS
from relearn.capture.files import format_suffix
from relearn.checks.idle import engine_speed
from relearn.drills.drill_file import OF_A_RELEARN, DrillFile, Kind, Stop, askable, to_toml
from relearn.drills.happenings import doubtful
from relearn.drills.moments import Run, after_changes, agrees, runs, telling
from relearn.drills.questions import right
from relearn.drills.results import create
from relearn.drills.scene import Scene, scene
from relearn.errors import CaptureError, ChoiceError
from relearn.events import turning
from relearn.procedures.loader import procedure
from relearn.procedures.sheets import Sheet, generic, load_sheet, sheet_path
from relearn.recording import Recording, read

NAME = "drill.toml"
MOST_HAPPENED = 2  # the last ones: what happened early is still right then


@dataclass(frozen=True)
class Made:
    """A drill, and the captures that gave no question, each with the reason."""

    file: DrillFile
    left_out: tuple[str, ...]


@dataclass(frozen=True)
class Group:
    """Kinds of question that are asked together: at which moments of the runs of their answers, from when on, and in
    which scenes the answer is sure."""

    kinds: tuple[Kind, ...]
    moments: Callable[[tuple[Run, ...]], tuple[int, ...]]
    from_s: float = 0.0
    sure: Callable[[Scene], bool] = lambda _: True


def make(paths: Iterable[Path], drill: Path, sheet_name: str | None = None, relearn: str | None = None) -> Made:
    """The drill about these captures for a file at `drill`; nothing is written.

    sheet_name: of a packaged sheet, or a path. relearn: asked of every capture; without it, what each fits (`fitting`).
    ChoiceError: a capture or sheet outside of the drill's folder, a relearn that cannot be asked for, or no question.
    """
    if relearn is not None and relearn not in askable():
        known = ", ".join(askable())
        raise ChoiceError(f"no relearn called '{relearn}' can be asked for", remedy=f"choose one of {known}")
    sheet, named = _sheet(sheet_name, drill)
    stops: list[Stop] = []
    left_out: list[str] = []
    for path in paths:
        try:
            found = tuple(stops_of(read(path), inside(path, drill), sheet, relearn))
        except CaptureError as wrong:
            left_out.append(str(wrong))
            continue
        stops += found
        left_out += [] if found else [f"{path}: nothing in it stays the same for long enough to ask about"]
    if not stops:
        raise ChoiceError("no capture gives a question", path=drill.parent, remedy="name a folder with captures")
    return Made(
        DrillFile(title=f"Drill: {drill.parent.resolve().name}", sheet=named, stop=tuple(stops)), tuple(left_out)
    )


def write(path: Path, file: DrillFile) -> None:
    """Write a drill (results.create: nothing is written over)."""
    create(path, to_toml(file).encode())


def inside(path: Path, drill: Path) -> str:
    """A path as the drill names it, from its own folder; ChoiceError for one outside of it."""
    try:
        return path.resolve().relative_to(drill.parent.resolve()).as_posix()
    except ValueError:
        raise ChoiceError(
            f"it lies outside of {drill.parent.resolve()}, the folder of the drill, which reads nothing else",
            path=path,
            remedy="put it there, or write the drill into a folder above both with --out",
        ) from None


def _sheet(name: str | None, drill: Path) -> tuple[Sheet, str | None]:
    """The sheet, and how the drill names it."""
    if name is None:
        return generic(), None
    packaged = sheet_path(name) != Path(name)
    return load_sheet(sheet_path(name)), name if packaged else inside(Path(name), drill)


def captures(folder: Path) -> tuple[Path, ...]:
    """Every file below a folder whose suffix names a capture, by name. ChoiceError: no such folder."""
    if not folder.is_dir():
        raise ChoiceError("there is no such folder", path=folder, remedy="name a folder with captures")
    return tuple(sorted(path for path in folder.rglob("*") if format_suffix(path) in READERS and path.is_file()))


def fitting(end: Scene) -> str:
    """The relearn to ask about: the last in their order that wants the engine as it was seen, running or not."""
    speed = engine_speed(end.view)
    ran = speed is not None and bool(turning(speed, end.sheet.need("engine.running_rpm")).any())
    fits = [name for name in askable() if _wants_running(name) == ran]
    return (fits or list(askable()))[-1]


def _wants_running(relearn: str) -> bool:
    return any(one.check == "engine-idling" for one in procedure(relearn).preconditions)


def stops_of(recording: Recording, name: str, sheet: Sheet, relearn: str | None) -> Iterator[Stop]:
    """Every question of one capture, in time order; at one moment in the order of the kinds."""
    at = _scenes(recording, sheet)
    end = at(recording.duration_s)
    asked = relearn if relearn is not None else fitting(end)
    found: list[Stop] = []
    for group in _groups(end):
        stops = [_stop(name, kind, asked) for kind in group.kinds]
        answer = _answer(stops, at)
        for second in group.moments(runs(answer, floor(recording.duration_s))):
            if second >= group.from_s and group.sure(at(second)) and agrees(answer, second, recording.duration_s):
                found += [stop.model_copy(update={"at_s": float(second)}) for stop in stops]
    yield from sorted(found, key=lambda stop: stop.at_s)


def _stop(name: str, kind: Kind, relearn: str) -> Stop:
    return Stop(capture=name, at_s=0, kind=kind, relearn=relearn if kind in OF_A_RELEARN else None)


def _groups(end: Scene) -> Iterator[Group]:
    """What can be asked of a capture: nothing about an engine that is not in it, nor of an idle that never was."""
    if engine_speed(end.view) is not None:
        yield Group(("ready", "missing"), telling, end.sheet.need("window.hold_s").low or 0.0)
    if end.settle.episodes:
        yield Group(("settle",), telling, sure=lambda seen: not doubtful(seen))
    yield Group(("happened",), lambda found: after_changes(found)[-MOST_HAPPENED:])


def _scenes(recording: Recording, sheet: Sheet) -> Callable[[float], Scene]:
    """The scene at a moment, made once: every kind of question looks at it."""

    @cache
    def at(time_s: float) -> Scene:
        return scene(recording, time_s, sheet)

    return at


def _answer(stops: Sequence[Stop], at: Callable[[float], Scene]) -> Callable[[float], Hashable]:
    """The right answers over time, with what can be told at all: a choice that comes or goes is a change too."""

    @cache
    def answer(time_s: float) -> Hashable:
        return tuple(right(stop, at(time_s)) for stop in stops)

    return answer
