"""Tables of values to series. Conversions: exact definitions of the units (°F, mph); the rest is this project's own."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest

from relearn.capture.frames import Column, Table
from relearn.errors import SheetError
from relearn.faults import Fault
from relearn.j1979.columns import load_map, read
from relearn.j1979.series import Series

NAN = float("nan")
LOG = Path("log.csv")


def column(header: str, *values: float, texts: tuple[str, ...] = ()) -> Column:
    return Column(header, np.array(values, np.float64), texts)


def table(*columns: Column) -> Table:
    rows = len(columns[0].values)
    return Table(np.arange(rows, dtype=np.float64), np.arange(2, rows + 2), columns)


def taken(
    columns: Sequence[Column], mapping: Path | None = None
) -> tuple[dict[str, Series], tuple[Fault, ...], tuple[str, ...]]:
    series, faults, notes = read(table(*columns), mapping, LOG)
    return {one.signal.name: one for one in series}, faults, notes


def written(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "map.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_values_come_in_the_standards_units() -> None:
    series, faults, notes = taken([column("ECT [°F]", 32.0, 212.0), column("Vehicle speed (mph)", 0.0, 100.0)])
    assert series["coolant_temperature"].value == pytest.approx([0.0, 100.0])
    assert series["vehicle_speed"].value == pytest.approx([0.0, 160.9344])
    assert (faults, notes) == ((), ())


def test_an_empty_cell_is_no_sample_and_the_line_of_the_file_is_kept() -> None:
    found = taken([column("RPM", 700.0, NAN, 710.0)])[0]["engine_speed"]
    assert found.module == "table"
    assert (found.time_s.tolist(), found.value.tolist(), found.frame.tolist()) == ([0, 2], [700, 710], [2, 4])


def test_a_missing_unit_is_assumed_and_said() -> None:
    series, _, notes = taken([column("ECT", 80.0)])
    assert series["coolant_temperature"].value.tolist() == [80.0]
    assert notes == ("Columns without a unit were taken to be in the standard's own: 'ECT' in °C.",)


def test_unknown_columns_are_named() -> None:
    _, _, notes = taken([column("RPM", 700.0), column("Cabin", 21.0), column("Radio", 1.0)])
    assert notes == ("Columns that name no known channel were left out: 'Cabin', 'Radio'; a map can name them.",)


def test_words_and_empty_columns_are_named() -> None:
    series, _, notes = taken([column("RPM", 700.0, NAN, texts=("stopped",)), column("MAF (g/s)", NAN, NAN)])
    assert list(series) == ["engine_speed"]
    assert notes == (
        "The column 'RPM' holds words, read as missing: 'stopped'.",
        "The column 'MAF (g/s)' holds no number at all.",
    )


def test_a_unit_nobody_knows_leaves_the_column_out() -> None:
    series, (fault,), _ = taken([column("Engine speed (furlongs)", 1.0)])
    assert series == {} and fault.kind == "unknown-unit" and "furlongs" in fault.text


def test_two_columns_of_one_channel_are_not_guessed_between() -> None:
    series, (fault,), _ = taken([column("RPM", 700.0), column("Engine RPM", 900.0)])
    assert series == {} and fault.kind == "ambiguous-column" and "'RPM', 'Engine RPM'" in fault.text


def test_a_number_that_is_no_state_is_left_out() -> None:
    series, (fault,), _ = taken([column("MIL", 0.0, 1.0, 7.0)])
    assert series["malfunction_lamp"].value.tolist() == [0.0, 1.0]
    assert (fault.kind, fault.count) == ("unknown-state", 1)


def test_a_meters_voltage_is_not_the_modules() -> None:
    series, _, _ = taken([column("Voltage (mV)", 12_600.0)])
    assert series["battery_voltage"].value == pytest.approx([12.6])
    assert series["battery_voltage"].signal.unit == "V"


def test_the_map_beats_the_header(tmp_path: Path) -> None:
    path = written(
        tmp_path,
        """
        [columns]
        "Motor turns" = "engine_speed"
        "Water" = { channel = "coolant_temperature", unit = "°F" }""",
    )
    series, faults, notes = taken([column("Motor turns", 700.0), column("RPM", 9.0), column("Water", 212.0)], path)
    assert series["engine_speed"].value.tolist() == [700.0]
    assert series["coolant_temperature"].value == pytest.approx([100.0])
    assert faults == () and "Columns whose channel the map gives to another were left out: 'RPM'." in notes


# A map, the key that the sentence must name, and a word that it must hold.
MISTAKES = [
    ('[columns]\n"RPM" = "engin_speed"', "columns.RPM", "engine_speed"),
    ('[columns]\n"RMP" = "engine_speed"', "columns.RMP", "RPM"),
    ('[columns]\n"RPM" = { channel = "engine_speed", unit = "mph" }', "columns.RPM.unit", "mph"),
    ('[columns]\n"RPM" = { channel = "engine_speed", unti = "rpm" }', "columns.RPM.unti", "not known"),
    ('[columns]\n"RPM" = { channel = "engine_speed", states = {} }', "columns.RPM.states", "not known"),
    ('[columns]\n"RPM" = 3', "columns.RPM", "no channel"),
    ('[colums]\n"RPM" = "engine_speed"', "colums", "not known"),
    ('[columns]\n"RPM" = "engine_speed"\n"ECT" = "engine_speed"', "columns.ECT", "already"),
    ('[signals]\n"Lamp" = { channel = "malfunction_lamp", states = { "1" = "lit" } }', "signals.Lamp.states", "on"),
]


@pytest.mark.parametrize(("text", "key", "word"), MISTAKES)
def test_a_mistake_in_the_map_is_named_with_its_key(tmp_path: Path, text: str, key: str, word: str) -> None:
    with pytest.raises(SheetError) as error:
        taken([column("RPM", 700.0), column("ECT", 80.0)], written(tmp_path, text))
    assert error.value.key == key and word in str(error.value) and "map.toml" in str(error.value)


def test_broken_toml_is_named_with_its_line(tmp_path: Path) -> None:
    with pytest.raises(SheetError) as error:
        load_map(written(tmp_path, "[columns]\nRPM = \n"))
    assert error.value.line == 2


@pytest.mark.parametrize("given", [b"", b"\xff\xfe\x00", None])
def test_a_map_that_is_none_is_one_sentence(tmp_path: Path, given: bytes | None) -> None:
    path = tmp_path / "map.toml"
    if given is not None:
        path.write_bytes(given)
    with pytest.raises(SheetError):
        load_map(path)
