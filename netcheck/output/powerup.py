"""The power-up plan for people and for programs.

Belongs here: its look as text, its JSON. Does not belong here: steps and limits (bench/powerup.py).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from netcheck.bench.powerup import Discharge, PowerUp, Reading, Stage
from netcheck.bench.powerup_steps import Limited
from netcheck.output.charts import assumed_lines, caution_lines, heading, resistance
from netcheck.output.columns import wrapped
from netcheck.output.machine import assumed_fact, document
from netcheck.output.numbers import chart_figure, figure, finite

__all__ = ["powerup_document", "powerup_lines", "said_reading"]


def powerup_lines(plan: PowerUp) -> Iterator[str]:
    """Yield the plan as text of at most 78 columns; without a solution there are no figures."""
    yield from heading("POWER-UP PLAN", plan.title, plan.file)
    for each in plan.first:
        yield from wrapped(each, first="  * ")
    yield ""
    yield "1. Ohms, plug out, capacitors discharged"
    yield from _before(plan)
    if plan.reason:
        yield ""
        yield from wrapped(f"NOT SOLVED: {plan.reason.rstrip('.')}.")
        yield from wrapped("No reading is told, because none was found that can be relied upon.")
    yield from _lamps(plan)
    for number, stage in enumerate(plan.stages, start=2):
        yield ""
        yield from wrapped(stage.title, first=f"{number}. ")
        yield from wrapped(stage.how, first="   ")
        for reading in stage.readings:
            yield from wrapped(said_reading(reading), first="   [ ] ")
    yield from _discharge(plan)
    yield from assumed_lines(plan.assumed)
    yield from caution_lines()


def _before(plan: PowerUp) -> Iterator[str]:
    if not plan.before_power:
        yield from wrapped(
            "The text does not show where B+ begins: what must be read across it is not known.",
            first="   [ ] ",
        )
    for each in plan.before_power:
        pair = f"{each.plus} to {each.minus}"
        if each.ohm is None or each.least_ohm is None:
            yield from wrapped(f"{pair}: goes back to infinite once charged", first="   [ ] ")
        else:
            said = f"{pair}: {resistance(each.ohm)} once charged; below "
            said += f"{resistance(each.least_ohm)} no power"
            yield from wrapped(said, first="   [ ] ")


def _lamps(plan: PowerUp) -> Iterator[str]:
    if plan.lamp is None:
        return
    yield ""
    yield from wrapped(
        f"Lamp in series: {plan.lamp.watts:g} W (incandescent). A sound set then gets"
        f" {figure(plan.lamp.set_v)} V. Others:"
    )
    said = ", ".join(f"{each.watts:g} W {figure(each.set_v)} V" for each in plan.lamps)
    yield from wrapped(said, first="   ")


def said_reading(reading: Reading) -> str:
    """One reading in words."""
    value = ""
    if reading.value is not None:
        value = f" {chart_figure(reading.value)} {reading.unit}"
    return f"{reading.what}{value}; {reading.stop}"


def _discharge(plan: PowerUp) -> Iterator[str]:
    yield ""
    yield "Before you reach in again"
    if not plan.discharges:
        yield from wrapped(
            "As the text has it the tubes empty the filter capacitors while they cool. Discharge"
            " them all the same, through a resistor, and measure.",
            first="  * ",
        )
    for each in plan.discharges:
        if each.seconds is None:
            said = (
                f"{each.ref} ({each.state}): keeps its {figure(each.volts)} V; nothing empties it"
            )
        else:
            said = (
                f"{each.ref} ({each.state}): {figure(each.seconds)} s from {figure(each.volts)} V"
                " to 60 V"
            )
        yield from wrapped(said, first="  * ")


def powerup_document(plan: PowerUp) -> str:
    """Return the JSON document of a plan."""
    return document(
        {
            "file": plan.file,
            "title": plan.title,
            "solved": plan.solved,
            "reason": plan.reason,
            "first": list(plan.first),
            "before_power": [
                {"plus": b.plus, "minus": b.minus, "ohms": finite(b.ohm),
                 "least_ohms": finite(b.least_ohm)}
                for b in plan.before_power
            ],
            "lamp": None if plan.lamp is None else _lamp(plan.lamp),
            "lamps": [_lamp(each) for each in plan.lamps],
            "stages": [_stage(each) for each in plan.stages],
            "curve": [{"line_volts": line, "dc_volts": dc} for line, dc in plan.curve],
            "discharge": [_kept(each) for each in plan.discharges],
            "assumed": [assumed_fact(each) for each in plan.assumed],
        }
    )  # fmt: skip


def _lamp(lamp: Limited) -> dict[str, float]:
    return {
        "watts": lamp.watts,
        "set_volts": lamp.set_v,
        "lamp_volts": lamp.lamp_v,
        "lamp_share": lamp.lamp_share,
    }


def _stage(stage: Stage) -> dict[str, Any]:
    return {
        "title": stage.title,
        "how": stage.how,
        "line_volts": finite(stage.line_v),
        "readings": [
            {"what": r.what, "value": finite(r.value), "unit": r.unit, "stop": r.stop}
            for r in stage.readings
        ],
    }


def _kept(each: Discharge) -> dict[str, Any]:
    return {
        "part": each.ref,
        "state": each.state,
        "volts": each.volts,
        "farads": each.farad,
        "seconds": finite(each.seconds),
    }
