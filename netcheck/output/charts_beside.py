"""What stands beside a voltage chart: the causes of a band, the chart as printed in its day.

Belongs here: their look as text and as plain data. Does not belong here: their figures (bench/).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any, Final

from netcheck.bench.because import Because
from netcheck.bench.beside import Printed
from netcheck.bench.voltage_chart import VoltageChart
from netcheck.output.charts import labelled, padded
from netcheck.output.columns import WIDTH, clipped, wrapped
from netcheck.output.numbers import chart_figure, figure, finite

__all__ = ["because_facts", "because_lines", "printed_facts", "printed_lines"]

_SHOWN: Final = 8
_LEAST_SHARE: Final = 0.01


def because_lines(found: Iterable[Because]) -> Iterator[str]:
    """Yield why each asked node spreads: the greatest causes, then the rest in one line."""
    for each in found:
        yield ""
        if each.volts is None:
            yield from wrapped(f"{each.name}: {each.reason}", first="Because  ")
            continue
        yield from wrapped(f"{each.name} reads {chart_figure(each.volts)} V", first="Because  ")
        yield f"  {'cause, taken alone':<40}{'from':>9}{'to':>9}{'share':>8}"
        shown = [c for c in each.causes if c.share is None or c.share >= _LEAST_SHARE][:_SHOWN]
        for cause in shown:
            if cause.low_v is None or cause.high_v is None or cause.share is None:
                yield f"  {padded(cause.what, 40)}   not solved at one of its ends"
                continue
            ends = f"{chart_figure(cause.low_v):>9}{chart_figure(cause.high_v):>9}"
            yield f"  {padded(cause.what, 40)}{ends}{cause.share * 100:>6.0f} %"
        rest = [c for c in each.causes if c not in shown]
        if rest:
            left = sum(c.share or 0.0 for c in rest)
            yield f"  {f'{len(rest)} others together':<40}{'':>18}{left * 100:>6.0f} %"


def because_facts(found: Iterable[Because]) -> list[dict[str, Any]]:
    """The same as plain data."""
    return [
        {
            "name": each.name,
            "node": each.node,
            "volts": finite(each.volts),
            "reason": each.reason,
            "causes": [
                {
                    "what": c.what,
                    "part": c.ref or None,
                    "low": finite(c.low_v),
                    "high": finite(c.high_v),
                    "share": finite(c.share),
                }
                for c in each.causes
            ],
        }
        for each in found
    ]


def printed_lines(chart: VoltageChart, printed: Printed) -> Iterator[str]:
    """Yield today's readings beside those of the set's day."""
    yield ""
    yield "As printed in its day, beside today"
    if printed.reason:
        yield from wrapped(f"not solved: {printed.reason}", first="  ")
        return
    line = "none" if printed.line_v is None else f"{figure(printed.line_v)} V"
    yield from labelled("printed", f"line {line}, meter {printed.meter}")
    today = "none" if chart.conditions.line_v is None else f"{figure(chart.conditions.line_v)} V"
    yield from labelled("today", f"line {today}, meter {chart.conditions.meter.text}")
    values = ", ".join(f"{c.part} {c.then} (now {c.now})" for c in printed.changed)
    yield from labelled("printed values", values)
    yield from labelled("as today", ", ".join(printed.kept))
    for tube in chart.tubes:
        yield ""
        yield from wrapped(f"{tube.ref} {tube.type}")
        yield f"  {'electrode':<15}{'pin':<5}{'today':>9}{'printed':>9}{'off':>8}  node"
        for row in tube.electrodes:
            if row.node is None or row.node.volts is None:
                continue
            then = printed.volts.get(row.node.name)
            was = "-" if then is None else chart_figure(then)
            shown = f"  {padded(row.name, 15)}{padded(row.pin or '-', 5)}"
            shown += f"{chart_figure(row.node.volts):>9}{was:>9}{_off(row.node.volts, then):>8}"
            yield clipped(f"{shown}  {row.node.name}", WIDTH).rstrip()


def _off(now: float, then: float | None) -> str:
    """How far today's reading is off the printed one, in per cent where that says something."""
    if then is None or abs(then) < 0.05:
        return ""
    return f"{(now / then - 1) * 100:+.0f} %"


def printed_facts(printed: Printed, nodes: Sequence[str]) -> dict[str, Any]:
    """The same as plain data, for the nodes of the chart."""
    return {
        "line_volts": finite(printed.line_v),
        "meter": printed.meter,
        "other_values": [
            {"part": each.part, "then": each.then, "now": each.now} for each in printed.changed
        ],
        "kept": list(printed.kept),
        "reason": printed.reason,
        "nodes": [{"name": n, "volts": finite(printed.volts.get(n))} for n in nodes],
    }
