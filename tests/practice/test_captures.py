"""The captures in the repository are what the model writes, and every scenario says what it shows."""

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from relearn.errors import ProcedureError
from relearn.practice.__main__ import main
from relearn.practice.scenario import Scenario, names, polls, read, scenario
from relearn.practice.write import content, differs, write

CAPTURES = Path(__file__).parents[2] / "captures"


@pytest.mark.parametrize("name", names())
def test_a_fresh_run_writes_the_same_bytes(name):
    assert not differs(CAPTURES, scenario(name))


def test_a_changed_file_is_named_and_fails_the_check(tmp_path, monkeypatch):
    monkeypatch.setattr("relearn.practice.__main__.every", lambda: iter([scenario("demo-ready-pedal")]))
    path = write(tmp_path, scenario("demo-ready-pedal"))
    assert CliRunner().invoke(main, [str(tmp_path), "--check"]).exit_code == 0
    path.write_bytes(path.read_bytes()[:-1])
    result = CliRunner().invoke(main, [str(tmp_path), "--check"])
    assert (result.exit_code, result.output) == (1, "differs: demo-ready-pedal.log\n")


def test_every_file_is_described_and_small():
    readme = (CAPTURES / "README.md").read_text(encoding="utf-8")
    for name in names():
        path = CAPTURES / scenario(name).file
        assert f"`{path.name}`" in readme
        assert path.stat().st_size < 1_500_000


def test_lines_are_in_the_form_of_candump():
    lines = content(scenario("demo-ready-pedal")).decode("ascii").splitlines()
    assert all(re.fullmatch(r"\(\d{10}\.\d{6}\) can0 [0-9A-F]{3}#[0-9A-F]{16}", line) for line in lines)
    assert lines == sorted(lines, key=lambda line: line[:19])


def test_answers_come_after_two_to_twenty_milliseconds():
    """ISO 15765-4: P2 is at most 50 ms; a tester's usual latency is shorter (common practice, no source)."""
    lines = content(scenario("demo-ready-pedal")).decode("ascii").splitlines()
    frames = [(int(line[1:11]) * 1_000_000 + int(line[12:18]), *line[20:].split()[1].split("#")) for line in lines]
    pairs = [(one, other) for one, other in zip(frames, frames[1:], strict=False) if one[1] == "7DF" and other[1] == "7E8"]
    assert len(pairs) > 200
    assert all(2_000 <= other[0] - one[0] <= 20_000 for one, other in pairs)


def test_the_long_stretch_of_polling_asks_what_it_should_as_often_as_it_should():
    text = content(scenario("lacking-parameter")).decode("ascii")
    asked = {int(pid, 16): text.count(f"7DF#0201{pid}") / 60.0 for pid in ("0C", "11", "49", "10", "06", "05", "01", "42")}
    assert asked[0x0C] == pytest.approx(10.0, rel=0.05)
    assert all(2.0 <= round(asked[pid], 1) <= 5.0 for pid in (0x11, 0x49, 0x10, 0x06))
    assert asked[0x05] == pytest.approx(1.0, rel=0.05)
    assert asked[0x01] == pytest.approx(1.0, rel=0.1)
    assert asked[0x42] == 0.0


def test_no_request_is_longer_than_one_frame():
    assert all(1 + 2 * len(ask.ask) <= 7 for ask in polls()["by_identifier"])


def test_a_misspelt_input_is_named(tmp_path):
    path = tmp_path / "wrong.toml"
    path.write_text('title="t"\nshows="s"\nseed=1\nstart=2026-01-01T00:00:00Z\nduration_s=1\nfile="x"\n'
                    '[[event]]\nat_s=0\nset={ pedall = 1 }\n', encoding="utf-8")
    with pytest.raises(ProcedureError, match="the model has no input pedall"):
        read(Scenario, path)
