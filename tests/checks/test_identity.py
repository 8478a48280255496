"""Identity before and after a write. The VIN is the worked example of 49 CFR 565; the rest is invented. Comparing by
suffix: common practice, no source."""

import pytest

from relearn.checks.identity import compare
from relearn.j1979.records import Identity
from relearn.verdict import Outcome

VIN = "1M8GDM9AXKP042788"  # 49 CFR 565.15: the regulation's own example, check digit X


def read(calibration: str | None, sums: str | None, vin: str | None = VIN, module: str = "7E8") -> list[Identity]:
    items = (("vin", vin), ("calibration", calibration), ("verification_number", sums))
    return [Identity(module, item, (value,), 1.0, 10) for item, value in items if value is not None]  # type: ignore[arg-type]


OLD = read("DEMO-1000-A", "11112222")


@pytest.mark.parametrize(
    ("after", "expected", "outcome", "why"),
    [
        (read("DEMO-1000-B", "33334444"), None, Outcome.YES, "changed from DEMO-1000-A to DEMO-1000-B"),
        (read("DEMO-1000-B", "33334444"), "DEMO-1000-B", Outcome.YES, "is in the module"),
        (read("DEMO-1000-B", "33334444"), "DEMO-1000-C", Outcome.NO, "DEMO-1000-C is not in the module"),
        (read("DEMO-1000-B", "33334444"), "XDEMO-1000-B", Outcome.YES, "by suffix"),
        (read("DEMO-1000-A", "11112222"), None, Outcome.NO, "calibration is unchanged"),
        (read("XDEMO-1000-A", "33334444"), None, Outcome.NO, "unchanged but for a prefix"),
        (read("DEMO-1000-B", "11112222"), None, Outcome.NO, "verification number is unchanged"),
        (read("DEMO-1000-B", None), None, Outcome.CANNOT_TELL, "verification number was not read after"),
        (read(None, "33334444"), "DEMO-1000-B", Outcome.CANNOT_TELL, "no calibration was read"),
        (read("DEMO-1000-B", "33334444", None), None, Outcome.CANNOT_TELL, "no VIN was read after"),
        (read("DEMO-1000-B", "33334444", "1M8GDM9A1KP042788"), None, Outcome.NO, "the VIN of 7E8 is"),
    ],
)
def test_compare(after: list[Identity], expected: str | None, outcome: Outcome, why: str) -> None:
    found = compare(OLD, after, "7E8", expected)
    assert found.verdict.outcome is outcome
    assert why in found.verdict.reason


def test_a_wrong_check_digit_is_a_no_where_the_region_uses_one() -> None:
    wrong = "1M8GDM9A1KP042788"
    found = compare(read("A-000001", "1", wrong), read("B-000001", "2", wrong), "7E8", None)
    assert found.verdict.outcome is Outcome.NO
    assert "check digit" in found.verdict.reason


def other(calibration: str, sums: str) -> list[Identity]:
    return read(calibration, sums, None, "7E9")


@pytest.mark.parametrize(
    ("before", "after", "outcome"),
    [
        (other("GEAR-0001", "A1"), other("GEAR-0001", "A1"), Outcome.YES),
        (other("GEAR-0001", "A1"), other("GEAR-0002", "A2"), Outcome.YES),
        (other("GEAR-0001", "A1"), other("GEAR-0002", "A1"), Outcome.NO),
        (other("GEAR-0001", "A1"), other("GEAR-0001", "A2"), Outcome.NO),
        (other("GEAR-0001", "A1"), [], Outcome.CANNOT_TELL),
    ],
)
def test_another_module_may_stay_as_it_was_but_not_half_change(
    before: list[Identity], after: list[Identity], outcome: Outcome
) -> None:
    found = compare([*OLD, *before], [*read("DEMO-1000-B", "33334444"), *after], "7E8", None)
    assert found.verdict.outcome is outcome
    assert [one.module for one in found.modules] == ["7E8", "7E9"]


def test_a_vin_that_changed_in_one_module_is_a_no_whatever_the_other_says() -> None:
    before = [*OLD, *read("GEAR-0001", "A1", VIN, "7E9")]
    after = [*read("DEMO-1000-B", "33334444", "1M8GDM9A1KP042789"), *read("GEAR-0001", "A1", VIN, "7E9")]
    found = compare(before, after, "7E8", None)
    assert found.verdict.outcome is Outcome.NO
    assert "the VIN of 7E8 is 1M8GDM9A1KP042789 now" in found.verdict.reason


def test_modules_that_do_not_agree_on_the_vin_are_a_no() -> None:
    before = [*OLD, *read("GEAR-0001", "A1", "1M8GDM9A1KP042789", "7E9")]
    found = compare(before, [*read("DEMO-1000-B", "33334444"), *before[3:]], "7E8", None)
    assert "do not agree on the VIN" in found.verdict.reason


def several(calibrations: tuple[str, ...], sums: tuple[str, ...]) -> list[Identity]:
    return [
        Identity("7E8", "vin", (VIN,), 1.0, 1),
        Identity("7E8", "calibration", calibrations, 1.0, 2),
        Identity("7E8", "verification_number", sums, 1.0, 3),
    ]


def test_each_calibration_belongs_to_its_own_verification_number() -> None:
    """SAE J1979 infotypes 04 and 06 list them in the same order."""
    before = several(("BOOT-001", "CALIB-A-01"), ("11111111", "22222222"))
    right = several(("BOOT-001", "CALIB-A-02"), ("11111111", "33333333"))
    crossed = several(("BOOT-001", "CALIB-A-02"), ("33333333", "22222222"))
    assert compare(before, right, "7E8", None).verdict.outcome is Outcome.YES
    assert compare(before, crossed, "7E8", None).verdict.outcome is Outcome.NO


def test_a_verification_number_of_zeros_is_not_computed_yet() -> None:
    found = compare(OLD, read("DEMO-1000-B", "00000000"), "7E8", None)
    assert found.verdict.outcome is Outcome.CANNOT_TELL


def test_evidence_has_times_and_frames_and_letters_of_either_case_match() -> None:
    found = compare(OLD, read("DEMO-1000-B", "33334444"), "7E8", "demo-1000-b")
    assert found.verdict.outcome is Outcome.YES
    assert all(one.first_frame == 10 and one.first_s == 1.0 for one in found.verdict.all_evidence() if one.value)
