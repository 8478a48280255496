"""A drill made from the captures below a folder: where to stop and what to ask, by how the verdicts change in time."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache, partial
from math import floor
from pathlib import Path
from typing import Protocol

from relearn.capture import READERS
from relearn.capture.files import format_suffix
from relearn.checks.idle import engine_speed
from relearn.drills.drill_file import OF_A_RELEARN, DrillFile, Kind, Stop, askable, to_toml
from relearn.drills.happenings import doubtful
from relearn.drills.moments import Run, after_changes, agrees, beside, holding, runs, telling
from relearn.drills.questions import NOTHING, right
from relearn.drills.results import create
from relearn.drills.scene import Scene, scene
from relearn.drills.selection import Candidate, chosen
from relearn.errors import CaptureError, ChoiceError
from relearn.events import turning
from relearn.procedures.loader import procedure
from relearn.procedures.sheets import Sheet, generic, load_sheet, sheet_path
from relearn.recording import Recording, read

NAME = "drill.toml"
LESSON = 12  # questions: with what is said about each, about as many as fill a lesson
BEGUN_S = 20  # until then most answers change only because there is now enough of a recording to judge
MOST_HAPPENED = 2  # the last ones: what happened early is still right then
Answer = tuple[tuple[frozenset[str], frozenset[str]], ...]  # of each kind of a group, as questions.right has it


@dataclass(frozen=True)
class Made:
    """A drill, the captures that gave no question, each with the reason, and how many questions could be asked."""

    file: DrillFile
    left_out: tuple[str, ...]
    could_ask: int


@dataclass(frozen=True)
class Looked:
    """The questions that could be asked of one capture; where there are none, why."""

    candidates: tuple[Candidate, ...]
    left_out: str


class Over(Protocol):
    """Looks at every capture, as the built-in map does: what it makes of each, in their order."""

    def __call__(
        self, look: Callable[[tuple[Path, str]], Looked], captures: Sequence[tuple[Path, str]], /
    ) -> Iterable[Looked]: ...


@dataclass(frozen=True)
class Group:
    """Kinds of question that are asked together: at which moments of the runs of their answers, from when on, and in
    which scenes the answer is sure."""

    kinds: tuple[Kind, ...]
    moments: Callable[[tuple[Run, ...]], tuple[int, ...]]
    from_s: float = 0.0
    sure: Callable[[Scene], bool] = lambda _: True


def make(
    paths: Iterable[Path],
    drill: Path,
    sheet_name: str | None = None,
    relearn: str | None = None,
    most: int = LESSON,
    over: Over = map,
) -> Made:
    """The drill about these captures for a file at `drill`, of at most so many questions; nothing is written.

    sheet_name: of a packaged sheet, or a path. relearn: asked of every capture; without it, what each fits (`fitting`).
    over: how the captures are gone through, such as in several processes.
    ChoiceError: a capture or sheet outside of the drill's folder, a relearn that cannot be asked for, or no question.
    """
    if relearn is not None and relearn not in askable():
        known = ", ".join(askable())
        raise ChoiceError(f"no relearn called '{relearn}' can be asked for", remedy=f"choose one of {known}")
    sheet, named = _sheet(sheet_name, drill)
    looked_at = tuple(
        over(partial(_look, sheet=sheet, relearn=relearn), [(path, inside(path, drill)) for path in paths])
    )
    could = [one for found in looked_at for one in found.candidates]
    if not could:
        raise ChoiceError("no capture gives a question", path=drill.parent, remedy="name a folder with captures")
    stops = tuple(one.stop for one in chosen(could, most))
    title = f"Drill: {drill.parent.resolve().name}"
    left_out = tuple(found.left_out for found in looked_at if found.left_out)
    return Made(DrillFile(title=title, sheet=named, stop=stops), left_out, len(could))


def _look(capture: tuple[Path, str], sheet: Sheet, relearn: str | None) -> Looked:
    """What one capture gives, by its path and its name in the drill."""
    path, name = capture
    try:
        found = candidates(read(path), name, sheet, relearn)
    except CaptureError as wrong:
        return Looked((), str(wrong))
    return Looked(found, "" if found else f"{path}: nothing in it stays the same for long enough to ask about")


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


def candidates(recording: Recording, name: str, sheet: Sheet, relearn: str | None) -> tuple[Candidate, ...]:
    """Every question that could be asked of one capture, in time order; at one moment in the order of the kinds."""
    at = _scenes(recording, sheet)
    end = at(recording.duration_s)
    asked = relearn if relearn is not None else fitting(end)
    found: list[Candidate] = []
    for group in _groups(end):
        stops = [_stop(name, kind, asked) for kind in group.kinds]
        answer = _answer(stops, at)
        seen = runs(answer, floor(recording.duration_s))
        for second in group.moments(seen):
            if second >= group.from_s and group.sure(at(second)) and agrees(answer, second, recording.duration_s):
                found += _candidates(stops, seen, second, answer)
    return tuple(sorted(found, key=lambda one: one.stop.at_s))


def _candidates(
    stops: Sequence[Stop], seen: tuple[Run, ...], second: int, answer: Callable[[float], Answer]
) -> Iterator[Candidate]:
    """The questions of one group at one moment."""
    rights = [one for one, _ in answer(second)]
    run = holding(seen, second)
    near = [answer(one.first_s) for one in beside(seen, second)]
    for place, stop in enumerate(stops):
        yield Candidate(
            stop.model_copy(update={"at_s": float(second)}),
            rights[place],
            _comes_to(stop.kind, rights),
            (stop.capture, stops[0].kind, *rights),
            second >= BEGUN_S and any(other[place][0] != rights[place] for other in near),
            len(rights[-1] - {NOTHING}),
            run.last_s - run.first_s + 1,
        )


def _comes_to(kind: Kind, rights: Sequence[frozenset[str]]) -> str:
    """The verdict; with 'missing' that of 'ready', which it goes with. Of what happened, whether anything did."""
    if kind == "happened":
        return NOTHING if NOTHING in rights[0] else kind
    return min(rights[0])


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


def _answer(stops: Sequence[Stop], at: Callable[[float], Scene]) -> Callable[[float], Answer]:
    """The right answers over time, with what can be told at all: a choice that comes or goes is a change too."""

    @cache
    def answer(time_s: float) -> Answer:
        return tuple(right(stop, at(time_s)) for stop in stops)

    return answer
