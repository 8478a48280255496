"""The pictures: well-formed, escaped, honest about gaps, with units, limits and the judged span."""

from __future__ import annotations

import subprocess
import sys
from math import isnan
from xml.etree import ElementTree

import matplotlib
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from relearn.findings.job import Trace
from relearn.report.plots import SVG, broken_at_gaps, chapter_svg, drawable, said, view
from relearn.report.words import plain

SPEED = Trace(
    channel="engine_speed",
    title="engine speed",
    unit="rpm",
    time_s=(0.0, 1.0, 2.0, 3.0),
    value=(1200.0, 700.0, 650.0, 655.0),
    limits=(600.0, 700.0),
    judged_s=(1.0, 3.0),
)
COOLANT = Trace(
    channel="coolant_temperature",
    title="Coolant temperature",
    unit="°C",
    time_s=(0.0, 3.0),
    value=(88.0, 89.0),
    limits=(None, None),
    judged_s=None,
)
VOLTAGE = Trace(
    channel="control_module_voltage",
    title="Module voltage",
    unit="V",
    time_s=(0.5, 2.5),
    value=(13.9, 14.0),
    limits=(12.9, None),
    judged_s=None,
    low_open=True,
)


def texts(svg: str) -> list[str]:
    return [one.text or "" for one in ElementTree.fromstring(svg).iter(f"{{{SVG}}}text")]


def count(svg: str, tag: str) -> int:
    return len(list(ElementTree.fromstring(svg).iter(f"{{{SVG}}}{tag}")))


def test_every_channel_has_title_unit_and_limits_in_words():
    shown = texts(chapter_svg([SPEED, COOLANT, VOLTAGE], "a"))
    assert "Engine speed (band: 600 to 700 rpm)" in {" ".join(one.split()) for one in shown}
    assert "Coolant temperature (no limit applied)" in {" ".join(one.split()) for one in shown}
    assert "Module voltage (band: over 12.9 V)" in {" ".join(one.split()) for one in shown}
    assert {"rpm", "°C", "V", "seconds since the start of the capture"} <= set(shown)


def test_judged_span_is_hatched_and_named_only_when_there_is_one():
    marked, unmarked = chapter_svg([SPEED], "a"), chapter_svg([COOLANT], "a")
    assert "judged" in texts(marked) and count(marked, "pattern") == 1
    assert "judged" not in texts(unmarked) and count(unmarked, "pattern") == 0


@pytest.mark.parametrize(
    ("trace", "words"),
    [
        (SPEED, "(band: 600 to 700 rpm)"),
        (COOLANT, "(no limit applied)"),
        (VOLTAGE, "(band: over 12.9 V)"),
        (VOLTAGE.model_copy(update={"low_open": False}), "(band: 12.9 V or more)"),
    ],
)
def test_limits_in_words(trace, words):
    assert said(trace) == words


def test_view_holds_every_sample_and_both_limits():
    low, high = view(SPEED)
    assert low < 600.0 and high > 1200.0
    low, high = view(VOLTAGE)
    assert low < 12.9 and high > 14.0


def test_view_shows_little_below_zero_for_what_is_never_negative():
    low, high = view(SPEED.model_copy(update={"value": (0.0, 0.0, 0.0, 0.0), "limits": (None, 0.0)}))
    assert -0.2 < low < 0.0 < high


def test_no_line_over_a_gap_longer_than_15_s():
    times, values = broken_at_gaps((0.0, 1.0, 2.0, 17.5, 18.5), (1.0, 2.0, 3.0, 4.0, 5.0))
    assert times == [0.0, 1.0, 2.0, 17.5, 17.5, 18.5]
    assert isnan(values[3]) and [one for one in values if not isnan(one)] == [1.0, 2.0, 3.0, 4.0, 5.0]


@pytest.mark.parametrize("times", [(0.0,), (0.0, 15.0), (0.0, 60.0, 120.0)])
def test_no_break_up_to_15_s_or_at_a_steady_slow_rate(times):
    assert broken_at_gaps(times, (1.0,) * len(times)) == (list(times), [1.0] * len(times))


def test_nothing_to_draw_gives_no_picture():
    empty = SPEED.model_copy(update={"time_s": (), "value": ()})
    absurd = SPEED.model_copy(update={"value": (1e13, 0.0, 0.0, 0.0)})
    assert not drawable(empty) and not drawable(absurd)
    assert chapter_svg([empty, absurd], "a") == ""
    assert "Coolant temperature (no limit applied)" in {
        " ".join(one.split()) for one in texts(chapter_svg([empty, COOLANT], "a"))
    }


@pytest.mark.parametrize(
    "hostile",
    [
        "<script>alert(1)</script>",
        '"><img src=x onerror=y>',
        "]]></svg>",
        "\u202ecba",
        "a\x00\x1b[2Jb",
        "$\\frac{",
        "&amp;",
    ],
)
def test_hostile_titles_and_units_stay_text(hostile):
    svg = chapter_svg([SPEED.model_copy(update={"title": hostile, "unit": hostile})], "a")
    assert plain(hostile) in texts(svg)
    assert count(svg, "script") == 0 and "<img" not in svg
    assert all(letter.isprintable() or letter == "\n" for letter in svg)


def test_pictures_of_one_page_share_no_identifier_and_no_style():
    first, second = (ElementTree.fromstring(chapter_svg([SPEED, COOLANT], salt)) for salt in ("a", "b"))
    own, other = ({one.get("id") for one in root.iter() if one.get("id")} for root in (first, second))
    assert own and other and not own & other
    assert not list(first.iter(f"{{{SVG}}}style")) and not list(first.iter(f"{{{SVG}}}metadata"))


def test_same_bytes_whatever_the_users_settings():
    before = chapter_svg([SPEED, VOLTAGE], "a")
    with matplotlib.rc_context({"font.size": 30.0, "lines.color": "red", "svg.fonttype": "path"}):
        assert chapter_svg([SPEED, VOLTAGE], "a") == before


def test_settings_of_others_are_left_alone():
    with matplotlib.rc_context({"font.size": 30.0}):
        chapter_svg([SPEED], "a")
        assert matplotlib.rcParams["font.size"] == 30.0
        assert matplotlib.rcParams["svg.hashsalt"] is None


def test_no_global_figures():
    """pyplot keeps figures alive for the whole process: a long-running page must never load it."""
    code = (
        "import sys\nfrom relearn.findings.job import Trace\nfrom relearn.report.plots import chapter_svg\n"
        "assert chapter_svg([Trace(channel='c', title='t', unit='V', time_s=(0.0, 1.0), value=(1.0, 2.0),"
        " limits=(None, None), judged_s=None)], 'a')\nassert 'matplotlib.pyplot' not in sys.modules"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


NUMBER = st.floats(allow_nan=False, allow_infinity=False)


@settings(max_examples=15, deadline=None)
@given(
    samples=st.lists(st.tuples(NUMBER, NUMBER), max_size=5),
    title=st.text(max_size=60),
    limits=st.tuples(st.none() | NUMBER, st.none() | NUMBER),
)
def test_any_trace_gives_well_formed_xml_or_nothing(samples, title, limits):
    ordered = sorted(samples)
    trace = Trace(
        channel="c",
        title=title,
        unit="V",
        time_s=tuple(t for t, _ in ordered),
        value=tuple(v for _, v in ordered),
        limits=limits,
        judged_s=None,
    )
    svg = chapter_svg([trace], "a")
    assert bool(svg) == drawable(trace)
    if svg:
        assert ElementTree.fromstring(svg).tag == f"{{{SVG}}}svg"
