"""A drill made from captures asks only what has one answer, and reads nothing outside of its folder."""

import pickle
import shutil
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest

from relearn.drills.drill_file import load, to_toml
from relearn.drills.make import candidates, captures, make
from relearn.drills.questions import questions, restless, truth
from relearn.errors import ChoiceError
from relearn.procedures.sheets import load_sheet, sheet_path
from relearn.recording import read

CAPTURES = Path(__file__).parents[2] / "captures"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A stall and a held pedal, one of them deeper, and a text that is no capture."""
    made = tmp_path_factory.mktemp("class")
    (made / "deep").mkdir()
    shutil.copy(CAPTURES / "pedal-not-released.log", made)
    shutil.copy(CAPTURES / "stall.log", made / "deep")
    (made / "list.txt").write_text("what to bring\n", encoding="utf-8")
    return made


@pytest.fixture(scope="module")
def text(folder: Path) -> str:
    made = make(captures(folder), folder / "drill.toml", "demo-car")
    assert len(made.left_out) == 1 and "list.txt" in made.left_out[0]
    return to_toml(made.file)


def test_it_asks_every_kind_at_moments_that_do_not_waver(folder: Path, text: str) -> None:
    """Both captures: ready for 'stall' until its engine dies at 32 s, a pedal that is never let go in the other."""
    path = folder / "drill.toml"
    path.write_text(text, encoding="utf-8")
    drill = load(path)
    assert restless(drill) == ()
    assert {one.kind for one in drill.stops} == {"ready", "missing", "settle", "happened"}
    assert {one.capture for one in drill.stops} == {"pedal-not-released.log", "deep/stall.log"}
    right = {(one.kind, truth(drill, one.place).right) for one in questions(drill)}
    assert {("ready", ("yes",)), ("settle", ("no",)), ("settle", ("cannot tell",)), ("happened", ("stalled",))} <= right
    assert {("ready", ("no",)), ("missing", ("pedal-released",))} & right


def test_it_asks_no_more_than_wanted_and_nothing_twice(folder: Path, text: str) -> None:
    made = make(captures(folder), folder / "drill.toml", "demo-car", most=4)
    assert [one.kind for one in sorted(made.file.stop, key=lambda one: one.kind)] == [
        "happened",
        "missing",
        "ready",
        "settle",
    ]
    assert made.could_ask > 12 >= text.count("[[stop]]")
    assert len({(one.capture, one.at_s, one.kind) for one in made.file.stop}) == 4


def test_no_answer_is_written(text: str) -> None:
    tables = text.split("[[stop]]")[1:]
    assert tables and "note" not in "".join(tables)
    assert all(
        line.split(" = ")[0] in ("capture", "at_s", "kind", "relearn")
        for one in tables
        for line in one.split("\n")
        if line
    )


def test_the_same_captures_make_the_same_drill(folder: Path, text: str) -> None:
    short = [folder / "pedal-not-released.log"]
    one, two = (make(short, folder / "drill.toml", "demo-car") for _ in range(2))
    assert one == two and to_toml(one.file) == to_toml(two.file)


def test_a_stop_that_may_be_no_stall_is_not_asked_about() -> None:
    """stop-start: from 44 to 62 s the engine stands and then starts by itself."""
    found = candidates(read(CAPTURES / "stop-start.log"), "stop-start.log", load_sheet(sheet_path("demo-car")), None)
    asked = [one.stop.at_s for one in found if one.stop.kind == "settle"]
    assert asked and not [at_s for at_s in asked if 39 < at_s < 62]


def test_a_candidate_says_what_its_answer_does(folder: Path) -> None:
    """stall: ready from some time on, and from 32 s, when the engine dies, for one reason and then another no more."""
    found = candidates(read(CAPTURES / "stall.log"), "stall.log", load_sheet(sheet_path("demo-car")), None)
    ready = {one.stop.at_s: one for one in found if one.stop.kind == "ready"}
    before, after = (ready[min(ready, key=lambda at_s: abs(at_s - near))] for near in (31, 34))
    assert (before.answer, before.turns, before.signs) == ("yes", True, 0)
    assert (after.answer, after.turns, after.signs > 0) == ("no", True, True)
    missing = next(one for one in found if one.stop.kind == "missing" and one.stop.at_s == after.stop.at_s)
    assert (missing.answer, missing.together) == ("no", after.together)


def test_a_folder_gone_through_elsewhere_makes_the_same(folder: Path, text: str) -> None:
    """By an executor that hands over and takes back by pickle, as processes do."""

    def over(look: Callable[[Any], Any], given: Sequence[Any]) -> Iterator[Any]:
        far = pickle.loads(pickle.dumps((look, given)))
        return (pickle.loads(pickle.dumps(far[0](one))) for one in far[1])

    made = make(captures(folder), folder / "drill.toml", "demo-car", over=over)
    assert to_toml(made.file) == text and "list.txt" in made.left_out[0]


def test_a_relearn_of_ones_own(folder: Path) -> None:
    made = make([folder / "pedal-not-released.log"], folder / "x.toml", "demo-car", "accelerator-closed-position")
    assert {one.relearn for one in made.file.stop if one.kind == "ready"} == {"accelerator-closed-position"}


def test_a_relearn_that_cannot_be_asked_for(folder: Path) -> None:
    with pytest.raises(ChoiceError, match="idle-air-volume"):
        make([folder / "pedal-not-released.log"], folder / "x.toml", None, "oil-change")


def test_captures_outside_of_the_drills_folder(folder: Path) -> None:
    with pytest.raises(ChoiceError, match="outside"):
        make([folder / "pedal-not-released.log"], folder / "deep" / "drill.toml")


def test_a_folder_without_captures(tmp_path: Path) -> None:
    with pytest.raises(ChoiceError, match="no capture"):
        make(captures(tmp_path), tmp_path / "drill.toml")
    with pytest.raises(ChoiceError, match="no such folder"):
        captures(tmp_path / "gone")
