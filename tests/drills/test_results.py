"""A class's results: tallies, and CSV cells that no spreadsheet takes for a formula (OWASP, CSV injection)."""

import csv
import io
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from relearn.drills.results import COLUMNS, Result, Tally, by_kind, create, to_csv
from relearn.errors import ChoiceError


def answered(kind: str, worth: float, person: str = "A", went_on: bool = False) -> Result:
    return Result(person, "Monday", "a.log", 31.5, kind, "Ready?", ("yes",), ("no", "b"), worth, went_on, 4.25)


def test_by_kind_counts_each_kind_in_the_order_of_the_kinds() -> None:
    results = [answered("settle", 1.0), answered("ready", 0.5), answered("ready", 0.0, went_on=True)]
    assert by_kind(results) == (Tally("ready", 2, 0.5, 1), Tally("settle", 1, 1.0, 0))


def test_one_row_for_each_answer() -> None:
    rows = list(csv.DictReader(io.StringIO(to_csv([answered("ready", 1 / 3)]).decode("utf-8-sig"), newline="")))
    assert tuple(rows[0]) == COLUMNS
    assert rows == [
        dict(
            zip(
                COLUMNS,
                ("A", "Monday", "a.log", "31.5", "Is it ready?", "Ready?", "yes", "no; b", "0.33", "4.2"),
                strict=True,
            )
        )
    ]


@given(st.text())
def test_whatever_the_name_it_stays_one_cell_and_no_formula(name: str) -> None:
    rows = list(csv.reader(io.StringIO(to_csv([answered("ready", 1.0, name)]).decode("utf-8-sig"), newline="")))
    assert len(rows) == 2 and len(rows[1]) == len(COLUMNS)
    assert not rows[1][0].startswith(("=", "+", "-", "@", "\t", "\r"))


def test_nothing_is_written_over(tmp_path: Path) -> None:
    create(tmp_path / "r.csv", b"one")
    with pytest.raises(ChoiceError, match=r"r\.csv.*nothing is written over"):
        create(tmp_path / "r.csv", b"two")
    assert (tmp_path / "r.csv").read_bytes() == b"one"
    with pytest.raises(ChoiceError, match="no folder"):
        create(tmp_path / "gone" / "r.csv", b"")
