"""The bands of the charts are the sheet's own limits, in the words of the rows beside them."""

import pytest

from relearn.procedures.sheets import Sheet, generic, load_sheet, sheet_path
from relearn.screen.charts import band, charts, ends, legend


def shown(title: str, sheet: Sheet) -> tuple[object, str]:
    limits = band(next(one for one in charts() if one.title == title), sheet)
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
