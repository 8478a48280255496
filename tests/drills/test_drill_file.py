"""A trainer's file: what it may hold, and one sentence with file and key for what it may not."""

import shutil
import tempfile
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from relearn.drills.drill_file import DrillFile, Stop, load, mistakes, played, to_toml
from relearn.errors import SheetError
from relearn.toml_files import read_toml

CAPTURES = Path(__file__).parents[2] / "captures"
GOOD = """\
title = "Monday"
sheet = "demo-car"
[[stop]]
capture = "pedal-not-released.log"
at_s = 20
kind = "ready"
relearn = "throttle-closed-position"
note = "look under the mat"
"""


@pytest.fixture
def drill(tmp_path: Path) -> Callable[[str], Path]:
    shutil.copy(CAPTURES / "pedal-not-released.log", tmp_path)

    def write(text: str) -> Path:
        path = tmp_path / "drill.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return write


def test_a_good_one(drill: Callable[[str], Path]) -> None:
    path = drill(GOOD)
    found = load(path)
    assert mistakes(path) == ()
    assert (found.title, found.sheet.title[:8], list(found.recordings)) == (
        "Monday",
        "Demo car",
        ["pedal-not-released.log"],
    )
    assert found.stops[0].note == "look under the mat"


@pytest.mark.parametrize(
    ("change", "key", "said"),
    [
        (('note = "look', 'notes = "look'), "stop.0.notes", "no such key"),
        (("pedal-not-released.log", "gone.log"), "stop.0.capture", "gone.log"),
        (("at_s = 20", "at_s = 31"), "stop.0.at_s", "ends at 29."),
        (("at_s = 20", "at_s = -1"), "stop.0.at_s", "greater than or equal"),
        (("at_s = 20", "at_s = nan"), "stop.0.at_s", "finite"),
        (("throttle-closed-position", "oil-change"), "stop.0.relearn", "accelerator-closed-position"),
        (('relearn = "throttle-closed-position"\n', ""), "stop.0.relearn", "asked of a relearn"),
        (('kind = "ready"', 'kind = "settle"'), "stop.0.relearn", "not asked of a relearn"),
        (('kind = "ready"', 'kind = "weather"'), "stop.0.kind", "'ready'"),
        (('"demo-car"', '"nowhere.toml"'), "sheet", "cannot be used"),
        (('"demo-car"', '"../../sheet.toml"'), "sheet", "outside"),
        (("pedal-not-released.log", "../a.log"), "stop.0.capture", "outside"),
        (("pedal-not-released.log", "/etc/hosts"), "stop.0.capture", "outside"),
        (('title = "Monday"', 'title = " "'), "title", "blank"),
    ],
)
def test_a_mistake(drill: Callable[[str], Path], change: tuple[str, str], key: str, said: str) -> None:
    path = drill(GOOD.replace(*change))
    with pytest.raises(SheetError) as caught:
        load(path)
    assert str(path) in str(caught.value) and f"'{key}'" in str(caught.value) and said in str(caught.value)
    assert str(caught.value) in mistakes(path)


def test_every_mistake_is_named(drill: Callable[[str], Path]) -> None:
    assert len(mistakes(drill(GOOD.replace("at_s = 20", "at_s = 99").replace("throttle-closed-position", "x")))) == 2


@pytest.mark.parametrize("text", ["title = ", "title = 'x'", "", "[[stop]]\n"])
def test_what_is_no_drill(drill: Callable[[str], Path], text: str) -> None:
    assert len(mistakes(drill(text))) == 1


def test_stops_are_played_from_the_start_of_each_capture_on() -> None:
    stops = [("b", 9.0, "ready"), ("a", 5.0, "settle"), ("b", 2.0, "settle"), ("b", 2.0, "happened")]
    file = DrillFile.model_validate(
        {"title": "x", "stop": [{"capture": capture, "at_s": at, "kind": kind} for capture, at, kind in stops]}
    )
    order = [(one.capture, one.at_s, one.kind) for one in played(file)]
    assert order == [stops[2], stops[3], stops[0], stops[1]]


TEXT = st.text(st.characters(exclude_categories=["Cs"]), min_size=1).filter(str.strip)


@given(TEXT, TEXT, st.floats(0, 1e6))
def test_what_is_written_is_read_again(title: str, note: str, at_s: float) -> None:
    stop = Stop(capture="a.log", at_s=at_s, kind="settle", note=note)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "drill.toml")
        path.write_bytes(to_toml(DrillFile(title=title, stop=(stop,))).encode())
        assert DrillFile.model_validate(read_toml(path, "drill")) == DrillFile(title=title, stop=(stop,))
