"""What stands beside the charts is what the checks say: the same verdicts, reasons and spans, and nothing of its own.

stall.log: ready at 24 s; its engine dies at 32 s (captures/README.md).
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from relearn.analysis.ready import ready
from relearn.analysis.settle import settle
from relearn.analysis.steps import steps
from relearn.errors import RelearnError
from relearn.procedures.loader import procedure, procedures
from relearn.procedures.sheets import generic, load_sheet, sheet_path
from relearn.recording import Recording, read, until
from relearn.screen import panel
from relearn.screen.desk import NOT_YET, NOTHING, Desk, answers, has_shown_steps, idle, order, together
from relearn.screen.feeds import Replay
from relearn.screen.question import shown
from relearn.screen.shapes import CLASSES, shape
from tests.analysis.test_marks import silenced
from tests.bus.simulated import CountedClock
from tests.cli.run import CAPTURES

RELEARN = "idle-air-volume"


@pytest.fixture(scope="module")
def stall() -> Recording:
    return read(CAPTURES / "stall.log")


@pytest.mark.parametrize(("at_s", "said"), [(24.0, ("yes", "no", "cannot tell")), (50.0, ("no", "no", "no"))])
def test_the_panels_say_what_the_documents_say(stall: Recording, at_s: float, said: tuple[str, ...]) -> None:
    known = until(stall, at_s)
    found = together(answers(known, RELEARN, generic()), idle(known, generic()), at_s)
    asked = ready(known, RELEARN, generic())
    judged = (asked, steps(known, RELEARN, generic()), settle(known, generic()))
    assert tuple(one.verdict for one in judged) == said
    assert tuple(one.verdict for one in found.panels) == (said[0], panel.NOT_BEGUN, said[2])  # nobody has tried
    rows = {line.id: line for line in found.panels[0].lines}
    assert {one.id: (one.verdict, one.reason) for one in asked.preconditions} == {
        name: (line.verdict, line.why) for name, line in rows.items()
    }
    assert [(line.span) for line in rows.values()] == [
        None if one.first_s is None else (one.first_s, one.last_s) for one in asked.preconditions
    ]
    assert found.ready_spans == asked.ready_spans_s


@pytest.mark.parametrize(
    ("name", "at_s", "not_now"),
    [
        ("open-coolant-circuit.log", 40.0, "no measurement"),  # −40 °C is an open circuit: SAE J1979 scaling
        ("stale.log", 80.0, "last read 31 s ago"),  # not asked for in the last 40 s of 90 (captures/README.md)
    ],
)
def test_a_value_that_is_none_of_now_says_so_and_has_no_margin(name: str, at_s: float, not_now: str) -> None:
    found = answers(until(read(CAPTURES / name), at_s), RELEARN, generic())
    rows = {line.id: line for line in found.panels[0].lines}
    shown = rows.pop("coolant-warm")
    assert (shown.verdict, shown.not_now, shown.margin) == ("cannot tell", not_now, "")
    assert {(line.verdict, line.not_now) for line in rows.values()} == {("yes", "")}
    assert rows["engine-idling"].margin.startswith("+")


def test_a_value_says_of_which_stretch_it_is_the_lowest(stall: Recording) -> None:
    """Ten seconds of an idle at 650 rpm ± 10 (the scenario), nearer to 400 than to 1500 rpm; what is asked to be none
    has no margin."""
    rows = {line.id: line for line in answers(until(stall, 24.0), RELEARN, generic()).panels[0].lines}
    assert (rows["engine-idling"].of, rows["engine-idling"].channel) == ("lowest of 10 s", "engine_speed")
    assert (rows["vehicle-stopped"].of, rows["vehicle-stopped"].margin) == ("", "")


def test_steps_that_nobody_has_begun_are_no_alarm(stall: Recording) -> None:
    found = answers(until(stall, 24.0), RELEARN, generic())
    assert {one.verdict for one in found.plan} == {panel.NOT_BEGUN}
    assert {line.verdict for line in found.panels[1].lines} == {panel.NOT_BEGUN, "yes"}  # the engine does idle


def test_a_step_that_cannot_be_told_keeps_its_reason() -> None:
    """The recording begins with the ignition on, so what was done before is not known (captures/README.md)."""
    recording, sheet = read(CAPTURES / "demo-ready-pedal.log"), load_sheet(sheet_path("demo-car"))
    found = panel.steps(steps(recording, "accelerator-closed-position", sheet))
    assert found.verdict == "cannot tell"
    assert [line.verdict for line in found.lines[1:]] == ["cannot tell"] * 3
    assert all(line.why for line in found.lines)


def test_steps_that_were_tried_and_failed_are_a_no() -> None:
    """Four presses where five are asked (captures/README.md)."""
    recording, sheet = read(CAPTURES / "steps-idle-four-presses.log"), load_sheet(sheet_path("demo-car"))
    assert panel.steps(steps(recording, RELEARN, sheet)).verdict == "no"


def test_what_several_rows_cannot_tell_is_said_once(stall: Recording) -> None:
    """Twenty seconds after everything fell silent."""
    known = until(stall, 24.0)
    found = answers(replace(known, duration_s=44.0), RELEARN, generic()).panels[0]
    rows = {line.id: line for line in found.lines}
    assert found.verdict == "cannot tell"
    assert found.sentence.count(panel.TOO_OLD) == 1
    assert rows["engine-idling"].text in found.sentence
    assert rows["no-stored-codes"].not_now.startswith("last read at 0:")
    assert rows["no-stored-codes"].why == panel.READ_AT_TIMES["no-stored-codes"]


def test_a_list_of_codes_that_was_read_once_is_no_silence(stall: Recording) -> None:
    asked = ready(until(stall, 24.0), RELEARN, generic())
    said = {"verdict": "cannot tell", "reason": "the newest sample is 21.0 s old (at most 5.0 s)", "last_s": 3.0}
    rows = [one.model_copy(update=said if one.id == "no-stored-codes" else {}) for one in asked.preconditions]
    found = panel.ready(asked.model_copy(update={"verdict": "cannot tell", "preconditions": tuple(rows)}))
    codes = next(one for one in found.lines if one.id == "no-stored-codes")
    assert (codes.not_now, codes.margin) == ("last read at 0:03.0", "")
    assert found.sentence == f"{panel.READ_AT_TIMES['no-stored-codes']} ({codes.text})"


def test_no_note_repeats_the_sentence(stall: Recording) -> None:
    found = idle(until(stall, 58.0), generic()).panel
    assert "stalled" in found.sentence
    assert not [one for one in found.notes if one in found.sentence]


def test_what_is_not_current_is_only_told_as_what_it_was() -> None:
    assert [shown(one, True) for one in CLASSES] == [(one, one) for one in CLASSES]
    assert [shown(one, False) for one in CLASSES] == [
        ("cannot tell", "was yes"),
        ("cannot tell", "was no"),
        ("cannot tell", "cannot tell"),
        (panel.NOT_BEGUN, panel.NOT_BEGUN),
    ]


def test_what_is_judged_changes_with_the_moment_and_the_relearn(stall: Recording) -> None:
    feed = Replay(stall, CountedClock())
    desk = Desk(feed, RELEARN, generic())
    said = []
    for at_s in (24.0, 50.0, 24.0):
        feed.go_to(at_s)
        desk.judge()
        said.append((desk.answers.at_s, desk.answers.panels[0].verdict))
    assert said == [(24.0, "yes"), (50.0, "no"), (24.0, "yes")]
    desk.relearn = "throttle-closed-position"  # needs the engine off
    desk.judge()
    assert desk.answers.panels[0].verdict == "no"


@pytest.mark.parametrize(("capture", "at_s", "over"), [("demo-after", 120.0, False), ("drive-off", 65.0, True)])
def test_what_was_said_of_an_idle_that_is_over_is_only_told_as_what_it_was(
    capture: str, at_s: float, over: bool
) -> None:
    """The car of drive-off.log leaves its idle at 50 s (the scenario); another run of the engine may begin as well."""
    recording, sheet = until(read(CAPTURES / f"{capture}.log"), at_s), load_sheet(sheet_path("demo-car"))
    panel = together(answers(recording, RELEARN, sheet), idle(recording, sheet), at_s).panels[-1]
    assert (panel.question, panel.verdict, panel.over) == ("Settled?", "yes", over)
    assert any(one.startswith("Of the idle from") for one in panel.notes) is over


def test_nothing_is_known_of_nothing() -> None:
    desk = Desk(None, RELEARN, generic())
    desk.judge()
    assert desk.answers == NOTHING
    assert desk.cautions()


def test_another_feed_begins_without_the_answers_of_the_one_before(stall: Recording) -> None:
    desk = Desk(Replay(stall, CountedClock()), RELEARN, generic())
    desk.judge()
    assert desk.answers.panels
    desk.show(None)
    assert desk.answers == NOTHING


def test_the_order_is_the_procedures_own() -> None:
    before = {row.id for row in procedure(RELEARN).comes_after}
    assert order(RELEARN)[-1] == RELEARN
    assert set(order(RELEARN)[:-1]) == {name for name in before if has_shown_steps(name)}
    assert any(has_shown_steps(name) for name in procedures())
    with pytest.raises(RelearnError):
        order("no-such-relearn")


@pytest.mark.parametrize(
    ("seconds", "text"), [(0.0, "0:00.0"), (59.96, "1:00.0"), (125.31, "2:05.3"), (3600, "60:00.0")]
)
def test_time_in_minutes(seconds: float, text: str) -> None:
    assert panel.minutes(seconds) == text


def test_each_verdict_has_a_shape_of_its_own_and_what_is_none_claims_nothing() -> None:
    assert len({shape(verdict) for verdict in CLASSES}) == 4
    assert shape("perhaps") == shape("cannot tell")


def test_an_idle_judged_a_moment_later_is_not_thrown_away(stall: Recording) -> None:
    """Live, the two judges are never at one moment; only what lies ahead of what is shown would tell what comes."""
    found, seen = answers(until(stall, 24.0), RELEARN, generic()), idle(until(stall, 26.0), generic())
    assert together(found, seen, 26.0).panels[-1].verdict == seen.panel.verdict
    assert together(found, seen, 24.0).panels[-1] == NOT_YET


def test_a_connector_that_comes_loose_is_no_relearn_that_was_tried(tmp_path: Path) -> None:
    """Nothing is answered from 40 s on, the engine running: common practice, no source, a plug that was pulled."""
    lost = read(silenced("demo-after.log", 40.0, 1e9, tmp_path / "lost.log"))
    found = answers(until(lost, 60.0), RELEARN, generic())
    assert {one.verdict for one in found.plan} <= {panel.NOT_BEGUN, "cannot tell"}
