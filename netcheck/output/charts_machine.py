"""The charts as JSON in the published shapes.

Belongs here: charts as plain dictionaries. Does not belong here: their look for people (charts.py,
charts_ohms.py), the documents of findings (machine.py).
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from netcheck.bench.resistance_chart import ResistanceChart
from netcheck.bench.voltage_chart import ElectrodeRow, NodeRow, SupplyRow, TubeRow, VoltageChart
from netcheck.output.machine import assumed_fact, document
from netcheck.output.numbers import finite

__all__ = ["ohms_document", "volts_document"]


def volts_document(chart: VoltageChart, beside: Mapping[str, Any] = MappingProxyType({})) -> str:
    """Return the JSON document on a voltage chart, with what was asked for beside it."""
    return document(
        {
            "file": chart.file,
            "title": chart.title,
            "conditions": _conditions(chart),
            "measure_from": chart.measure_from,
            "solved": chart.solved,
            "reason": chart.reason,
            "unsettled": list(chart.unsettled),
            "nodes": [_node(each) for each in chart.nodes],
            "currents": [
                {
                    "part": each.part,
                    "terminal": each.terminal,
                    "node": each.node,
                    "amperes": finite(each.amperes),
                }
                for each in chart.currents
            ],
            "tubes": [_tube(each) for each in chart.tubes],
            "supplies": [_supply(each) for each in chart.supplies],
            "floating": [each.name for each in chart.nodes if each.floating],
            "assumed": [assumed_fact(each) for each in chart.assumed],
            "remarks": list(chart.remarks),
            **beside,
        }
    )


def ohms_document(chart: ResistanceChart) -> str:
    """Return the JSON document on a resistance chart."""
    return document(
        {
            "file": chart.file,
            "title": chart.title,
            "measure_from": chart.measure_from,
            "solved": chart.solved,
            "reason": chart.reason,
            "switches": dict(chart.switches),
            "supposed": list(chart.supposed),
            "nodes": [
                {"name": each.name, "also": list(each.also), "ohms": finite(each.ohm)}
                for each in chart.nodes
            ],
            "tubes": [
                {
                    "ref": tube.ref,
                    "type": tube.type,
                    "electrodes": [
                        {
                            "name": each.name,
                            "pin": _pin(each.pin),
                            "node": each.node,
                            "ohms": finite(each.ohm),
                        }
                        for each in tube.electrodes
                    ],
                }
                for tube in chart.tubes
            ],
            "before_power": [
                {
                    "plus": each.plus,
                    "minus": each.minus,
                    "ohms": finite(each.ohm),
                    "least_ohms": finite(each.least_ohm),
                }
                for each in chart.before_power
            ],
            "assumed": [assumed_fact(each) for each in chart.assumed],
        }
    )


def _conditions(chart: VoltageChart) -> dict[str, Any]:
    own = chart.conditions
    return {
        "line_volts": finite(own.line_v),
        "hertz": finite(own.hertz),
        "meter_ohms": finite(own.meter.ohm),
        "volume": "maximum",
        "signal": "none",
        "switches": dict(own.switches),
        "oscillator": own.oscillator,
        "supposed": list(own.supposed),
        "band": {
            "draws": own.band_draws,
            "settled": own.band_settled,
            "line_low": finite(own.line_low_v),
            "line_high": finite(own.line_high_v),
        },
    }


def _node(node: NodeRow) -> dict[str, Any]:
    return {
        "name": node.name,
        "also": list(node.also),
        "volts": finite(node.volts),
        "low": finite(node.low),
        "high": finite(node.high),
        "ac_volts": finite(node.ac_v),
    }


def _tube(tube: TubeRow) -> dict[str, Any]:
    return {
        "ref": tube.ref,
        "type": tube.type,
        "condition": tube.condition,
        "electrodes": [_electrode(each) for each in tube.electrodes],
        "plate_watts": finite(tube.plate_w),
        "screen_watts": finite(tube.screen_w),
        "heater_volts": finite(tube.heater_v),
    }


def _electrode(row: ElectrodeRow) -> dict[str, Any]:
    node = row.node
    return {
        "name": row.name,
        "pin": _pin(row.pin),
        "node": node.name if node else None,
        "volts": finite(node.volts) if node else None,
        "low": finite(node.low) if node else None,
        "high": finite(node.high) if node else None,
        "milliamps": finite(row.amperes * 1e3) if row.amperes is not None else None,
    }


def _pin(pin: str | None) -> int | str | None:
    """A pin as its number; `cap` and the like stay words."""
    return int(pin) if pin is not None and pin.isdigit() else pin


def _supply(supply: SupplyRow) -> dict[str, Any]:
    return {
        "rectifier": supply.rectifier,
        "plus": supply.plus,
        "minus": supply.minus,
        "dc_volts": finite(supply.dc_v),
        "dc_milliamps": finite(supply.dc_a * 1e3),
        "ripple_pp": finite(supply.ripple_v),
        "no_load_volts": finite(supply.no_load_v),
        "peak_inverse_volts": finite(supply.peak_inverse_v),
        "line_amperes_rms": finite(supply.line_rms_a),
    }
