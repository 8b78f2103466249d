"""The report: one self-contained page of HTML with everything there is to say of a set.

Belongs here: what the template is given. Does not belong here: the papers (bench/), the look
(templates/).

All text of a set is escaped by the template engine and shown without control characters; the page
asks for nothing from any network and is readable without script.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from importlib.resources import files
from typing import Any, Final

from netcheck import __version__
from netcheck.bench.dossier import Dossier, LeakCurve
from netcheck.bench.powerup import PowerUp
from netcheck.bench.voltage_chart import VoltageChart
from netcheck.findings import Finding, Signal
from netcheck.output.cautions import CAUTIONS, NO_CLEARANCE
from netcheck.output.charts import resistance
from netcheck.output.columns import visible
from netcheck.output.curves import Curve, band_bar, curve
from netcheck.output.job import note_lines
from netcheck.output.map_geometry import drawing
from netcheck.output.numbers import chart_figure, figure
from netcheck.output.powerup import said_reading

__all__ = ["report_lines"]

_LEAK_TICKS: Final = ((1e3, "1K"), (1e4, ""), (1e5, "100K"), (1e6, ""), (1e7, "10M"), (1e8, ""),
                      (1e9, "1G"), (1e10, ""))  # fmt: skip


def report_lines(dossier: Dossier) -> Iterator[str]:
    """Yield the lines of the page."""
    yield from _page(dossier).rstrip("\n").split("\n")


def _page(dossier: Dossier) -> str:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("netcheck.output", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_shown,
    )
    environment.filters |= {
        "figure": figure,
        "volts": chart_figure,
        "ohms": _ohms,
        "plain": visible,
        "reading": said_reading,
    }
    return environment.get_template("report.html.j2").render(**_given(dossier))


def _shown(value: Any) -> Any:
    """A text of the set as it may be shown; what the template made itself stays as it is."""
    if isinstance(value, str) and not hasattr(value, "__html__"):
        return visible(value)
    return value


def _ohms(ohm: float | None) -> str:
    return "infinite" if ohm is None else resistance(ohm) if ohm > 1e-9 else "0 ohm"


def _given(dossier: Dossier) -> dict[str, Any]:
    chassis, report = dossier.chassis, dossier.work.report
    css = files(__package__).joinpath("templates/report.css").read_text("utf-8")
    return {
        "version": __version__,
        "css": css,
        "title": chassis.title or chassis.file,
        "file": chassis.file,
        "travels": dict(chassis.travels),
        "read": chassis.was_read,
        "solved": report.solved,
        "counts": report.counts,
        "findings": _findings(report.findings),
        "injury": (Signal.DANGER, Signal.WARNING, Signal.CAUTION),
        "not_checked": report.not_checked,
        "assumed": report.assumed,
        "volts": dossier.volts,
        "bars": _bars(dossier.volts),
        "ohms": dossier.ohms,
        "recap": dossier.recap,
        "job": dossier.job,
        "plan": dossier.powerup,
        "rise": _rise(dossier.powerup),
        "card": list(note_lines(dossier.note)),
        "panels": [drawing(panel) for panel in dossier.map.panels],
        "map_reason": dossier.map.reason,
        "leaks": [(leak, _leak_curve(leak)) for leak in dossier.leaks],
        "source": list(_source(dossier, report.findings)),
        "cautions": CAUTIONS,
        "no_clearance": NO_CLEARANCE,
    }


def _findings(findings: Sequence[Finding]) -> list[tuple[int, Finding]]:
    return list(enumerate(findings, start=1))


def _source(
    dossier: Dossier, findings: Sequence[Finding]
) -> Iterator[tuple[int, str, list[tuple[int, Finding]]]]:
    """The lines of the set's own file, each with the findings that stand on it."""
    chassis = dossier.chassis
    at: dict[int, list[tuple[int, Finding]]] = {}
    for number, found in _findings(findings):
        if found.span.file == chassis.file:
            at.setdefault(found.span.line, []).append((number, found))
    text = chassis.texts.get(chassis.file, "")
    lines = text.replace("\r\n", "\n").replace("\r", "\n").rstrip("\n").split("\n")
    for number, line in enumerate(lines, start=1):
        yield number, line, at.get(number, [])


def _bars(chart: VoltageChart) -> dict[tuple[str, str], tuple[float, float, float]]:
    """By tube and electrode: its band in pixels, on one scale for each tube."""
    bars = {}
    for tube in chart.tubes:
        nodes = [e.node for e in tube.electrodes if e.node is not None]
        ends = [v for n in nodes for v in (n.low, n.volts, n.high) if v is not None]
        if not ends:
            continue
        least, most = min(0.0, *ends), max(0.0, *ends)
        for each in tube.electrodes:
            if each.node is not None:
                bar = band_bar(each.node.low, each.node.volts, each.node.high, least, most)
                if bar is not None:
                    bars[tube.ref, each.name] = bar
    return bars


def _rise(plan: PowerUp) -> Curve | None:
    """The first supply against the line on the way up."""
    if len(plan.curve) < 3:
        return None
    ticks = [(line, figure(line)) for line, _ in plan.curve]
    return curve(
        [("curve", "plate supply", plan.curve)], "line, volts", "plate supply, volts", ticks
    )


def _leak_curve(leak: LeakCurve) -> Curve | None:
    if not leak.points:
        return None
    series: list[tuple[str, str, Sequence[tuple[float, float]]]] = [
        ("curve", "grid shift", leak.points)
    ]
    if leak.limit_v is not None:
        series.append(("limit", "a tenth of the bias", ((1e3, leak.limit_v), (1e10, leak.limit_v))))
    if leak.demand_ohm is not None and math.isfinite(leak.demand_ohm):
        top = max(y for _, y in leak.points)
        at = leak.demand_ohm
        series.append(("mark", "insulation to ask for", ((at, 0.0), (at, top))))
    return curve(series, "leak of the capacitor, ohms", "grid moves by, volts", _LEAK_TICKS,
                 logarithmic=True)  # fmt: skip
