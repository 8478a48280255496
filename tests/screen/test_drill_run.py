"""One person's way through a drill: what is asked when, and that nothing is told too early.

The car of stall.log (captures/README.md) is ready at 24 s, its engine dies at 32 s.
"""

from __future__ import annotations

import shutil

import pytest

from relearn.drills.drill_file import Drill, load
from relearn.errors import ChoiceError
from relearn.screen.charts import charts
from relearn.screen.drill_run import PLAYED_S, Run
from tests.bus.simulated import CountedClock
from tests.cli.run import CAPTURES

STOP = '[[stop]]\ncapture = "stall.log"\nat_s = {at_s}\nkind = "{kind}"\n{more}\n'
RELEARN = 'relearn = "idle-air-volume"'
STOPS = ((24, "ready", RELEARN), (50, "ready", RELEARN), (50, "settle", ""))


@pytest.fixture(scope="module")
def drill(tmp_path_factory: pytest.TempPathFactory) -> Drill:
    folder = tmp_path_factory.mktemp("drill")
    shutil.copy(CAPTURES / "stall.log", folder)
    stops = "".join(STOP.format(at_s=at_s, kind=kind, more=more) for at_s, kind, more in STOPS)
    (folder / "drill.toml").write_text(f'title = "a stall"\n{stops}', encoding="utf-8")
    return load(folder / "drill.toml")


@pytest.fixture
def run(drill: Drill) -> Run:
    return Run(drill, "Ada", CountedClock())


def test_it_plays_up_to_the_stop_and_asks(run: Run) -> None:
    run.tick()
    assert (run.phase, run.told) == ("playing", None)
    run.clock.sleep(PLAYED_S + 0.1)
    run.tick()
    assert (run.phase, run.asked.at_s, run.told) == ("asking", 24.0, None)
    assert run.feed.position_s() == 24.0


def test_what_comes_behind_the_stop_cannot_be_seen(run: Run) -> None:
    run.skip()
    run.feed.go_to(59.0)
    assert run.feed.position_s() == 24.0
    drawn = run.feed.rows(charts())
    assert max(float(one.time_s[-1]) for one in drawn if len(one)) <= 24.0
    assert run.feed.recording().duration_s <= 24.0


def test_from_the_first_question_to_the_last(run: Run) -> None:
    run.skip()
    run.clock.sleep(3.0)
    run.answer(0, ("yes",))
    assert (run.phase, run.results[0].points, run.results[0].seconds) == ("told", 1.0, pytest.approx(3.0))
    assert run.told is not None
    assert run.told.truth.right == ("yes",)
    run.go_on()
    assert (run.phase, run.asked.at_s, run.told) == ("playing", 50.0, None)
    run.skip()
    run.answer(1, ("yes",))
    assert (run.phase, run.asked.kind, run.told) == ("asking", "settle", None)  # two questions of one stop
    run.answer(2, ("no",))
    assert (run.phase, run.told is not None and run.told.question.kind) == ("told", "ready")
    run.go_on()
    assert (run.phase, run.told is not None and run.told.question.kind) == ("told", "settle")
    run.go_on()
    assert (run.phase, run.told) == ("done", None)
    assert [one.points for one in run.results] == [1.0, 0.0, 1.0]
    assert [one.went_on for one in run.results] == [False, True, False]


@pytest.mark.parametrize("given", [("yes", "no"), ("maybe",), ("<img>",)])
def test_what_was_not_offered_is_refused_and_counts_nothing(run: Run, given: tuple[str, ...]) -> None:
    run.skip()
    with pytest.raises(ChoiceError):
        run.answer(0, given)
    assert (run.phase, run.results) == ("asking", [])


def test_going_to_the_stop_is_for_while_it_plays(run: Run) -> None:
    run.skip()
    run.answer(0, ("no",))
    run.skip()
    assert run.phase == "told"


@pytest.mark.parametrize("place", [0, 2])
def test_only_the_question_that_is_asked_takes_an_answer(run: Run, place: int) -> None:
    """As a page would send it that was left open elsewhere."""
    run.skip()
    run.answer(0, ("no",))
    with pytest.raises(ChoiceError, match="answered already"):
        run.answer(0, ("yes",))
    run.go_on()
    run.skip()
    with pytest.raises(ChoiceError, match="answered already"):
        run.answer(place, ("yes",))
    assert [one.answered for one in run.results] == [("no",)]


def test_a_recording_is_named_once_nothing_more_is_asked_about_it(run: Run) -> None:
    names = [run.recording_name]
    for place, given in ((0, "yes"), (1, "no"), (2, "no")):
        run.skip()
        names.append(run.recording_name)
        run.answer(place, (given,))
        names.append(run.recording_name)
        if run.phase == "told":
            run.go_on()
    assert names == ["", "", "", "", "", "", "stall.log"]
