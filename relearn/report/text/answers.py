"""The judging questions' answers for the terminal."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import RenderableType

from relearn.findings.answers import (
    AirFindings,
    ExcursionRow,
    IdentityFindings,
    ReadyFindings,
    SettleFindings,
    SupplyFindings,
    WarmUpDoc,
)
from relearn.findings.base import Judgement
from relearn.report.text.parts import (
    bullets,
    heading,
    headline,
    indented,
    line,
    origin,
    parts_of,
    row,
    standings,
    table,
    troubles,
)
from relearn.report.words import bare_span, margin, number, span, spread, window


def ready(document: ReadyFindings) -> Iterable[RenderableType]:
    yield from headline(f"ready for: {document.title}", document.verdict, document.reasons)
    yield from origin(document.source, document.sheet)
    made = table("measured", "verdict", "value", "asked", "margin", "span s", numbers=(2, 4))
    for one in document.preconditions:
        row(
            made,
            one.text,
            one.verdict,
            number(one.value, one.unit),
            window(one.limits, one.unit, one.low_open),
            margin(one.margin, one.unit),
            bare_span(one.first_s, one.last_s),
        )
    yield indented(made)
    if document.warm_up is not None:
        yield from _warm_up(document.warm_up)
    spans = ", ".join(span(a, b) for a, b in document.ready_spans_s) or "never"
    yield from line(f"in this capture it was ready: {spans}")
    yield from bullets("Confirm by eye", document.by_eye)
    yield from standings((one.text, one.standing) for one in document.preconditions)
    yield from bullets("Cautions", document.cautions)
    yield from troubles(document.faults, document.notes)


def _warm_up(made: WarmUpDoc) -> Iterable[RenderableType]:
    interval = (
        f" (95 %: {made.low_s:.0f} to {made.high_s:.0f} s)"
        if made.low_s is not None and made.high_s is not None
        else ""
    )
    when = f"about {made.reach_s:.0f} s after the capture's end{interval}" if made.reach_s is not None else "unknown"
    trust = "" if made.trusted else "; do not rely on it"
    yield from line(f"coolant reaches {made.target_c:g} °C: {when}{trust}: {made.reason}")


def settle(document: SettleFindings) -> Iterable[RenderableType]:
    yield from headline("did the idle settle", document.verdict, document.reasons)
    yield from origin(document.source, document.sheet)
    made = table("reading", "value", "asked", "verdict")
    asked = (
        f"{document.target_rpm:g} ± {document.tolerance_rpm:g} rpm" if document.target_rpm is not None else "no target"
    )
    row(made, "settled after", number(document.settle_s, "s"), "", "")
    row(made, "engine speed", spread(document.mean_rpm, document.sd_rpm, "rpm"), asked, "")
    row(made, "lowest to highest", f"{number(document.min_rpm)} to {number(document.max_rpm, 'rpm')}", "", "")
    row(made, "drift", number(document.drift_rpm_per_min, "rpm/min"), "", "")
    row(made, "hunting", _hunting(document), "", "")
    for one in document.readings:
        value = one.state or spread(one.mean, one.sd, one.unit)
        row(made, one.id.replace("_", " "), value, window(one.limits, one.unit), one.verdict or "")
    yield indented(made)
    if document.strays_s:
        at = ", ".join(f"{time_s:.1f}" for time_s in document.strays_s)
        yield from line(f"single samples outside, which do not count, at {at} s")
    yield heading("Parts")
    yield from parts_of(document.parts)
    yield heading("Idle episodes")
    for episode in document.episodes:
        mark = " (judged)" if episode.judged else ""
        yield from line(f"{span(episode.from_s, episode.to_s)}: {episode.began} to {episode.ended}{mark}")
    yield from standings(
        [
            ("engine speed", document.target_standing),
            *((one.id, one.standing) for one in document.readings),
            *_origins(document.parts),
        ]
    )
    yield from troubles(document.faults, document.notes)


def _hunting(document: SettleFindings) -> str:
    if document.hunting is None:
        return "no dominant swing" if document.samples else "–"
    named = f" at {document.hunting.frequency_hz:.2f} Hz" if document.hunting.frequency_hz is not None else ""
    return f"± {document.hunting.amplitude_rpm:.0f} rpm{named}"


def _origins(parts: Iterable[Judgement]) -> Iterable[tuple[str, str]]:
    for part in parts:
        for one in part.evidence:
            yield one.subject, one.standing
        yield from _origins(part.parts)


def supply(document: SupplyFindings) -> Iterable[RenderableType]:
    yield from headline("was the supply held", document.verdict, document.reasons)
    yield from origin(document.source)
    asked = window(document.limits, "V")
    share = f"{100 * document.share_inside:.2f} % of the time" if document.share_inside is not None else "unknown"
    yield from line(f"inside {asked}: {share} ({(document.channel or 'no voltage').replace('_', ' ')})")
    last = document.last_minute
    if last is not None:
        yield from line(
            f"last {last.span_s:.0f} s: {last.mean_v:.2f} V ± {last.sd_v:.3f}, {last.min_v:.2f} to "
            f"{last.max_v:.2f} V, {last.samples} samples"
        )
    yield from _excursions(document)
    yield from standings([("window", document.standing)])
    yield from troubles(document.faults, document.notes)


def _excursions(document: SupplyFindings) -> Iterable[RenderableType]:
    if not (document.sags or document.surges):
        return
    made = table("", "start", "length", "worst", "beyond", "frames", numbers=(1, 2, 3, 4))
    named: list[tuple[str, ExcursionRow]] = [("sag", one) for one in document.sags]
    named += [("surge", one) for one in document.surges]
    for word, one in sorted(named, key=lambda pair: pair[1].start_s):
        row(
            made,
            word,
            f"{one.start_s:.1f} s",
            f"{one.length_s:.1f} s",
            f"{one.worst_v:.3f} V",
            f"{one.depth_v:.3f} V",
            f"{one.frames[0]} to {one.frames[1]}",
        )
    yield indented(made)


def identity(document: IdentityFindings) -> Iterable[RenderableType]:
    yield from headline("same car, new calibration", document.verdict, document.reasons)
    yield from line(f"before: {document.before.file}; after: {document.source.file}")
    yield from line(f"VIN {document.vin_before or 'not read'} → {document.vin_after or 'not read'}")
    made = table("module", "what", "before", "after")
    for one in document.modules:
        row(
            made,
            one.module,
            "calibration",
            ", ".join(one.calibrations_before) or "–",
            ", ".join(one.calibrations_after) or "–",
        )
        row(
            made,
            one.name,
            "verification",
            ", ".join(one.verification_before) or "–",
            ", ".join(one.verification_after) or "–",
        )
    yield indented(made)
    for one in document.modules:
        yield from line(f"{one.verdict}: {one.reason}")
    if document.expected is not None:
        yield from line(f"ordered: {document.expected}")
    yield from troubles(document.faults, document.notes)


def air(document: AirFindings) -> Iterable[RenderableType]:
    yield from headline("does the engine breathe as it meters", document.verdict, document.reasons)
    yield from origin(document.source, document.sheet)
    yield from line(f"what would settle it: {document.would_settle}")
    yield from parts_of(document.parts)
    if document.levels:
        made = table("regime", "channel", "mean", "spread", "n", numbers=(2, 3, 4))
        for one in document.levels:
            row(
                made,
                f"{one.regime} rpm" if one.regime != "idle" else one.regime,
                one.channel.replace("_", " "),
                number(one.mean, one.unit),
                number(one.sd, one.unit),
                str(one.samples),
            )
        yield indented(made)
    yield from standings(_origins(document.parts))
    yield from troubles(document.faults, document.notes)
