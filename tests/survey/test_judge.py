"""One capture to one row: the same verdict and numbers as the question's own document."""

from __future__ import annotations

import pickle
import shutil
from pathlib import Path

import pytest

from relearn import __version__
from relearn.analysis.settle import settle as settle_document
from relearn.errors import ChoiceError, SheetError
from relearn.findings.base import EvidenceDoc, Judged, Judgement, Source
from relearn.procedures.sheets import given_instead
from relearn.recording import read
from relearn.survey.columns import KEY_NUMBERS, columns
from relearn.survey.decided import decided_by, without_numbers, worst_margin
from relearn.survey.judge import WITHOUT_MAP, judge
from relearn.survey.questions import OF_A_RELEARN, QUESTIONS, asked, fingerprint
from tests.survey.demo import CAPTURES, found, settle, sheet


@pytest.mark.parametrize("question", QUESTIONS)
def test_every_question_fills_its_columns(question: str) -> None:
    ask = asked(question, "idle-air-volume" if question in OF_A_RELEARN else None, sheet())
    row = judge(found("demo-after.log"), pickle.loads(pickle.dumps(ask)))
    named = {one.name: one for one in columns(question)}
    assert set(row) == set(named)
    assert all(isinstance(cell, str) for name, cell in row.items() if not named[name].number)
    assert all(cell is None or isinstance(cell, int | float) for name, cell in row.items() if named[name].number)
    assert any(row[one.name] not in (None, "") for one in KEY_NUMBERS[question])


def test_a_row_says_what_the_document_says() -> None:
    document = settle_document(read(CAPTURES / "hunting.log"), sheet())
    row = judge(found("hunting.log"), settle())
    assert document.hunting is not None
    assert (row["verdict"], row["reason"]) == (document.verdict, document.reasons[0])
    assert (row["mean_rpm"], row["hunting_amplitude_rpm"]) == (document.mean_rpm, document.hunting.amplitude_rpm)
    assert (row["decided_by"], row["worst_margin_of"], row["worst_margin_unit"]) == ("speed", "speed", "rpm")
    assert (row["sha256"], row["version"]) == (document.source.sha256, __version__)


def test_the_identity_of_one_capture_is_whether_it_could_be_read() -> None:
    row = judge(found("demo-after.log"), asked("identity", None, sheet()))
    assert (row["verdict"], row["vin"], row["calibrations"]) == ("yes", "30ZDEML28TD000001", "DEMO-ENG20A-0203")
    assert judge(found("sagging-supply.csv"), asked("identity", None, sheet()))["verdict"] == "cannot tell"


def test_a_map_is_for_the_tables_that_have_its_columns(tmp_path: Path) -> None:
    """In a folder lie others too, and captures of frames: read without it, which the reason says, as a name may be
    misspelt. A table that has some of the columns but not all is refused."""
    table, mapping = tmp_path / "logger.csv", tmp_path / "map.toml"
    table.write_text(
        "time [s],Batt\n" + "".join(f"{row},{13.3 + row % 2 / 10}\n" for row in range(90)), encoding="ascii"
    )
    mapping.write_text('[columns]\nBatt = { channel = "control_module_voltage", unit = "V" }\n', encoding="ascii")
    captures = [found("logger.csv", table), found("sagging-supply.csv"), found("demo-after.log")]
    plain, mapped = (asked("supply", None, sheet(), mapping=one) for one in (None, mapping))
    without, rows = ([judge(one, ask) for one in captures] for ask in (plain, mapped))
    assert [row["verdict"] for row in without] == ["cannot tell", "no", "no"]
    assert (rows[0]["verdict"], rows[0]["worst_v"]) == ("yes", None)
    for before, row in zip(without[1:], rows[1:], strict=True):
        assert row["verdict"] == before["verdict"] and row["reason"] == f"{before['reason']}{WITHOUT_MAP}"
    mapping.write_text('[columns]\nBatt = "control_module_voltage"\nLoad = "absolute_load"\n', encoding="ascii")
    assert "has no column 'Load'" in str(judge(captures[0], asked("supply", None, sheet(), mapping=mapping))["reason"])


def test_a_map_of_signals_asks_for_their_database(tmp_path: Path) -> None:
    mapping = tmp_path / "map.toml"
    mapping.write_text('[signals]\nBatt = "control_module_voltage"\n', encoding="ascii")
    with pytest.raises(ChoiceError, match="names the signals of a database"):
        asked("supply", None, sheet(), mapping=mapping)


def test_a_file_that_cannot_be_used_is_a_row(tmp_path: Path) -> None:
    path = tmp_path / "a.log"
    path.write_text("Dear diary\n", encoding="ascii")
    row = judge(found("a.log", path), settle())
    assert row["verdict"] == "unreadable"
    assert str(tmp_path) not in str(row["reason"]) and row["reason"]
    assert len(str(row["sha256"])) == 64
    assert judge(found("gone.log", tmp_path / "gone.log"), settle())["sha256"] == ""


@pytest.mark.parametrize(
    ("question", "relearn"), [("ready", None), ("settle", "idle-air-volume"), ("ready", "oil-change"), ("tyres", None)]
)
def test_what_cannot_be_asked(question: str, relearn: str | None) -> None:
    with pytest.raises(ChoiceError):
        asked(question, relearn, sheet())


def test_a_sheet_is_known_by_its_numbers() -> None:
    other = given_instead(sheet(), "idle.target_rpm", 651.0, "a test")
    assert fingerprint(sheet()) == fingerprint(sheet()) != fingerprint(other)


def part(name: str, verdict: str, value: float, low: float | None, high: float | None, unit: str = "V") -> Judgement:
    margin = min(
        end
        for end in (value - low if low is not None else None, high - value if high is not None else None)
        if end is not None
    )
    evidence = EvidenceDoc(subject=name, value=value, unit=unit, limits=(low, high), margin=margin)
    return Judgement(id=name, verdict=verdict, reason=f"{value:g} {unit}", evidence=(evidence,))  # type: ignore[arg-type]


def judged(verdict: str, *parts: Judgement) -> Judged:
    source = Source(file="a", sha256="", start=None, duration_s=1.0)
    return Judged(verdict=verdict, reasons=("so",), sheet="", source=source, parts=parts)  # type: ignore[arg-type]


def test_margins_compare_by_their_share_of_the_window() -> None:
    """0.1 V of a half width of 0.5 V is a fifth; of 15 °C, 4 °C are more than that and 2 °C less."""
    supply = part("supply", "yes", 12.1, 12.0, 13.0)
    for coolant_c, closest in ((74.0, "supply"), (72.0, "coolant")):
        worst = worst_margin(judged("yes", supply, part("coolant", "yes", coolant_c, 70.0, 100.0, "°C")))
        assert worst is not None and worst.part == closest


def test_only_the_parts_that_failed_give_the_margin_of_a_no() -> None:
    worst = worst_margin(judged("no", part("a", "yes", 12.0, 12.0, 13.0), part("b", "no", 14.0, 12.0, 13.0)))
    assert worst is not None and (worst.part, worst.value) == ("b", -1.0)


def test_inside_a_part_that_failed_only_what_failed_gives_the_margin() -> None:
    step = Judgement(id="hold", verdict="no", reason="so", parts=(part("a", "yes", 12.0, 12.0, 13.0),))
    assert worst_margin(judged("no", step)) is None
    worst = worst_margin(judged("no", step.model_copy(update={"parts": (*step.parts, part("b", "no", 13.2, 12, 13))})))
    assert worst is not None and (worst.part, round(worst.value, 6)) == ("hold/b", -0.2)


@pytest.mark.parametrize(
    ("name", "verdict", "reason", "margin"),
    [
        ("demo-ready-idle.log", "no", "705 to 729 rpm", 700 - 729),
        ("hunting.log", "no", "562 to 734 rpm", 562.25 - 600),
        ("cold.log", "no", "63 °C at the end", 63 - 80),
    ],
)
def test_the_worst_margin_is_of_the_stretch_that_the_reason_names(
    name: str, verdict: str, reason: str, margin: float
) -> None:
    """Not of the whole idle, which begins with a start from 0 rpm and from cold."""
    row = judge(found(name), settle())
    assert row["verdict"] == verdict and reason in str(row["reason"])
    assert row["worst_margin"] == pytest.approx(margin)


@pytest.mark.parametrize(
    "met",
    [
        part("stopped", "yes", 0.0, None, 0.0, "km/h"),
        part("no-stored-codes", "yes", 0.0, None, 0.0, ""),
        part("presses", "yes", 5.0, 5.0, 5.0, "times"),
        part("revs", "yes", 3.0, 2.0, 3.0, "times"),
    ],
    ids=lambda one: one.id,
)
def test_what_is_met_exactly_or_in_whole_ones_has_no_margin(met: Judgement) -> None:
    assert worst_margin(judged("yes", met)) is None
    worst = worst_margin(judged("yes", met, part("supply", "yes", 12.9, 12.0, 13.0)))
    assert worst is not None and worst.part == "supply"


def test_a_measurement_at_its_limit_and_a_count_that_missed_have_one() -> None:
    at_limit = worst_margin(judged("yes", part("supply", "yes", 13.0, 12.0, 13.0)))
    missed = worst_margin(judged("no", part("presses", "no", 4.0, 5.0, 5.0, "times")))
    assert (at_limit and at_limit.value, missed and missed.value) == (0.0, -1.0)


def test_who_decided() -> None:
    first, second = part("a", "cannot tell", 1.0, 0.0, None), part("b", "no", 2.0, 3.0, None)
    assert decided_by(judged("no", first, second)) == "b"
    assert decided_by(judged("cannot tell", first)) == "a: … V"
    assert decided_by(judged("yes", part("c", "yes", 1.0, 0.0, None))) == ""
    assert without_numbers("module 7E8 at 12.5 s, 2,500 rpm") == "module 7E8 at … s, … rpm"
    assert without_numbers("the car's first line is 'Dear diary 1'") == "the car's first line is '…'"


def test_what_could_not_tell_gives_no_margin() -> None:
    """−40 °C is what an open sensor circuit reads (common practice, no source)."""
    broken = part("coolant", "cannot tell", -40.0, 80.0, 100.0, "°C")
    worst = worst_margin(judged("cannot tell", part("supply", "yes", 12.4, 12.0, 13.0), broken))
    assert worst is not None and (worst.part, round(worst.value, 6)) == ("supply", 0.4)
    assert worst_margin(judged("cannot tell", broken)) is None


def test_a_broken_circuit_is_no_key_number() -> None:
    row = judge(found("open-coolant-circuit.log"), asked("ready", "idle-air-volume", sheet()))
    assert "coolant-warm" in str(row["not_told"])
    assert row["coolant_c"] is None and row["worst_margin_unit"] != "°C"


@pytest.mark.parametrize("question", ["ready", "steps", "settle", "supply"])
def test_what_was_not_measured_is_an_empty_cell_and_no_zero(question: str, tmp_path: Path) -> None:
    """A module that answers nothing but its vehicle speed (01 0D, SAE J1979)."""
    path = tmp_path / "speed.log"
    frames = (f"({1.7e9 + second:.6f}) can0 7E8#03410D00AAAAAAAA" for second in range(30))
    path.write_text("\n".join(frames), encoding="ascii")
    row = judge(
        found("speed.log", path), asked(question, "idle-air-volume" if question in OF_A_RELEARN else None, sheet())
    )
    assert row["verdict"] == "cannot tell"
    counted = [one.name for one in KEY_NUMBERS[question] if one.number and one.name != "steps_not_told"]
    assert {name: row[name] for name in counted} == dict.fromkeys(counted)


def test_what_was_measured_and_never_happened_is_a_zero() -> None:
    row = judge(found("demo-after.log"), settle())
    assert (row["verdict"], row["stalls"]) == ("yes", 0)
    cold = judge(found("cold.log"), asked("ready", "idle-air-volume", sheet()))
    assert (cold["verdict"], cold["not_told"], cold["ready_s"]) == ("no", "", 0)


def test_database_map_and_module_are_those_of_ready() -> None:
    examples = CAPTURES.parent / "dbc_examples"
    database, mapping = examples / "broadcast.dbc", examples / "broadcast-map.toml"
    ask = asked("settle", None, sheet(), database, mapping)
    document = settle_document(read(CAPTURES / "passive-broadcast.log", database, mapping), sheet())
    row = judge(found("passive-broadcast.log"), pickle.loads(pickle.dumps(ask)))
    assert (row["verdict"], row["mean_rpm"]) == (document.verdict, document.mean_rpm) == ("yes", document.mean_rpm)
    assert len(str(row["dbc_sha256"])) == len(str(row["map_sha256"])) == 64
    other = judge(found("two-modules.log"), asked("settle", None, sheet(), module="7E9"))
    assert (other["module"], other["module_asked"]) == ("7E9", "7E9")


@pytest.mark.parametrize("name", ["database", "mapping"])
def test_a_bad_database_or_map_is_said_once_and_before(name: str, tmp_path: Path) -> None:
    (tmp_path / "bad").write_text("this is neither", encoding="ascii")
    for path in (tmp_path / "bad", tmp_path / "gone"):
        with pytest.raises(SheetError, match=path.name):
            asked("settle", None, sheet(), **{name: path})


def test_a_worker_that_lacks_the_database_names_it(tmp_path: Path) -> None:
    database = shutil.copyfile(CAPTURES.parent / "dbc_examples" / "broadcast.dbc", tmp_path / "car.dbc")
    ask = asked("settle", None, sheet(), database)
    database.unlink()
    row = judge(found("passive-broadcast.log"), ask)
    assert row["verdict"] == "unreadable" and "car.dbc" in str(row["reason"])


@pytest.mark.parametrize(
    ("name", "decided"), [("demo-after.log", "not begun"), ("steps-idle-four-presses.log", "presses")]
)
def test_steps_on_which_nobody_has_begun_are_counted_apart(name: str, decided: str) -> None:
    row = judge(found(name), asked("steps", "idle-air-volume", sheet()))
    assert (row["verdict"], row["decided_by"]) == ("no", decided)


def test_what_a_module_does_not_show_is_told_beside_a_yes() -> None:
    ask = asked("ready", "idle-air-volume", sheet())
    rows = [judge(found(name), ask) for name in ("missing-parameter.log", "demo-ready-idle.log")]
    assert [(row["verdict"], row["not_shown"]) for row in rows] == [("yes", "supply"), ("yes", "")]
