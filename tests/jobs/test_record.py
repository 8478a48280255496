"""The chain: a whole record has no problem, and whatever is done to a line of it is named by the line's number.

Checked against SHA-256 of hashlib (FIPS 180-4) and against the lines themselves; no outside reference has this format.
"""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from relearn.jobs import record
from relearn.jobs.record import Confirmed, Head, Line, Raw

LINES = 7


def chain(length: int) -> list[bytes]:
    """Lines as `commit` writes them."""
    made: list[bytes] = []
    for number in range(1, length + 1):
        line = Line(
            number=number,
            time=datetime(2026, 5, 18, 10, number, tzinfo=UTC),
            before=hashlib.sha256(made[-1]).hexdigest() if made else "0" * 64,
            what=Confirmed(item=f"item-{number}", by="Demo Technician"),
        )
        made.append(record.to_bytes(line))
    return made


WHOLE = chain(LINES)
HEAD = Head(lines=LINES, last=hashlib.sha256(WHOLE[-1]).hexdigest())


def named(lines: list[bytes], head: Head | None = HEAD) -> set[str]:
    """What is named in a record of these lines, cut as the commands cut it."""
    raw = Raw.of(b"".join(line + b"\n" for line in lines))
    return {one.where for one in record.problems(raw.lines[: record.sealed(raw, head)], head)}


def test_a_whole_record_has_no_problem() -> None:
    assert named(WHOLE) == set()
    assert record.parse(WHOLE[2]) is not None


def test_the_time_keeps_its_zone() -> None:
    line = record.parse(WHOLE[0].replace(b"2026-05-18T10:01:00Z", b"2026-05-18T12:01:00+02:00"))
    assert line is not None
    assert line.time.isoformat() == "2026-05-18T12:01:00+02:00"


def test_a_time_without_a_zone_is_no_line() -> None:
    assert record.parse(WHOLE[0].replace(b"10:01:00Z", b"10:01:00")) is None


@given(st.integers(0, LINES - 1), st.data())
@settings(max_examples=150, deadline=None)
def test_any_byte_changed_names_its_line(place: int, data: st.DataObject) -> None:
    line = WHOLE[place]
    at = data.draw(st.integers(0, len(line) - 1))
    byte = data.draw(st.integers(0, 255).filter(lambda value: value != line[at]))
    changed = [*WHOLE]
    changed[place] = line[:at] + bytes([byte]) + line[at + 1 :]
    assert f"line {place + 1}" in named(changed)


@given(st.integers(0, LINES - 1))
def test_a_removed_line_is_named(place: int) -> None:
    assert f"line {place + 1}" in named(WHOLE[:place] + WHOLE[place + 1 :])


@given(st.integers(1, LINES - 1))
def test_lines_removed_from_the_end_are_all_named(kept: int) -> None:
    assert named(WHOLE[:kept]) == {f"line {number}" for number in range(kept + 1, LINES + 1)}


@given(st.permutations(range(LINES)).filter(lambda order: order != list(range(LINES))))
def test_a_reordered_record_names_a_line_that_moved(order: list[int]) -> None:
    found = named([WHOLE[place] for place in order])
    moved = {f"line {number + 1}" for place, number in enumerate(order) if place != number}
    assert found & moved


@given(st.integers(0, LINES - 1), st.integers(0, LINES))
def test_a_line_put_in_twice_is_named(place: int, at: int) -> None:
    assert f"line {place + 1}" in named([*WHOLE[:at], WHOLE[place], *WHOLE[at:]])


def test_a_line_behind_the_head_belongs_to_a_stopped_command_if_it_continues_the_chain() -> None:
    assert named(chain(LINES + 1)) == set()
    assert named([*WHOLE, chain(LINES + 1)[-1][:-1]]) == set()  # cut
    assert named([*WHOLE, WHOLE[0]]) == {"line 1"}


def test_without_its_head_a_record_is_not_trusted() -> None:
    assert record.HEAD in named(WHOLE, None)
    assert named(WHOLE[:1], None) == set()


@given(st.integers(1, LINES - 1), st.data())
@settings(max_examples=50, deadline=None)
def test_a_head_put_back_hides_no_changed_line(lines: int, data: st.DataObject) -> None:
    """An older head over a record that was changed behind it: two lines and more behind a head are never set aside."""
    head = Head(lines=lines, last=hashlib.sha256(WHOLE[lines - 1]).hexdigest())
    place = data.draw(st.integers(0, LINES - 2))
    changed = [*WHOLE]
    changed[place] = changed[place].replace(b"Demo Technician", b"Demo Mechanic")
    raw = Raw.of(b"".join(line + b"\n" for line in changed))
    if lines < LINES - 1:
        assert f"line {place + 1}" in {
            one.where for one in record.problems(raw.lines[: record.sealed(raw, head)], head)
        }


@pytest.mark.parametrize("name", ["captures/before.log", "job.toml", "a b/c…d.log"])
def test_a_name_inside_the_folder(name: str) -> None:
    assert record.is_inside(name)


@pytest.mark.parametrize("name", ["", "/etc/passwd", "../a", "a/../b", "a//b", "a\\b", "C:a", "a/", ".", "a\0b"])
def test_a_name_that_leads_out_of_it(name: str) -> None:
    assert not record.is_inside(name)
