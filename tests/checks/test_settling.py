"""Settle time against closed forms: textbook step responses of first and second order."""

import numpy as np
import pytest
from scipy.stats import theilslopes

from relearn.checks.settling import drift_per_min, exits, settled, theil_sen, without_tail
from relearn.verdict import Limits
from tests.build import channel, every

WINDOW = Limits(600, 700, "rpm", "test")
TIME_S = every(0.1, 0, 40)


def engine(value: object, time_s: object = TIME_S):
    return channel("engine_speed", time_s, value)  # type: ignore[arg-type]


@pytest.mark.parametrize(("start_rpm", "tau_s"), [(1500.0, 1.0), (1200.0, 3.0), (300.0, 2.0)])
def test_a_decaying_exponential_settles_when_the_closed_form_says(start_rpm: float, tau_s: float) -> None:
    """650 + d·exp(−t/τ) comes within 50 at t = τ·ln(|d|/50)."""
    when = settled(engine(650 + (start_rpm - 650) * np.exp(-TIME_S / tau_s)), WINDOW)
    expected_s = tau_s * np.log(abs(start_rpm - 650) / 50)
    assert when.at_s is not None
    assert expected_s <= when.at_s <= expected_s + 0.1 + 1e-9
    assert when.uncertainty_s == pytest.approx(0.1)


@pytest.mark.parametrize("damping", [0.1, 0.2, 0.3, 0.5])
def test_an_underdamped_step_settles_when_the_closed_form_says(damping: float) -> None:
    """y = 1 − e^(−ζωt)·(cos ω_d t + ζ/√(1−ζ²) sin ω_d t), the unit step of a second-order system; the last moment it is
    outside ±5 % is found on the closed form itself at 1 ms."""
    natural = 1.2
    beating = natural * np.sqrt(1 - damping**2)

    def step(t: np.ndarray) -> np.ndarray:
        ripple = np.cos(beating * t) + damping / np.sqrt(1 - damping**2) * np.sin(beating * t)
        return 1000.0 - 1000.0 * np.exp(-damping * natural * t) * ripple

    fine_s = np.arange(0, 80, 0.001)
    expected_s = fine_s[np.flatnonzero(np.abs(step(fine_s) - 1000) > 50)[-1]]
    time_s = every(0.1, 0, 80)
    when = settled(engine(step(time_s), time_s), Limits(950, 1050, "rpm", "test"))
    assert when.at_s is not None
    assert expected_s - 0.001 <= when.at_s <= expected_s + 0.1 + 0.001


def test_one_isolated_sample_outside_does_not_count_and_is_told() -> None:
    values = np.full(401, 650.0)
    values[200] = 800.0
    when = settled(engine(values), WINDOW)
    assert (when.at_s, when.strays) == (0.0, (pytest.approx(20.0),))


def test_two_neighbouring_samples_outside_do_count() -> None:
    values = np.full(401, 650.0)
    values[200:202] = 800.0
    assert settled(engine(values), WINDOW).at_s == pytest.approx(20.2)


def test_a_swing_sampled_slowly_is_not_a_row_of_strays() -> None:
    swinging = engine(np.tile([650.0, 760.0, 650.0, 650.0], 100), every(1.0, 0, 399))
    assert settled(swinging, WINDOW).at_s == 398.0
    assert exits(swinging, WINDOW) == 100


def test_outside_at_the_end_is_never_settled() -> None:
    assert settled(engine(np.linspace(650, 900, 401)), WINDOW).at_s is None


def test_the_tail_that_ended_an_episode_is_left_out() -> None:
    values = np.full(401, 650.0)
    values[-5:] = [720, 800, 900, 1000, 1100]
    assert len(without_tail(engine(values), WINDOW)) == 396
    long_gone = np.full(401, 650.0)
    long_gone[-40:] = 900.0
    assert len(without_tail(engine(long_gone), WINDOW)) == 401


def test_drift_is_the_slope_and_shrugs_off_spikes() -> None:
    values = 650 + TIME_S * 0.5
    values[::37] += 300
    assert drift_per_min(engine(values)) == pytest.approx(30.0, rel=0.05)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_slope_is_scipys(seed: int) -> None:
    rng = np.random.default_rng(seed)
    time_s = np.cumsum(rng.uniform(0.5, 3.0, 200))
    value = 650.0 + 0.01 * time_s + rng.standard_cauchy(200)
    assert theil_sen(time_s, value) == pytest.approx(theilslopes(value, time_s).slope, rel=1e-12)
