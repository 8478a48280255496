"""The plan: its order, what it holds for which event, and that nothing in it is a number without a standing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from itertools import combinations
from typing import Any

import pytest

from relearn.errors import ChoiceError
from relearn.procedures.loader import catalogue
from relearn.procedures.plan import Plan, plan
from relearn.procedures.sheets import generic, load_sheet, sheet_path

EVENTS = tuple(catalogue().events)
EVERY_SET = [events for size in range(1, len(EVENTS) + 1) for events in combinations(EVENTS, size)]


def ids(job: Plan) -> list[str]:
    return [relearn.id for relearn in job.relearns]


def test_the_events_are_those_a_technician_can_name() -> None:
    assert set(EVENTS) == {
        "reprogrammed",
        "module-replaced",
        "throttle-body-cleaned",
        "throttle-body-replaced",
        "pedal-replaced",
        "battery-disconnected",
        "intake-leak-repaired",
    }


def test_every_relearn_stands_behind_all_that_it_comes_after_for_every_set_of_events() -> None:
    for events in EVERY_SET:
        job = plan(events, generic())
        for place, relearn in enumerate(job.relearns):
            assert {line.id for line in relearn.comes_after} <= set(ids(job)[:place]), events
            assert not {line.id for line in relearn.done_before} & set(ids(job)), events


def test_adding_an_event_never_takes_anything_away() -> None:
    for events in EVERY_SET:
        whole = plan(events, generic())
        for fewer in combinations(events, len(events) - 1):
            if fewer:
                part = plan(fewer, generic())
                assert set(ids(part)) <= set(ids(whole))
                assert {line.id for line in part.have_ready} <= {line.id for line in whole.have_ready}


def test_every_relearn_says_why_once_for_each_event_that_asks_for_it() -> None:
    for events in EVERY_SET:
        for relearn in plan(events, generic()).relearns:
            asking = {row.event for row in catalogue().procedures[relearn.id].needed_after} & set(events)
            assert len(relearn.because) == len(asking) > 0


def test_order_and_repeats_of_the_events_do_not_matter() -> None:
    once = plan(["reprogrammed", "pedal-replaced"], generic())
    assert plan(["pedal-replaced", "reprogrammed", "pedal-replaced"], generic()) == once


@pytest.mark.parametrize("event", EVENTS)
def test_writing_a_module_is_planned_only_where_one_is_written(event: str) -> None:
    job = plan([event], generic())
    assert (job.programming is not None) == (event in ("reprogrammed", "module-replaced"))


@pytest.mark.parametrize("event", EVENTS)
def test_tool_service_information_and_supply_are_always_to_hand(event: str) -> None:
    job = plan([event], generic())
    ready = {line.id: line.text for line in job.have_ready}
    assert {"service-information", "tool", "supply-for-relearns"} <= set(ready)
    assert all(relearn.title in ready["tool"] for relearn in job.relearns)


def test_a_replaced_module_needs_vin_code_and_every_key_and_a_reprogrammed_one_does_not() -> None:
    replaced = {line.id for line in plan(["module-replaced"], generic()).have_ready}
    reprogrammed = {line.id for line in plan(["reprogrammed"], generic()).have_ready}
    assert replaced - reprogrammed == {"vin", "immobilizer-code", "all-keys"}


def test_a_predecessor_outside_the_plan_is_said_to_be_needed_before() -> None:
    [relearn] = plan(["intake-leak-repaired"], generic()).relearns
    assert relearn.comes_after == ()
    assert [line.id for line in relearn.done_before] == ["accelerator-closed-position", "throttle-closed-position"]
    assert all("must already be learned" in line.text for line in relearn.done_before)


def test_reprogramming_alone_does_not_ask_for_a_vin_or_keys_before() -> None:
    before = {line.id for relearn in plan(["reprogrammed"], generic()).relearns for line in relearn.done_before}
    assert before == set()


@pytest.mark.parametrize("events", [["reprogramed"], ["reprogrammed", "x"], []])
def test_an_unknown_or_missing_event_is_one_sentence_naming_the_known_ones(events: list[str]) -> None:
    with pytest.raises(ChoiceError) as refused:
        plan(events, generic())
    assert all(event in str(refused.value) for event in EVENTS)


def test_without_a_sheet_no_idle_target_is_made_up() -> None:
    results = {row.id: row for row in plan(["reprogrammed"], generic()).relearns[-1].afterwards}
    assert results["idle-speed"].limits == "not known (idle.target_rpm is not in the vehicle sheet)"
    assert results["ignition-timing"].limits.startswith("not known")
    assert "rpm" not in results["idle-speed"].limits.replace("idle.target_rpm", "")


def test_a_vehicle_sheet_reaches_limits_texts_and_standings() -> None:
    job = plan(["reprogrammed"], load_sheet(sheet_path("demo-car")))
    idle = job.relearns[-1]
    found = {row.id: row for row in (*idle.measured, *idle.afterwards)}
    assert found["idle-speed"].limits == "600 to 700 rpm"  # 650 ± 50, invented
    assert found["coolant-warm"].limits == "80 to 100 °C"
    assert found["coolant-warm"].standing.startswith("vehicle sheet 'Demo car")
    assert found["supply"].standing.startswith("common practice")
    assert "Accelerator pedal position D 13 to 17 %" in found["pedal-released"].limits  # 15 ± 2, invented


def test_a_released_pedal_without_a_known_value_is_held_against_the_generic_ceilings() -> None:
    [pedal] = [row for row in plan(["pedal-replaced"], generic()).relearns[0].measured if row.id == "pedal-released"]
    assert pedal.limits == (
        "Relative accelerator pedal position at most 2 %; Accelerator pedal position D at most 20 %"
    )
    assert pedal.standing == "from memory, confirm in the vehicle's service information"


def test_cautions_of_the_job_and_of_each_relearn() -> None:
    job = plan(["module-replaced"], generic())
    general = " ".join(caution.text for caution in job.cautions)
    assert all(words in general for words in ("service information", "licensed practice", "fans", "only reads"))
    assert all(relearn.cautions for relearn in job.relearns)
    idle = " ".join(caution.text for caution in job.relearns[-1].cautions)
    assert all(words in idle for words in ("hot", "indoors", "can move"))


def standings(node: Any) -> Iterator[str]:
    """Every standing in a plan as plain data; a number without one fails here."""
    if isinstance(node, dict):
        if "value" in node or "limits" in node:
            assert node["standing"], node
        yield from ([node["standing"]] if "standing" in node else [])
        for child in node.values():
            yield from standings(child)
    elif isinstance(node, list | tuple):
        for child in node:
            yield from standings(child)


@pytest.mark.parametrize("sheet", ["generic", "demo-car"])
def test_every_number_has_a_standing_in_words(sheet: str) -> None:
    found = list(standings(asdict(plan(EVENTS, load_sheet(sheet_path(sheet))))))
    assert len(found) > 100
    assert all(len(standing) > len("CM") for standing in found)


def texts(node: Any) -> Iterator[str]:
    if isinstance(node, dict):
        yield from (text for key in ("text", "because") if isinstance(text := node.get(key), str))
        for child in node.values():
            yield from texts(child)
    elif isinstance(node, list | tuple):
        for child in node:
            yield from texts(child)


def test_no_place_in_a_text_stays_unfilled() -> None:
    found = list(texts(asdict(plan(EVENTS, generic()))))
    assert found and not [text for text in found if "{" in text or "}" in text]
