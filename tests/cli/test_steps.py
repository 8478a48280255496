"""`relearn steps` on demo captures and on candump text: its document, its page, and what must change nothing.

Times asked for: common practice or from memory, no source.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from relearn.findings.base import to_json
from relearn.findings.reading import from_json
from tests.cli.run import CAPTURES, relearn

PEDAL, IDLE, THROTTLE = "accelerator-closed-position", "idle-air-volume", "throttle-closed-position"
DEMOS = [
    ("steps-pedal-right.log", PEDAL, "yes", ""),
    ("steps-pedal-short-off.log", PEDAL, "no", "second-off: ignition off 6"),
    ("steps-pedal-straddle.log", PEDAL, "cannot tell", ""),
    ("steps-throttle-right.log", THROTTLE, "yes", ""),
    ("steps-throttle-engine-started.log", THROTTLE, "no", "on: the engine was started"),
    ("steps-idle-right.log", IDLE, "yes", ""),
    ("steps-idle-four-presses.log", IDLE, "no", "presses: pedal pressed fully 4 times, asked 5 times"),
    ("steps-idle-short-hold.log", IDLE, "no", "hold: pedal held 12"),
    ("steps-idle-late-release.log", IDLE, "no", "release: pedal released after 4.9"),
    ("steps-idle-supply-sag.log", IDLE, "no", "hold: the supply sagged to 11.1"),
    ("steps-write-wait-right.log", "after-write", "yes", ""),
    ("steps-write-wait-short.log", "after-write", "no", "ignition-off: ignition off 29.9"),
]
KEYS = {"verdict", "reasons", "relearn", "steps", "by_eye", "troubles"}
STEP_KEYS = {
    "id",
    "text",
    "verdict",
    "asked",
    "measured",
    "unit",
    "uncertainty_s",
    "span_s",
    "frames",
    "standing",
    "reason",
}


@pytest.mark.parametrize(("file", "asked", "verdict", "trouble"), DEMOS, ids=[one[0] for one in DEMOS])
def test_a_demo_capture_answers_what_its_making_says(file: str, asked: str, verdict: str, trouble: str) -> None:
    ran = relearn("steps", CAPTURES / file, "--for", asked, "--json")
    document = json.loads(ran.out)
    assert (ran.verdict, document["verdict"], document["relearn"]) == (verdict, verdict, asked), ran.out
    assert [one for one in document["troubles"][:1] if trouble not in one] == []
    assert bool(document["troubles"]) == bool(trouble)


def test_the_document_has_the_promised_keys_and_reads_back() -> None:
    ran = relearn("steps", CAPTURES / "steps-idle-right.log", "--for", IDLE, "--json")
    document = json.loads(ran.out)
    assert set(document) >= KEYS and all(set(row) >= STEP_KEYS for row in document["steps"])
    assert to_json(from_json(ran.out)) == ran.out
    hold = next(row for row in document["steps"] if row["id"] == "hold")
    assert abs(hold["measured"] - 21.0) <= 3 * hold["uncertainty_s"] and hold["unit"] == "s"
    assert hold["span_s"][0] < 46.7 < 67.5 < hold["span_s"][1] + 0.2
    assert [one["id"] for one in document["by_eye"]] == ["stop-engine", "check"]


@pytest.mark.parametrize(("file", "asked", "verdict", "_trouble"), DEMOS[:7], ids=[one[0] for one in DEMOS[:7]])
def test_the_page_fits_80_columns_and_says_the_verdict_first(
    file: str, asked: str, verdict: str, _trouble: str
) -> None:
    ran = relearn("steps", CAPTURES / file, "--for", asked)
    assert ran.out.startswith(verdict.upper() + "  ")
    assert max(len(line) for line in ran.out.splitlines()) <= 80


def test_an_unknown_relearn_is_one_sentence() -> None:
    ran = relearn("steps", CAPTURES / "steps-pedal-right.log", "--for", "idle")
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.count("\n") == 1 and "after-write" in ran.err


def test_a_capture_without_any_answer_is_one_sentence() -> None:
    ran = relearn("steps", CAPTURES / "passive-broadcast.log", "--for", PEDAL)
    assert (ran.code, ran.err.count("\n")) == (2, 1)


ON = ((1.0, 4.0), (16.0, 19.0), (31.0, 34.0))
ASKED = {"0C": "0000", "49": "26", "42": "3070"}  # 0 rpm, 14.9 %, 12.4 V by the scaling of SAE J1979


def exchanges(on: tuple[tuple[float, float], ...] = ON, end_s: float = 34.0) -> list[tuple[float, str]]:
    """A tester asks three parameters five times a second; with the ignition on they are answered 4 ms later."""
    lines = []
    for tick in range(round(end_s * 5)):
        for place, (pid, value) in enumerate(ASKED.items()):
            at_s = tick / 5 + place / 100
            lines.append((at_s, f"7DF#0201{pid}0000000000"))
            if any(a <= tick / 5 < b for a, b in on):
                lines.append((at_s + 0.004, f"7E8#{2 + len(value) // 2:02X}41{pid}{value:0<10}"))
    return lines


def candump(lines: list[tuple[float, str]], start_s: float = 1_700_000_000.0) -> str:
    return "".join(f"({start_s + at_s:.6f}) can0 {frame}\n" for at_s, frame in sorted(lines))


def outcomes(folder: Path, text: str) -> list[tuple[str, str, float | None]]:
    path = folder / "steps.log"
    path.write_text(text, encoding="ascii")
    document = json.loads(relearn("steps", path, "--for", PEDAL, "--json").out)
    return [("all", document["verdict"], None), *((s["id"], s["verdict"], s["measured"]) for s in document["steps"])]


def test_candump_text_that_was_never_a_demo(tmp_path: Path) -> None:
    """Off from 4 to 16 and from 19 to 31 s; the last answer is 0.2 s before the end of each ignition on."""
    assert [one[:2] for one in outcomes(tmp_path, candump(exchanges()))] == [
        (name, "yes") for name in ("all", "first-on", "first-off", "second-on", "second-off")
    ]


FRAMES = st.lists(st.tuples(st.floats(-5, 40), st.integers(0, 0x6FF), st.binary(min_size=8, max_size=8)), max_size=30)


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(FRAMES, st.integers(0, 10**15))
def test_unrelated_traffic_and_another_clock_change_nothing(
    tmp_path: Path, foreign: list[tuple[float, int, bytes]], later_us: int
) -> None:
    short = ((1.0, 4.0), (16.0, 19.0), (25.2, 34.0))
    more = [(round(at_s, 6), f"{one:03X}#{data.hex().upper()}") for at_s, one, data in foreign]
    for on in (ON, short):
        before = outcomes(tmp_path, candump(exchanges(on)))
        assert outcomes(tmp_path, candump([*exchanges(on), *more])) == before
        assert outcomes(tmp_path, candump(exchanges(on), 1_700_000_000.0 + later_us / 1_000_000)) == before


def test_a_table_of_values(tmp_path: Path) -> None:
    """No requests show in a table: a silence that comes back counts, to one usual interval on both sides."""
    rows = [at / 5 for at in range(230) if any(a <= at / 5 < b for a, b in (*ON, (45.0, 46.0)))]
    header = "Time (s),Engine RPM (rpm),Accelerator pedal position D (%),Control module voltage (V)\n"
    path = tmp_path / "steps.csv"
    path.write_text(header + "".join(f"{at:.1f},0,15,12.4\n" for at in rows), encoding="ascii")
    document = json.loads(relearn("steps", path, "--for", PEDAL, "--json").out)
    assert document["verdict"] == "yes", document["reasons"]
    first_off = document["steps"][1]
    assert (
        first_off["measured"] - first_off["uncertainty_s"] <= 12.0 <= first_off["measured"] + first_off["uncertainty_s"]
    )


def test_a_pedal_that_is_not_read_any_more_is_no_wrong_step(tmp_path: Path) -> None:
    """The right relearn, without a pedal answer from the wait on: where the hold ended is not known, so the engine that
    was started after it says nothing about the hold."""
    start_s, kept = None, []
    for line in (CAPTURES / "steps-idle-right.log").read_text(encoding="ascii").splitlines():
        time_s = float(line[1 : line.index(")")])
        start_s = time_s if start_s is None else start_s
        if time_s - start_s < 40.0 or line.split("#")[1][2:6] not in ("4149", "414A", "415A"):
            kept.append(line)
    path = tmp_path / "no-pedal.log"
    path.write_text("\n".join(kept) + "\n", encoding="ascii")
    ran = relearn("steps", path, "--for", "idle-air-volume", "--sheet", "demo-car")
    assert ran.code == 3, ran.out
    assert "What went wrong" not in ran.out
