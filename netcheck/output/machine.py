"""The JSON shapes that scripts and editors rely on, and the schemas that pin them.

Belongs here: turning findings, rules and tube types into plain dictionaries of the published
shape. Does not belong here: words for people (text.py, why.py, tube.py).

Output is ASCII and in a fixed order, so that the same set gives the same bytes anywhere.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from importlib.resources import files
from typing import Any, Final

from netcheck import __version__
from netcheck.findings import Assumed, Calculation, Finding, NotChecked, Span
from netcheck.output.cautions import CAUTIONS
from netcheck.output.numbers import finite
from netcheck.parts import OperatingPoint, TubeType
from netcheck.rules._base import Example, Rule
from netcheck.rules._runner import Report, counts_of
from netcheck.rules._scope import Compared, KnownFinding

__all__ = [
    "SHAPE", "assumed_fact", "document", "lint_lines", "not_checked_fact", "schema",
    "tube_document", "why_document",
]  # fmt: skip

SHAPE: Final = 1
FROM_MEMORY: Final = "from memory"


def lint_lines(reports: Iterable[Report]) -> Iterator[str]:
    """Yield the lines of one JSON document on all `reports`, a set at a time."""
    yield f'{{"netcheck": {_json(__version__)}, "shape": {SHAPE}, "cautions": {_json(CAUTIONS)},'
    yield ' "sets": ['
    waiting = ""
    for report in reports:
        if waiting:
            yield waiting + ","
        waiting = json.dumps(_plain(_set(report)), indent=1, allow_nan=False)
    yield waiting + "]}"


def why_document(rules: Sequence[Rule]) -> str:
    """Return the JSON document on `rules`: their words, options and examples."""
    return document({"rules": [_rule(each) for each in rules]})


def tube_document(tube: TubeType) -> str:
    """Return the JSON document on one tube type."""
    return document({"tube": _tube(tube)})


def schema(name: str) -> str:
    """Return the JSON Schema (draft 2020-12) of the document called `name`: lint, why or tube."""
    return files(__package__).joinpath(f"{name}.schema.json").read_text("utf-8")


def document(body: dict[str, Any]) -> str:
    """One JSON document with version, shape and cautions before `body` (NaN is refused)."""
    whole = {"netcheck": __version__, "shape": SHAPE, "cautions": list(CAUTIONS), **body}
    return json.dumps(_plain(whole), indent=1, allow_nan=False)


def _json(value: object) -> str:
    return json.dumps(value, allow_nan=False)


def _plain(value: Any) -> Any:
    """Return `value` with every text fit for any JSON reader (a lone surrogate is not)."""
    if isinstance(value, str):
        return value.encode("utf-8", "backslashreplace").decode("utf-8")
    if isinstance(value, dict):
        return {_plain(key): _plain(each) for key, each in value.items()}
    if isinstance(value, list):
        return [_plain(each) for each in value]
    return value


def _set(report: Report) -> dict[str, Any]:
    return {
        "file": report.chassis.file,
        "title": report.chassis.title,
        "read": report.was_read,
        "solved": report.solved,
        "findings": [_finding(found) for found in report.findings],
        "not_checked": [not_checked_fact(each) for each in report.not_checked],
        "assumed": [assumed_fact(each) for each in report.assumed],
        "counts": report.counts,
        "left_out": {
            "rules": list(report.scope.left_out),
            "below": report.scope.lowest.value,
            "counts": counts_of(report.scope.hidden),
        },
        "policies": [
            {
                "rule": each.rule,
                "option": each.option,
                "value": each.value,
                "instead_of": each.instead_of,
            }
            for each in report.scope.policies
        ],
        "known": _compared(report.scope.compared),
    }


def _compared(compared: Compared | None) -> dict[str, Any] | None:
    if compared is None:
        return None
    return {
        "file": compared.file,
        "set": compared.of,
        "counts": counts_of(compared.known),
        "dangers": [each.fingerprint for each in compared.dangers],
        "gone": [_known(each) for each in compared.gone],
        "not_looked_for": [_known(each) for each in compared.not_looked_for],
    }


def _known(each: KnownFinding) -> dict[str, Any]:
    return {
        "fingerprint": each.fingerprint,
        "rule": each.rule,
        "harm": each.harm.value,
        "parts": list(each.parts),
        "message": each.message,
        "accepted": each.accepted,
    }


def _finding(found: Finding) -> dict[str, Any]:
    return {
        "rule": found.rule,
        "harm": found.harm.value,
        "signal": found.signal.value,
        "message": found.message,
        "span": _span(found.span),
        "related": [{"span": _span(r.span), "message": r.message} for r in found.related],
        "parts": list(found.parts),
        "nodes": list(found.nodes),
        "state": found.state,
        "why": found.why,
        "calc": [_calculation(each) for each in found.calc],
        "action": found.action,
        "accepted": found.accepted,
        "fingerprint": found.fingerprint,
    }


def _span(span: Span) -> dict[str, Any]:
    return {
        "file": span.file,
        "line": span.line,
        "column": span.column,
        "end_line": span.end_line,
        "end_column": span.end_column,
    }


def _calculation(calculation: Calculation) -> dict[str, Any]:
    return {
        "name": calculation.name,
        "value": finite(calculation.value),
        "unit": calculation.unit,
        "limit": finite(calculation.limit),
        "sum": calculation.sum,
    }


def not_checked_fact(each: NotChecked) -> dict[str, Any]:
    """What was not checked and why, as the schemas have it."""
    return {"rule": each.rule, "reason": each.reason, "parts": list(each.parts)}


def assumed_fact(each: Assumed) -> dict[str, Any]:
    """What was taken where the text is silent, as the schemas have it."""
    return {
        "part": each.part,
        "what": each.what,
        "value": finite(each.value),
        "unit": each.unit,
        "basis": each.basis,
    }


def _rule(rule: Rule) -> dict[str, Any]:
    return {
        "name": rule.name,
        "harm": rule.harm.value,
        "signal": rule.harm.signal.value,
        "title": rule.doc.title,
        "why": rule.doc.why,
        "false_alarm": rule.doc.false_alarm,
        "source": rule.doc.source,
        "options": [
            {
                "name": name,
                "default": option.default,
                "allowed": list(option.allowed),
                "meaning": option.meaning,
            }
            for name, option in rule.options.items()
        ],
        "bad": [_example(each) for each in rule.bad],
        "good": [_example(each) for each in rule.good],
        "distribution": rule.distribution,
    }


def _example(example: Example) -> dict[str, Any]:
    return {"text": example.text, "line": example.marked_line, "says": example.says}


def _tube(tube: TubeType) -> dict[str, Any]:
    return {
        "name": tube.name,
        "kind": tube.kind,
        "aliases": list(tube.aliases),
        "base": tube.base,
        "basing": tube.basing,
        "pins": [{"pin": pin, "electrodes": list(group)} for pin, group in tube.pins.items()],
        "heating": tube.heating,
        "heater_volts": finite(tube.heater_v),
        "heater_amperes": finite(tube.heater_a),
        "tap_volts": finite(tube.tap_v),
        "rating_system": tube.rating_system,
        "limits": [{"name": name, "value": finite(value)} for name, value in tube.limits.items()],
        "sections": [
            {
                "name": section.name,
                "kind": section.kind,
                "plate": section.plate,
                "cathode": section.cathode,
                "controls": list(section.controls),
                "screen": section.screen,
            }
            for section in tube.sections
        ],
        "points": [_point(each) for each in tube.points],
        "sources": [
            {
                "subject": subject,
                "source": source,
                "from_memory": source.strip().lower().startswith(FROM_MEMORY),
            }
            for subject, source in tube.sources.items()
        ],
        "note": tube.note,
    }


def _point(point: OperatingPoint) -> dict[str, Any]:
    return {
        "use": point.use,
        "section": point.section,
        "volts": {name: finite(value) for name, value in point.volts.items()},
        "amperes": {name: finite(value) for name, value in point.amperes.items()},
        "gm_siemens": finite(point.gm_s),
        "rp_ohms": finite(point.rp_ohm),
        "mu": finite(point.mu),
        "cathode_ohms": finite(point.cathode_ohm),
        "load_ohms": finite(point.load_ohm),
        "output_watts": finite(point.output_w),
        "note": point.note,
        "source": point.source,
    }
