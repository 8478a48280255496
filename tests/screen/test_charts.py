"""The bands of the charts are what the chosen relearn asks, by the sheet, in the words of the rows beside them."""

import pytest

from relearn.procedures.sheets import Sheet, generic, load_sheet, sheet_path
from relearn.screen.charts import band, charts, ends, legend

IDLE, PEDAL = "idle-air-volume", "accelerator-closed-position"


def shown(title: str, sheet: Sheet, relearn: str | None = IDLE) -> tuple[object, str]:
    limits = band(next(one for one in charts() if one.title == title), sheet, relearn)
    return ends(limits), legend(limits)


@pytest.mark.parametrize(
    ("title", "limits", "words"),
    [
        ("Engine speed", (600.0, 700.0), "600 to 700 rpm"),
        ("Coolant", (80.0, 100.0), "80 to 100 °C"),
        ("Supply", (12.9, None), "over 12.9 V"),  # the limit itself is outside
        ("Airflow", None, ""),
    ],
)
def test_a_band_of_the_demo_car(title: str, limits: object, words: str) -> None:
    assert shown(title, load_sheet(sheet_path("demo-car"))) == (limits, words)


def test_without_a_vehicle_no_band_about_a_target() -> None:
    assert shown("Engine speed", generic()) == (None, "")


@pytest.mark.parametrize(("title", "words"), [("Engine speed", "0 rpm"), ("Coolant", ""), ("Supply", "12 V or more")])
def test_another_relearn_asks_for_something_else(title: str, words: str) -> None:
    """With the engine off: no idle, no warmth, and the supply of a standing engine."""
    assert shown(title, load_sheet(sheet_path("demo-car")), PEDAL)[1] == words


def test_where_none_is_asked_the_band_is_the_line_of_the_zero() -> None:
    assert shown("Engine speed", load_sheet(sheet_path("demo-car")), PEDAL)[0] == (0.0, 0.0)


def test_an_idle_is_asked_about_without_a_relearn() -> None:
    assert shown("Engine speed", load_sheet(sheet_path("demo-car")), None)[1] == "600 to 700 rpm"
