"""A rectifier is the wrong way round.

Why: With its anode (of a bridge: its minus) on the rail and its cathode on the winding or the line,
a diode draws the rail below its return. Every electrolytic on the rail is then reversed and bursts,
and the set does not play.
False alarm: A rail that is meant to be negative and feeds plates whose cathodes are lower still:
accept it.
Source: a diode conducts from anode to cathode; reversed electrolytics burst: common practice, no
source.
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.findings import Finding, Harm
from netcheck.parts import Part
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._reversed import Reversed, reversed_rectifiers
from netcheck.rules._words import listed, named

_WOUND = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral COLD
F1 1/4 A 250 V slow: LINE to FUSED
T1 power, high 180 V 60 mA 90 ohm: primary FUSED to COLD, high HA to HB
C1 22 mfd 450 V electrolytic, new: + B1, - CHASSIS
Z1 load 50 mA: B1 to CHASSIS
"""
_HALF = """line 117 V 60 Hz
P1 plug, polarized: hot LINE, neutral B-
F1 1/4 A 250 V slow: LINE to FUSED
R9 47 ohm 5 W: FUSED to SURGE
C1 47 mfd 250 V electrolytic, new: + B1, - B-
R1 1.2K 5 W, new: B1 to B2
C2 47 mfd 250 V electrolytic, new: + B2, - B-
Z1 load 30 mA: B2 to B-
"""


@rule(
    harm=Harm.BURST,
    bad=(
        Example(
            _WOUND + "D1 bridge 800 V 1 A, new: ac HA to HB, + CHASSIS, - B1   # <-\n",
            "has its - on B1, which feeds Z1, and its + on CHASSIS",
        ),
        Example(
            _HALF + "D1 silicon 1000 V 1 A, new: anode B1, cathode SURGE   # <-\n",
            "has its anode on B1, which feeds Z1, and its cathode on SURGE",
        ),
    ),
    good=(
        _WOUND + "D1 bridge 800 V 1 A, new: ac HA to HB, + B1, - CHASSIS\n",
        _HALF + "D1 silicon 1000 V 1 A, new: anode SURGE, cathode B1\n",
    ),
)
def check(case: Case) -> Iterator[Finding]:
    """Yield a finding for each part whose diodes draw a positive rail below its return."""
    for each in reversed_rectifiers(case):
        refs = dict.fromkeys(e.ref for e in each.elements)
        parts = [p for ref in refs if (p := case.chassis.part(ref)) is not None]
        if parts:
            yield _finding(case, each, parts)


def _finding(case: Case, each: Reversed, parts: list[Part]) -> Finding:
    first = parts[0]
    near, far = ("-", "+") if first.is_bridge else ("anode", "cathode")
    several = "anodes" if near == "anode" else near
    has = f"has its {near}" if len(parts) == 1 else f"have their {several}"
    terminal = first.terminal(far)
    on = f", and its {far} on {case.chassis.net(terminal.node)}" if terminal is not None else ""
    return case.finding(
        f"{listed(named(part) for part in parts)} {has} on {each.rail}, which feeds "
        f"{each.what}{on if len(parts) == 1 else ''}: {each.rail} is drawn below its return",
        first.ref_span or first.span,
        parts=[part.ref for part in parts],
        nodes=(each.rail,),
        action=f"exchange the {near} and the {far} of {listed(p.ref for p in parts)} before power; "
        "electrolytics that were under power this way are spent",
    )
