"""Rows counted, spread and drawn. The rows are written by hand."""

from __future__ import annotations

import io
from itertools import pairwise

import matplotlib.style
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from rich.console import Console

from relearn.findings.survey import SurveyFindings
from relearn.report.plots import LOOK
from relearn.report.survey_plot import _figure, picture
from relearn.report.text import print_document
from relearn.survey.columns import Cell, Row, empty
from relearn.survey.questions import asked
from relearn.survey.summary import summary
from tests.survey.demo import settle, sheet

APART = 4  # of 100 dots to the inch: half the width of a figure
PNG = b"\x89PNG\r\n\x1a\n"


def row(file: str, verdict: str, **cells: Cell) -> Row:
    return {**empty("settle"), "folder": "f", "file": file, "verdict": verdict, **cells}


ROWS = (
    row("a.log", "no", decided_by="speed", reason="mean 715 rpm", mean_rpm=715.0, judged_in_s=0.3),
    row("b.log", "no", decided_by="speed", reason="mean 720 rpm", mean_rpm=720.0, stalls=2.0),
    row("c.log", "no", decided_by="warm", reason="60 °C", mean_rpm=650.5, stalls=0.0),
    row("d.log", "yes", mean_rpm=650.0, worst_margin=4.0, worst_margin_unit="rpm", worst_margin_of="speed"),
    row("e.log", "yes", mean_rpm=651.0, worst_margin=2.0, worst_margin_unit="rpm", worst_margin_of="speed"),
    row("<b>$x$.log", "unreadable", decided_by="is empty", reason="is empty; copy it again."),
)


def made(rows: tuple[Row, ...] = ROWS) -> SurveyFindings:
    return summary(rows, settle(), ["f"], 1, None)


def test_reasons_are_counted_by_the_part_and_not_by_their_numbers() -> None:
    reasons = [(one.verdict, one.decided_by, one.count, one.file) for one in made().reasons]
    assert reasons == [
        ("yes", "", 2, "d.log"),
        ("no", "speed", 2, "a.log"),
        ("no", "warm", 1, "c.log"),
        ("unreadable", "is empty", 1, "<b>$x$.log"),
    ]
    assert [one.count for one in made().verdicts] == [2, 3, 0, 1]


def test_key_texts_are_counted_and_what_the_counts_do_not_show_is_noted() -> None:
    same = {**empty("identity"), "folder": "f", "verdict": "yes", "sha256": "ab", "calibrations": "DEMO-1"}
    others: list[Row] = [{}, {"calibrations": "DEMO-2"}, {"sha256": "cd"}, {"sha256": ""}, {"sha256": ""}]
    rows = [{**same, "file": str(place), "faults": float(place), **other} for place, other in enumerate(others)]
    found = summary(rows, asked("identity", None, sheet()), ["f"], 0, None, ["a note"])
    assert [(one.words, one.value, one.count) for one in found.values] == [
        ("calibration", "DEMO-1", 4),
        ("calibration", "DEMO-2", 1),
    ]
    assert found.notes == (
        "a note",
        "with faults in the file or on the bus (counted in the column faults): 4 captures",
        "the same content as another capture, and counted again: 1 capture",
    )


def test_margins_and_numbers() -> None:
    (margin,), numbers = made().margins, {one.name: one for one in made().numbers}
    assert (margin.part, margin.count, margin.worst, margin.median, margin.file) == ("speed", 2, 2.0, 3.0, "e.log")
    speed = numbers["mean_rpm"]
    assert (speed.count, speed.low, speed.median, speed.high) == (5, 650.0, 651.0, 720.0)
    assert set(numbers) == {"mean_rpm", "stalls"}


def test_every_number_is_in_one_bin_and_few_whole_ones_have_their_own() -> None:
    spreads = {one.name: one for one in made().spreads}
    assert {verdict: sum(counts) for verdict, counts in spreads["mean_rpm"].counts.items()} == {"yes": 2, "no": 3}
    assert spreads["stalls"].edges == (-0.5, 0.5, 1.5, 2.5)
    assert spreads["stalls"].counts == {"no": (1, 0, 1)}


def test_captures_without_a_number_are_counted_nowhere() -> None:
    spread = next(one for one in made((*ROWS, row("g.log", "cannot tell"))).spreads if one.name == "stalls")
    assert spread.counts == {"no": (1, 0, 1)}


@pytest.mark.parametrize("numbers", [(10.440, 10.4541, 10.4545), (-1.56, -1.5461, -1.5461), (0, 0, 0), (0, 1, 1)])
def test_no_tick_label_of_the_picture_lies_on_another(numbers: tuple[float, ...]) -> None:
    rows = tuple(row(f"{place}.log", "no", mean_rpm=one, stalls=one) for place, one in enumerate(numbers))
    with matplotlib.style.context(["default", LOOK]):
        figure = _figure(made(rows))
        FigureCanvasAgg(figure).draw()
    for axes in figure.axes:
        boxes = [label.get_window_extent() for label in axes.get_xticklabels() if label.get_text()]
        shown = sorted(
            (box.x0, box.x1) for box in boxes if axes.bbox.x0 - 1 <= (box.x0 + box.x1) / 2 <= axes.bbox.x1 + 1
        )
        assert shown and all(left[1] + APART < right[0] for left, right in pairwise(shown))


@pytest.mark.parametrize("rows", [ROWS, ROWS[-1:]], ids=["some", "all unreadable"])
def test_page_and_picture(rows: tuple[Row, ...]) -> None:
    document, page = made(rows), io.StringIO()
    print_document(document, Console(file=page, width=80))
    assert page.getvalue().count("<b>$x$.log: is empty") == page.getvalue().count("is empty;") == 1
    assert picture(document, ".PNG").startswith(PNG)
    assert picture(document, ".svg") == picture(document, ".svg")
    assert f"settle: {len(rows)} captures" in picture(document, ".svg").decode()


def test_unreadable_files_are_counted_by_reason_on_the_page_too() -> None:
    wrong = [row(f"{name}.log", "unreadable", decided_by="is empty", reason=f"is empty; {name}.") for name in "xyz"]
    page = io.StringIO()
    print_document(
        made((*ROWS[:5], *wrong, row("v.csv", "unreadable", decided_by="is no table", reason="is no table;"))),
        Console(file=page, width=80),
    )
    lines = [one.strip() for one in page.getvalue().splitlines()]
    at = lines.index("Unreadable, by reason")
    assert lines[at + 1 : at + 5] == [
        "3 unreadable: is empty",
        "such as x.log: is empty; x.",
        "1 unreadable: is no table",
        "such as v.csv: is no table;",
    ]
    assert lines[lines.index("All that is unreadable") + 1 :][:4] == ["x.log", "y.log", "z.log", "v.csv"]
