"""The resistance chart for people: 78 columns of plain text.

Belongs here: the order and look of a resistance chart. Does not belong here: its figures (bench/).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from netcheck.bench.resistance_chart import BeforePower, ResistanceChart
from netcheck.output.charts import (
    assumed_lines,
    caution_lines,
    heading,
    labelled,
    padded,
    resistance,
)
from netcheck.output.columns import WIDTH, clipped, wrapped

__all__ = ["ohm_lines"]


def ohm_lines(chart: ResistanceChart) -> Iterator[str]:
    """Yield a resistance chart; of one that cannot be computed only why, and no figure."""
    yield from heading("RESISTANCE CHART", chart.title, chart.file)
    if not chart.solved:
        yield from wrapped(f"NOT SOLVED: {chart.reason.rstrip('.')}.")
        yield from wrapped("No resistance is told, because none could be relied upon.")
        yield from caution_lines()
        return
    yield from _conditions(chart)
    yield from _before_power(chart.before_power)
    yield ""
    yield f"  {'electrode':<15}{'pin':<5}{'ohms':>10}  node"
    for tube in chart.tubes:
        yield ""
        yield from wrapped(f"{tube.ref}  {tube.type}")
        for each in tube.electrodes:
            line = f"  {padded(each.name, 15)}{padded(each.pin or '-', 5)}{_ohm(each.ohm):>10}"
            yield clipped(f"{line}  {each.node}", WIDTH)
    yield ""
    yield f"  {'node':<20}{'ohms':>10}"
    for node in chart.nodes:
        also = f"  also {', '.join(node.also)}" if node.also else ""
        yield clipped(f"  {padded(node.name, 20)}{_ohm(node.ohm):>10}{also}", WIDTH)
    yield from _notes(chart)
    yield from assumed_lines(chart.assumed)
    yield from caution_lines()


def _conditions(chart: ResistanceChart) -> Iterator[str]:
    yield from labelled("power", "off, plug out of the wall, filter capacitors discharged")
    yield from labelled("measured from", chart.measure_from or "")
    yield from labelled("tubes", "in their sockets, cold")
    yield from labelled("switches", ", ".join(f"{r} {at}" for r, at in chart.switches.items()))
    controls = [f"{ref} at {net}" for ref, net in chart.turned]
    controls += [f"{ref} halfway" for ref in chart.halfway]
    yield from labelled("controls", ", ".join(controls))
    yield from labelled("supposed", "; ".join(chart.supposed))


def _before_power(rows: Sequence[BeforePower]) -> Iterator[str]:
    yield ""
    yield "Before any power"
    if not rows:
        yield from wrapped(
            "The text does not show where B+ begins, so the reading that must be seen across it"
            " is not known: do not take its absence for a pass.",
            first="  * ",
        )
    for each in rows:
        pair = f"{each.plus} to {each.minus}"
        if each.ohm is None or each.least_ohm is None:
            yield from wrapped(
                f"{pair}: the needle must go back to infinite. Any lasting reading is the leakage"
                " of a capacitor, or a short: find it first.",
                first="  * ",
            )
        else:
            yield from wrapped(
                f"{pair}: {resistance(each.ohm)} once the capacitors are charged. Below"
                f" {resistance(each.least_ohm)} (a fifth less, what resistors may be off) do not"
                " apply power: a capacitor leaks or is shorted.",
                first="  * ",
            )


def _ohm(ohm: float | None) -> str:
    if ohm is None:
        return "infinite"
    return "0 ohm" if ohm < 1e-9 else resistance(ohm)


def _notes(chart: ResistanceChart) -> Iterator[str]:
    yield ""
    if chart.electrolytics:
        yield from wrapped(
            f"Electrolytics ({', '.join(chart.electrolytics)}) charge from the meter: put its plus"
            " lead on their plus side and wait until the reading stands still. The other way"
            " round, and with old ones, it stays lower."
        )
    yield from wrapped(
        "Capacitors count as open and coils as cold copper. Infinite: no path of resistors or"
        " coils; an ohmmeter then shows only leakage."
    )
    if chart.rectifiers:
        yield from wrapped(
            f"{', '.join(chart.rectifiers)} count as open; in one direction the meter may send"
            " current through: if two readings differ when the leads are exchanged, take the"
            " higher."
        )
    if chart.batteries:
        yield from wrapped(f"Batteries ({', '.join(chart.batteries)}) are out.")
