"""Vehicle sheets: overlay, standings, limits by kind, and every mistake named with its key."""

from __future__ import annotations

import pickle
import string
import tomllib
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from relearn.errors import ChoiceError, ProcedureError, SheetError
from relearn.procedures.facts import fact_rows
from relearn.procedures.sheet_mistakes import mistakes
from relearn.procedures.sheets import Fact, Sheet, check_sheet, generic, given_instead, load_sheet, sheet_path
from relearn.procedures.steps import planned_steps

HEAD = 'title = "A car"\nsource = "an invented service manual"\n'
CASES: list[dict[str, str]] = tomllib.loads(Path(__file__).with_name("mistakes.toml").read_text(encoding="utf-8"))[
    "case"
]


def written(folder: Path, text: str) -> Path:
    path = folder / "car.toml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("kind", "value", "inside", "outside"),
    [
        ("number", 700.0, [700.0], [699.9, 700.1]),
        ("floor", 12.0, [12.0, 15.0], [11.9]),
        ("above", 12.9, [13.0], [12.9, 12.0]),
        ("ceiling", 0.0, [0.0, -1.0], [0.1]),
        ("range", (70.0, 100.0), [70.0, 100.0], [69.9, 100.1]),
        ("range", (None, 5.0), [-99.0, 5.0], [5.1]),
    ],
)
def test_limits_of_each_kind(kind: Any, value: Any, inside: list[float], outside: list[float]) -> None:
    limits = Fact("idle.target_rpm", value, "V", kind, "invented").limits()
    assert all(limits.holds(number) for number in inside)
    assert not any(limits.holds(number) for number in outside)


def test_generic_and_demo_sheets_have_no_mistakes() -> None:
    assert check_sheet(sheet_path("generic")) == check_sheet(sheet_path("demo-car")) == ()


def test_the_demo_sheet() -> None:
    demo = load_sheet(sheet_path("demo-car"))
    assert "invented" in demo.title and "invented" in demo.source
    assert demo.number("idle.target_rpm") == 650
    limits = demo.around("idle.target_rpm", "idle.tolerance_rpm")
    assert limits is not None and (limits.low, limits.high) == (600, 700)
    assert demo.sets("warm.coolant_c") and not demo.sets("supply.engine_off_v")


def test_the_generic_sheet_by_name_stays_generic() -> None:
    assert load_sheet(sheet_path("generic")) is generic()
    assert not generic().own
    assert generic().around("idle.target_rpm", "idle.tolerance_rpm") is None


def test_a_sheet_lies_over_the_generic_one_with_its_own_standing(tmp_path: Path) -> None:
    sheet = load_sheet(written(tmp_path, HEAD + "[idle]\ntarget_rpm = 700\n[warm]\ncoolant_c = { low = 75 }"))
    assert sheet.need("idle.target_rpm").standing == "vehicle sheet 'A car': an invented service manual"
    assert sheet.need("warm.coolant_c").describe() == "75 °C or more"
    assert sheet.limits("supply.engine_off_v") == generic().limits("supply.engine_off_v")


@pytest.mark.parametrize(
    ("words", "shown"),
    [
        ("read off a label", "read off a label"),
        ("M", "from memory, confirm in the vehicle's service information"),
        ("CM", "common practice, no source; from memory, confirm in the vehicle's service information"),
        ("P: an invented manual, page 3", "published: an invented manual, page 3"),
    ],
)
def test_a_sheet_can_give_one_number_another_standing(tmp_path: Path, words: str, shown: str) -> None:
    text = HEAD + f'[idle]\ntarget_rpm = 700\ntolerance_rpm = 30\n[standing]\n"idle.tolerance_rpm" = "{words}"'
    sheet = load_sheet(written(tmp_path, text))
    assert sheet.need("idle.tolerance_rpm").standing == shown
    assert sheet.need("idle.target_rpm").standing.startswith("vehicle sheet")


def test_around_carries_both_standings_once(tmp_path: Path) -> None:
    sheet = load_sheet(written(tmp_path, HEAD + "[idle]\ntarget_rpm = 700"))
    limits = sheet.around("idle.target_rpm", "idle.tolerance_rpm")
    assert limits is not None and (limits.low, limits.high, limits.unit) == (650, 750, "rpm")
    assert limits.standing == (
        "vehicle sheet 'A car': an invented service manual; from memory, confirm in the vehicle's service information"
    )


def test_a_sheet_can_set_the_timing_of_a_step(tmp_path: Path) -> None:
    sheet = load_sheet(
        written(
            tmp_path,
            HEAD + "[steps.idle-air-volume.hold]\nabout_s = 25\n[steps.after-write.ignition-off]\nat_least_s = 90",
        )
    )
    hold = next(step for step in planned_steps("idle-air-volume", sheet) if step.id == "hold")
    assert "about 25 s" in hold.text
    assert [(number.value, number.standing) for number in hold.numbers] == [
        (25, "vehicle sheet 'A car': an invented service manual")
    ]
    assert planned_steps("after-write", sheet)[0].text == "Switch the ignition off for 90 s or more."
    others = [step for step in planned_steps("idle-air-volume", sheet) if step.id != "hold"]
    assert others == [step for step in planned_steps("idle-air-volume", generic()) if step.id != "hold"]


def test_an_option_instead_of_a_sheet() -> None:
    sheet = given_instead(generic(), "idle.target_rpm", 700.0, "given as an option")
    assert sheet.need("idle.target_rpm").standing == "given as an option"
    assert sheet.sets("idle.target_rpm") and generic().number("idle.target_rpm") is None
    with pytest.raises(ChoiceError, match="must be 300 to 2000 rpm"):
        given_instead(generic(), "idle.target_rpm", -5.0, "given as an option")
    with pytest.raises(ChoiceError, match="low end above its high end"):
        given_instead(generic(), "supply.programming_v", (13.5, 12.0), "given as an option")


def test_asking_for_what_nobody_knows_or_in_the_wrong_way_is_never_a_silent_none() -> None:
    with pytest.raises(ProcedureError, match="nobody knows this fact"):
        generic().limits("idle.target")
    with pytest.raises(ProcedureError, match="no single number"):
        generic().number("warm.coolant_c")
    with pytest.raises(ProcedureError, match="is a number and no text"):
        generic().text("idle.tolerance_rpm")
    with pytest.raises(ProcedureError, match="has no generic value"):
        generic().need("idle.target_rpm")
    vin = Fact("vehicle.vin", "X", "", "text", "invented")
    with pytest.raises(ProcedureError, match="is a text and no limit"):
        Sheet("", "", {"vehicle.vin": vin}).limits("vehicle.vin")


@pytest.mark.parametrize("case", CASES, ids=[case["sheet"].replace("\n", " ")[:50] for case in CASES])
def test_each_mistake_is_one_sentence_with_its_key(tmp_path: Path, case: dict[str, str]) -> None:
    path = written(tmp_path, HEAD + case["sheet"])
    [sentence] = check_sheet(path)
    assert sentence.startswith(f"{path}, key '{case['key']}': ")
    assert case["words"] in sentence and "\n" not in sentence
    with pytest.raises(SheetError) as refused:
        load_sheet(path)
    assert (str(refused.value), refused.value.key) == (sentence, case["key"])


def test_all_mistakes_are_named_at_once(tmp_path: Path) -> None:
    text = 'title = ""\n[idle]\ntarget_rmp = 1\nhold_s = "x"\n[steps]\nx = 1\n[standing]\ny = "C"'
    found = check_sheet(written(tmp_path, text))
    keys = ["title", "source", "idle.target_rmp", "idle.hold_s", "steps.x", "standing.y"]
    assert len(found) == len(keys)
    assert all(f"key '{key}'" in sentence for key, sentence in zip(keys, found, strict=True))


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"title = 'x'\nidle target = 3\n", "line 2: this is not a TOML file"),
        (b"[idle]\ntarget_rpm = 650\ntarget_rpm = 700\n", "line 3: this is not a TOML file"),
        (b"\xff\xfe\x00\x01", "this is not a TOML file"),
        (b"a = " + b"[" * 5000, "this is not a TOML file"),
        (b"a = " + b"9" * 5000, "this is not a TOML file"),
        (b"", "key 'title': is missing"),
        (b"[idle]\ntarget_rpm = 0x" + b"f" * 5000, "key 'title'"),
        (b"a." * 3000 + b"b = 1", "key 'title'"),
    ],
)
def test_a_file_that_is_no_sheet(tmp_path: Path, content: bytes, words: str) -> None:
    path = tmp_path / "x.toml"
    path.write_bytes(content)
    assert words in check_sheet(path)[0]
    with pytest.raises(SheetError, match=r"title|TOML"):
        load_sheet(path)


def test_a_sheet_that_is_not_there_or_is_a_folder(tmp_path: Path) -> None:
    for path in (tmp_path / "none.toml", tmp_path):
        assert "cannot be read" in check_sheet(path)[0]
        with pytest.raises(SheetError, match="cannot be read"):
            load_sheet(path)


def test_a_byte_order_mark_is_no_mistake(tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    path.write_bytes(b"\xef\xbb\xbf" + HEAD.encode())
    assert check_sheet(path) == ()


def test_a_name_is_packaged_and_anything_else_a_path() -> None:
    assert sheet_path("demo-car").is_file()
    assert sheet_path("./demo-car") == Path("demo-car")


@st.composite
def misspelt(draw: st.DrawFn) -> tuple[str, str]:
    """A key and itself with one letter of its last part dropped, doubled or replaced; long enough to be recognised."""
    right = draw(st.sampled_from([key for key in fact_rows() if len(key) >= 10]))
    place = draw(st.integers(right.index(".") + 1, len(right) - 1))
    put = draw(st.sampled_from(["", right[place] * 2, *string.ascii_lowercase]))
    return right, right[:place] + put + right[place + 1 :]


@given(misspelt())
@settings(max_examples=60, deadline=None)
def test_a_misspelt_key_is_named_with_the_right_one(pair: tuple[str, str]) -> None:
    right, wrong = pair
    if wrong in fact_rows():
        return
    section, _, name = wrong.partition(".")
    document = {"title": "t", "source": "s", section: {name: 1}} if name else {"title": "t", "source": "s", wrong: 1}
    [mistake] = mistakes(document, Path("car.toml"))
    assert f"the nearest right key is '{right}'" in str(mistake)


VALUES = st.recursive(
    st.one_of(st.booleans(), st.integers(), st.floats(), st.text(max_size=5), st.just(date(2000, 1, 1))),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=6,
)
NAMES = st.sampled_from(["title", "source", "idle", "warm", "steps", "standing", "x"])
SECTIONS = st.dictionaries(st.sampled_from(["target_rpm", "coolant_c", "tolerance_rpm", "", "low"]), VALUES, max_size=3)


@given(st.dictionaries(NAMES, VALUES | SECTIONS, max_size=5))
@settings(max_examples=100, deadline=None)
def test_any_toml_gives_sentences_and_never_anything_else(document: dict[str, Any]) -> None:
    for mistake in mistakes(document, Path("car.toml")):
        assert str(mistake).isprintable() and mistake.key is not None


def test_a_sheet_goes_to_another_process_whole() -> None:
    sheet = load_sheet(sheet_path("demo-car"))
    assert pickle.loads(pickle.dumps(sheet)) == sheet
