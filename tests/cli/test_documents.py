"""The JSON documents have the keys that the project promised its users, and read back unchanged."""

import json
from pathlib import Path

import pytest

from relearn.findings.base import to_json
from relearn.findings.reading import from_json
from tests.cli.run import CAPTURES, relearn

AFTER, IDLE, COLD = CAPTURES / "demo-after.log", CAPTURES / "demo-ready-idle.log", CAPTURES / "cold.log"
COMMANDS = {
    "plan": ("plan", "--after", "module-replaced"),
    "show": ("show", AFTER),
    "ready": ("ready", IDLE, "--for", "idle-air-volume"),
    "settle": ("settle", AFTER, "--target", "650", "--tolerance", "50"),
    "supply": ("supply", CAPTURES / "sagging-supply.csv"),
    "identity": ("identity", CAPTURES / "demo-before.log", AFTER),
    "air": ("air", AFTER, "--sheet", "demo-car"),
}
KEYS = {
    "plan": {"have_ready", "relearns"},
    "show": {
        "duration_s",
        "modules",
        "channels",
        "vin",
        "calibrations",
        "verification_numbers",
        "codes",
        "lamp",
        "monitors",
        "refused",
        "faults",
    },
    "ready": {"verdict", "preconditions", "by_eye", "ready_spans_s", "warm_up"},
    "settle": {
        "verdict",
        "reasons",
        "target_rpm",
        "tolerance_rpm",
        "settle_s",
        "mean_rpm",
        "sd_rpm",
        "min_rpm",
        "max_rpm",
        "drift_rpm_per_min",
        "hunting",
    },
    "supply": {"verdict", "sags", "surges", "share_inside", "last_minute"},
    "identity": {"verdict", "vin_before", "vin_after", "modules"},
    "air": {"verdict", "points_to", "would_settle", "parts"},
}


@pytest.mark.parametrize("kind", COMMANDS)
def test_json_is_one_document_with_the_promised_keys(kind: str) -> None:
    ran = relearn(*COMMANDS[kind], "--json")
    assert ran.err == ""
    assert set(json.loads(ran.out)) >= KEYS[kind]
    assert to_json(from_json(ran.out)) == ran.out


@pytest.mark.parametrize("kind", COMMANDS)
def test_the_page_for_the_terminal_fits_80_columns_and_says_the_verdict_first(kind: str) -> None:
    ran = relearn(*COMMANDS[kind])
    assert max(len(line) for line in ran.out.splitlines()) <= 80
    document = json.loads(relearn(*COMMANDS[kind], "--json").out)
    if "verdict" in document:
        assert ran.out.startswith(document["verdict"].upper() + "  ")


def test_a_plan_for_a_replaced_module() -> None:
    document = json.loads(relearn(*COMMANDS["plan"], "--json").out)
    assert [one["id"] for one in document["relearns"]] == [
        "vin-write",
        "immobilizer-registration",
        "accelerator-closed-position",
        "throttle-closed-position",
        "idle-air-volume",
    ]
    idle = document["relearns"][-1]
    assert {"accelerator-closed-position", "throttle-closed-position"} <= set(idle["comes_after"])
    assert all(idle[key] for key in ("because", "measured", "by_eye", "steps", "cautions"))


def test_a_channel_row_has_what_was_promised() -> None:
    rows = json.loads(relearn(*COMMANDS["show"], "--json").out)["channels"]
    speed = next(row for row in rows if row["channel"] == "engine_speed")
    assert set(speed) >= {"module", "channel", "unit", "samples", "first", "last", "min", "max", "longest_gap_s"}
    assert (speed["module"], speed["unit"], speed["first"]) == ("7E8", "rpm", 0.0)
    assert {"coolant_temperature", "vehicle_speed", "control_module_voltage"} <= {row["channel"] for row in rows}


def test_a_precondition_row_has_its_evidence() -> None:
    document = json.loads(relearn(*COMMANDS["ready"], "--json").out)
    row = next(one for one in document["preconditions"] if one["id"] == "coolant-warm")
    assert row["limits"] == [70, 100]
    assert row["margin"] == min(row["value"] - 70, 100 - row["value"])
    assert row["last_s"] - row["first_s"] <= 10.0
    assert row["samples"] >= 9
    assert "common practice" in row["standing"]


def test_a_cold_engine_is_told_when_it_will_be_ready() -> None:
    document = json.loads(relearn("ready", COLD, "--for", "idle-air-volume", "--json").out)
    warm_up = document["warm_up"]
    assert warm_up["trusted"]
    assert 0 < warm_up["low_s"] < warm_up["reach_s"] < warm_up["high_s"]


def test_cutting_a_capture_inside_a_ready_span_is_ready(tmp_path: Path) -> None:
    spans = json.loads(relearn(*COMMANDS["ready"], "--json").out)["ready_spans_s"]
    lines = IDLE.read_text(encoding="ascii").splitlines()
    start_s = float(lines[0][1:].split(")")[0])
    middle_s = sum(spans[-1]) / 2
    cut = tmp_path / "cut.log"
    cut.write_text("".join(f"{line}\n" for line in lines if float(line[1:].split(")")[0]) - start_s <= middle_s))
    # the list of stored codes is asked once at the start and once at the end: the count (01) stands in between
    assert relearn("ready", cut, "--for", "idle-air-volume").verdict == "yes"
