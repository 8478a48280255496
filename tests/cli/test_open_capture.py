"""An open capture of a real car (CSS-Electronics/api-examples, LOG_datastore/3BA199E2, MIT licence, not part of this
project): its own README tells what the public formulas decode it to. Skipped where it is not beside the checkout."""

import json

import pytest

from tests.cli.run import CAPTURES, relearn

OPEN = CAPTURES.parent.parent / "shared" / "data" / "open-road-warmup.mf4"
pytestmark = pytest.mark.skipif(not OPEN.is_file(), reason="the open capture is not beside this checkout")


@pytest.fixture(scope="module")
def shown() -> dict[str, dict[str, object]]:
    document = json.loads(relearn("show", OPEN, "--json").out)
    assert document["start"].startswith("2021-07-26T04:40:55")
    assert document["duration_s"] == pytest.approx(545.0, abs=0.1)
    assert document["frames"] == 65296
    assert document["faults"] == []
    return {row["channel"]: row for row in document["channels"]}


@pytest.mark.parametrize(
    ("channel", "low", "high"),
    [("engine_speed", 0.0, 3113.5), ("coolant_temperature", 24.0, 93.0), ("control_module_voltage", 11.86, 14.88)],
)
def test_channels_reach_what_the_public_formulas_say(
    shown: dict[str, dict[str, object]], channel: str, low: float, high: float
) -> None:
    assert (shown[channel]["min"], shown[channel]["max"]) == (
        pytest.approx(low, abs=0.01),
        pytest.approx(high, abs=0.01),
    )


def test_every_answer_is_a_sample(shown: dict[str, dict[str, object]]) -> None:
    assert sum(int(row["samples"]) for row in shown.values()) == 6601  # type: ignore[call-overload]


def test_it_ends_on_the_road_and_is_not_ready() -> None:
    document = json.loads(relearn("ready", OPEN, "--for", "idle-air-volume", "--json").out)
    verdicts = {row["id"]: row["verdict"] for row in document["preconditions"]}
    assert document["verdict"] == "no"
    assert (verdicts["vehicle-stopped"], verdicts["coolant-warm"], verdicts["pedal-released"]) == (
        "no",
        "yes",
        "cannot tell",
    )


def test_the_standing_idles_are_found_and_the_last_long_one_is_judged() -> None:
    document = json.loads(relearn("settle", OPEN, "--json").out)
    assert document["verdict"] == "cannot tell"  # nobody said what its idle should be
    spans = [(round(one["from_s"]), round(one["to_s"]), one["judged"]) for one in document["episodes"]]
    assert (173, 188, False) in spans and (430, 452, True) in spans
    assert document["mean_rpm"] == pytest.approx(959, abs=15)


@pytest.mark.parametrize(("target", "verdict"), [("950", "yes"), ("700", "no")])
def test_with_a_target_it_is_judged(target: str, verdict: str) -> None:
    assert relearn("settle", OPEN, "--target", target, "--tolerance", "50").verdict == verdict
