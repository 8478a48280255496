"""Is the engine breathing as it meters? Trims at idle against trims near 2,500 rpm, measured airflow against what the
manifold says it must be, and the plain plausibility of airflow per litre: before anyone relearns around a fault."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from relearn.channels import Channel, median_interval_s, plausible_only, value_at
from relearn.checks.extras import airflow_per_litre, trim_sum
from relearn.checks.holding import evidence_of
from relearn.checks.idle import idle_episodes
from relearn.checks.view import View
from relearn.procedures.sheets import Sheet
from relearn.verdict import Evidence, Limits, Outcome, Verdict, combine

GAS_CONSTANT_AIR_J_PER_KG_K = 287.053  # ISO 2533
ZERO_C_IN_K = 273.15
STROKES_PER_CHARGE = 2  # a four-stroke engine draws its displacement once in two turns
LEAST_SAMPLES = 5
IDLE, BAND = "idle", "2500"
REPORTED = ("calculated_load", "absolute_load", "throttle_position", "intake_manifold_pressure", "mass_air_flow")


@dataclass(frozen=True)
class Level:
    """A channel's mean over one regime (idle or near 2,500 rpm), for the table; it judges nothing."""

    regime: str
    channel: str
    unit: str
    mean: float
    sd: float
    samples: int


@dataclass(frozen=True)
class Breathing:
    """The verdict with one child for each part, what the regimes read, which way it points and what would settle it."""

    verdict: Verdict
    levels: tuple[Level, ...]
    points_to: str
    would_settle: str


def air(view: View, sheet: Sheet) -> Breathing:
    """Yes when every part that counts is a yes, no when one is a no; parts without data are cannot tell.

    Trims decide with either regime out of limits; airflow parts need displacement (and, for the speed–density part, a
    volumetric efficiency range) from the sheet, without which they are told as cannot tell but do not decide.
    """
    masks = regimes(view, sheet)
    trims = {regime: _trim_part(view, sheet, regime, mask) for regime, mask in masks.items()}
    density = [_density_part(view, sheet, regime, mask) for regime, mask in masks.items()]
    flow = _flow_part(view, sheet, masks[IDLE])
    parts = (*trims.values(), flow, *density)
    outcome = combine(part.outcome for part in parts if _counts(part))
    points_to, settles = _direction(trims, flow, density)
    return Breathing(Verdict("air", outcome, points_to, children=parts), _levels(view, masks), points_to, settles)


def _counts(part: Verdict) -> bool:
    """Trims always count; the airflow parts count once they can tell, since not every engine has both sensors."""
    return part.id.startswith("trims") or part.outcome is not Outcome.CANNOT_TELL


@dataclass(frozen=True, eq=False)
class Regime:
    """The times (engine-speed samples) in one regime, and how far around each of them it reaches."""

    time_s: NDArray[np.float64]
    around_s: float = 0.0

    def of(self, channel: Channel) -> Channel:
        """The channel's samples no further than around_s from a time in the regime."""
        if not len(self.time_s):
            return channel.take(np.zeros(len(channel), bool))
        row = np.clip(np.searchsorted(self.time_s, channel.time_s), 1, max(1, len(self.time_s) - 1))
        left = np.abs(channel.time_s - self.time_s[row - 1])
        right = np.abs(channel.time_s - self.time_s[np.minimum(row, len(self.time_s) - 1)])
        return channel.take(np.minimum(left, right) <= self.around_s)


def regimes(view: View, sheet: Sheet) -> Mapping[str, Regime]:
    """Warm stretches at idle (an idle episode of events.episodes, below the 2,500 band) and in the 2,500 rpm band.

    Only closed loop counts where the loop state is known, and only warm coolant where coolant is known.
    """
    speed = view.channels.get("engine_speed")
    band = sheet.limits("air.band_rpm")
    if speed is None or band is None or not len(plausible_only(speed)):
        return {IDLE: Regime(np.empty(0)), BAND: Regime(np.empty(0))}
    steady = plausible_only(speed)
    fit = _warm_and_closed(view, sheet, steady.time_s)
    idle = np.zeros(len(steady), bool)
    for one in idle_episodes(view, sheet):
        idle |= (steady.time_s >= one.from_s) & (steady.time_s <= one.to_s)
    within = {
        IDLE: idle & (steady.value < (band.low or 0)),
        BAND: (steady.value >= (band.low or 0)) & (steady.value <= (band.high or np.inf)),
    }
    around_s = 0.5 * (median_interval_s(steady) or 0.0)
    return {regime: Regime(steady.time_s[mask & fit], around_s) for regime, mask in within.items()}


def _warm_and_closed(view: View, sheet: Sheet, time_s: NDArray[np.float64]) -> NDArray[np.bool_]:
    fit = np.ones(len(time_s), bool)
    coolant, warm = view.channels.get("coolant_temperature"), sheet.limits("warm.coolant_c")
    if coolant is not None and warm is not None:
        fit &= value_at(plausible_only(coolant), time_s) >= (warm.low or -np.inf)
    loop = view.channels.get("fuel_system_1_status")
    if loop is not None:
        fit &= np.isin(value_at(loop, time_s), CLOSED_LOOP)
    return fit


CLOSED_LOOP = (2.0, 16.0)  # SAE J1979 parameter 03: closed loop, and closed loop with a fault in one sensor


def _trim_part(view: View, sheet: Sheet, regime: str, when: Regime) -> Verdict:
    name = f"trims at {'idle' if regime == IDLE else 'about 2,500 rpm'}"
    limits = sheet.limits("idle.trim_sum_percent" if regime == IDLE else "air.trim_sum_2500_percent")
    banks = [total for bank in (1, 2) if (total := trim_sum(view, sheet, bank)) is not None]
    levels = [when.of(total) for total in banks]
    if limits is None or not levels or min(len(level) for level in levels) < LEAST_SAMPLES:
        needs = (
            f"fewer than {LEAST_SAMPLES} warm, closed-loop readings" if levels else "needs short and long fuel trims"
        )
        return Verdict(name, Outcome.CANNOT_TELL, f"{name}: {needs}", (Evidence(name, limits=limits),))
    worst = min(levels, key=lambda level: limits.margin(float(level.value.mean())))
    return _mean_part(name, worst, limits)


def _mean_part(name: str, level: Channel, limits: Limits) -> Verdict:
    mean = float(level.value.mean())
    outcome = Outcome.YES if limits.holds(mean) else Outcome.NO
    word = "is" if outcome is Outcome.YES else "is not"
    return Verdict(
        name,
        outcome,
        f"{name}: {mean:+.1f} {level.unit} {word} {limits.describe()}",
        (evidence_of(level.name, level, mean, limits),),
    )


def _flow_part(view: View, sheet: Sheet, when: Regime) -> Verdict:
    name, limits = "airflow per litre at idle", sheet.limits("idle.airflow_g_per_s_per_l")
    flow = airflow_per_litre(view, sheet)
    level = when.of(flow) if flow is not None else None
    if level is None or limits is None or len(level) < LEAST_SAMPLES:
        return Verdict(
            name,
            Outcome.CANNOT_TELL,
            f"{name}: needs warm idle airflow and the displacement from a sheet",
            (Evidence(name, limits=limits),),
        )
    return _mean_part(name, level, limits)


def speed_density_g_per_s(
    pressure_kpa: NDArray[np.float64],
    charge_c: NDArray[np.float64],
    speed_rpm: NDArray[np.float64],
    displacement_l: float,
) -> NDArray[np.float64]:
    """Air a four-stroke engine would draw at 100 % volumetric efficiency: p·V·n / (2·R·T), ideal gas (ISO 2533 R)."""
    per_charge_kg = (
        (pressure_kpa * 1e3) * (displacement_l * 1e-3) / (GAS_CONSTANT_AIR_J_PER_KG_K * (charge_c + ZERO_C_IN_K))
    )
    return per_charge_kg * 1e3 * speed_rpm / 60.0 / STROKES_PER_CHARGE


def implied_efficiency(view: View, displacement_l: float) -> Channel | None:
    """Volumetric efficiency in percent that would make measured airflow and manifold pressure agree, at each airflow
    sample; None without airflow, manifold pressure, intake temperature and engine speed."""
    names = ("mass_air_flow", "intake_manifold_pressure", "intake_air_temperature", "engine_speed")
    channels = [view.channels.get(name) for name in names]
    if any(channel is None for channel in channels):
        return None
    flow, *others = (plausible_only(channel) for channel in channels if channel is not None)
    pressure, charge, speed = (value_at(channel, flow.time_s) for channel in others)
    with np.errstate(divide="ignore", invalid="ignore"):
        efficiency = 100.0 * flow.value / speed_density_g_per_s(pressure, charge, speed, displacement_l)
    known = np.isfinite(efficiency)
    return Channel(
        "implied_volumetric_efficiency", "%", flow.module, flow.time_s[known], efficiency[known], flow.frame[known]
    )


def _density_part(view: View, sheet: Sheet, regime: str, when: Regime) -> Verdict:
    name = f"airflow against manifold pressure at {'idle' if regime == IDLE else 'about 2,500 rpm'}"
    key = "engine.volumetric_efficiency_idle_percent" if regime == IDLE else "engine.volumetric_efficiency_2500_percent"
    limits, litres = sheet.limits(key), sheet.number("engine.displacement_l")
    efficiency = implied_efficiency(view, litres) if litres is not None else None
    level = when.of(efficiency) if efficiency is not None else None
    if level is None or limits is None or len(level) < LEAST_SAMPLES:
        return Verdict(
            name,
            Outcome.CANNOT_TELL,
            f"{name}: needs airflow, manifold pressure, intake temperature, and displacement and volumetric "
            "efficiency from a sheet",
            (Evidence(name, limits=limits),),
        )
    return _mean_part(name, level, limits)


def _levels(view: View, masks: Mapping[str, Regime]) -> tuple[Level, ...]:
    made = []
    for regime, when in masks.items():
        for name in REPORTED:
            level = when.of(plausible_only(view.channels[name])) if name in view.channels else None
            if level is not None and len(level):
                made.append(
                    Level(regime, name, level.unit, float(level.value.mean()), float(level.value.std()), len(level))
                )
    return tuple(made)


BOTH_SPEEDS = "a warm capture with 20 s of idle and 20 s near 2,500 rpm, closed loop"
# Which way the parts point, and what would settle it: common practice, no source.
DIRECTIONS: Mapping[str, tuple[str, str]] = {
    "unmetered": (
        "unmetered air downstream of the meter: lean trims at idle that fade near 2,500 rpm",
        "a smoke test of the intake, or the same trims with each vacuum hose closed in turn",
    ),
    "lean everywhere": (
        "metering or fuel delivery: lean trims at idle and near 2,500 rpm (air under-read or low fuel pressure)",
        "airflow against manifold pressure, and the fuel pressure by gauge",
    ),
    "rich everywhere": (
        "metering or fuel delivery: rich trims at idle and near 2,500 rpm (air over-read or high fuel pressure)",
        "airflow against manifold pressure, and the fuel pressure by gauge",
    ),
    "one speed": ("trims are out of limits at one speed, and the other does not say why", BOTH_SPEEDS),
    "airflow": (
        "measured airflow does not fit the engine although the trims do",
        "the sheet's displacement and efficiency, and manifold pressure with the engine off",
    ),
    "in order": (
        "the engine breathes as it meters: trims are inside limits at idle and near 2,500 rpm",
        "nothing more is needed",
    ),
    "unknown": ("not enough warm, closed-loop data to say", BOTH_SPEEDS),
}


def _direction(trims: Mapping[str, Verdict], flow: Verdict, density: Sequence[Verdict]) -> tuple[str, str]:
    """The entry of DIRECTIONS that the parts add up to."""
    idle, fast = _excess(trims[IDLE]), _excess(trims[BAND])
    if idle > 0 and trims[BAND].outcome is Outcome.YES:
        return DIRECTIONS["unmetered"]
    if idle * fast > 0:
        return DIRECTIONS["lean everywhere" if idle > 0 else "rich everywhere"]
    if idle or fast:
        return DIRECTIONS["one speed"]
    if any(part.outcome is Outcome.NO for part in (flow, *density)):
        return DIRECTIONS["airflow"]
    return DIRECTIONS["in order" if all(part.outcome is Outcome.YES for part in trims.values()) else "unknown"]


def _excess(part: Verdict) -> int:
    """+1 lean (positive trims beyond the limit), −1 rich, 0 inside or unknown."""
    value = part.evidence[0].value if part.evidence else None
    return int(np.sign(float(value))) if part.outcome is Outcome.NO and isinstance(value, float) else 0
