"""A trainer's file: what it may hold, and one sentence with file and key for what it may not."""

import os
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
    """A folder with a capture, and with links out of it and to themselves."""
    folder = tmp_path / "drill"
    folder.mkdir()
    for place in (folder, tmp_path / "a.log"):
        shutil.copy(CAPTURES / "pedal-not-released.log", place)
    (folder / "link.log").symlink_to(tmp_path / "a.log")
    (folder / "out").symlink_to(tmp_path, target_is_directory=True)
    (folder / "round.log").symlink_to("round.log")

    def write(text: str) -> Path:
        path = folder / "drill.toml"
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
        (("Monday", "x" * 1001), "title", "longer than 1000"),
        (("at_s = 20", "at_s = 1e400"), "stop.0.at_s", "finite"),
        (("at_s = 20", "at_s = -inf"), "stop.0.at_s", "finite"),
        (("at_s = 20", f"at_s = {'9' * 4000}"), "stop.0.at_s", "number of seconds"),
        (("at_s = 20", f"at_s = {'9' * 30}"), "stop.0.at_s", "ends at 29."),
        (("at_s = 20", f"at_s = {'[' * 300}{']' * 300}"), "stop.0.at_s", "number of seconds"),
        (("at_s = 20", "at_s = true"), "stop.0.at_s", "number of seconds"),
        (("at_s = 20", 'at_s = "20"'), "stop.0.at_s", "number of seconds"),
        (("pedal-not-released.log", "link.log"), "stop.0.capture", "outside"),
        (("pedal-not-released.log", "out/a.log"), "stop.0.capture", "outside"),
        (("pedal-not-released.log", "round.log"), "stop.0.capture", "no file can have this name"),
        (("pedal-not-released.log", "a\\u0000.log"), "stop.0.capture", "no file can have this name"),
        (("pedal-not-released.log", "."), "stop.0.capture", "folder"),
        (('"demo-car"', '"round.log"'), "sheet", "no file can have this name"),
        (('"demo-car"', '"a\\u0000.toml"'), "sheet", "no file can have this name"),
        (('"demo-car"', '"."'), "sheet", "no file"),
        (('"ready"', "3"), "stop.0.kind", "'ready'"),
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


def test_the_same_asked_twice(drill: Callable[[str], Path]) -> None:
    said = mistakes(drill(GOOD + GOOD[GOOD.index("[[stop]]") :]))
    assert len(said) == 1 and "'stop.1'" in said[0] and "stop 0 already" in said[0]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("title = ", "not TOML"),
        ("title = 'x'", "'stop'"),
        ("", "'title'"),
        ("[[stop]]\n", "'title'"),
        ("title = 'x'\nstop = 5", "'stop'"),
        ("title = 'x'\n[stop]\n", "'stop'"),
        ("title = 'x'\nstop = [1]", "'stop.0'"),
        ("title = 'x'\nstop = []", "at least one stop"),
        (f"{GOOD}at_s = 3\n", "line 9"),
        (f"title = {'[' * 3000}", "not TOML"),
        (f"title = {'{a = ' * 2000}", "not TOML"),
        (f"{'a.' * 50_000}b = 1", "line 1"),  # takes a minute to read
        (f"{GOOD}# {'x' * 10_000_000}", "larger than"),
        ("title = 'x'\n" + "[[stop]]\ncapture = 'a'\nat_s = 1\nkind = 'settle'\n" * 1001, "1000 stops"),
        ('title = "\\ud800"', "line 1"),
    ],
    ids=lambda value: value[:12],
)
def test_what_is_no_drill(drill: Callable[[str], Path], text: str, said: str) -> None:
    found = mistakes(drill(text))
    assert len(found) == 1 and said in found[0] and "drill.toml" in found[0] and "\n" not in found[0]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="only where there are named pipes")
@pytest.mark.parametrize("named", ["drill", "sheet", "capture"])
def test_a_pipe_that_nobody_fills_is_not_waited_for(drill: Callable[[str], Path], named: str) -> None:
    text = GOOD.replace("demo-car", "pipe.toml") if named == "sheet" else GOOD.replace("pedal-not-released", "pipe")
    path = drill(text)
    for pipe in ("pipe.toml", "pipe.log"):
        os.mkfifo(path.with_name(pipe))
    assert len(mistakes(path.with_name("pipe.toml") if named == "drill" else path)) == 1


def test_bytes_that_are_no_text_and_a_folder(drill: Callable[[str], Path]) -> None:
    path = drill("")
    path.write_bytes(b"\xff\xfe\x00[[stop]]")
    assert "UTF-8" in mistakes(path)[0]
    assert "no file" in mistakes(path.parent)[0]
    assert "cannot be read" in mistakes(path.with_name("gone.toml"))[0]


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
