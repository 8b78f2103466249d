"""Line switch in the neutral or B- lead.

Why: Switched off, the set stays joined to the hot line; in a set without a transformer B-, and what
is joined to it, then comes up to the full line through the cold heaters.
False alarm: Makers put the switch there so that one plug position left the chassis cold, and moving
it can raise hum (it sits on the volume control). Who leaves it where no metal can be reached sets
`policy switch-in-neutral switch as-built`: it is then only put on record, unless touchable metal is
joined to the line side.
Source: switch in the hot lead: diyaudio.com thread 247472; B- hot through the cold heaters, about
100 ohm, with the switch off: next.gr page AA5 6; why makers did it: nostalgiaair.org t37391; hum of
a moved switch and the case for leaving it: a US maker-specific radio forum, threads 181285 and
130301; 1500 ohm: leakage check in service manuals (Panasonic TH-42PW5, safety page).
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.circuit.paths import GALVANIC, adjacency, walk
from netcheck.circuit.wiring import Element, Kind, Wiring
from netcheck.findings import Calculation, Finding, Harm, NotChecked
from netcheck.rules._base import Case, Example, Option, rule
from netcheck.rules._line import (
    breaking_switches,
    is_line_fed,
    is_unread,
    line_of,
    on_line,
    parts_of,
    plug_pin,
    straight_poles,
    switches,
    touch_calculation,
)
from netcheck.rules._words import amount, listed, named

# Only so that a way through anything else is named first.
_COLD_TUBE_OHM = 1e9

_TOP = "line 117 V 60 Hz\n"


@rule(
    harm=Harm.SHOCK,
    options={
        "switch": Option(
            "moved",
            ("moved", "as-built"),
            "whether the switch is to be moved into the hot lead, or kept and put on record",
        )
    },
    bad=(
        Example(
            _TOP + "P1 plug, polarized: hot LINE, neutral N\nF1 1/2 A 250 V: LINE to FUSED\n"
            "S1 power: ON N to B-   # <-\nV1 50C5: heater FUSED to H1\nV2 35W4: heater H1 to B-\n",
            says="B- stays joined to LINE through F1, V1 and V2",
        ),
        Example(
            _TOP + "P1 plug, not polarized: 1 LA, 2 LB\nF1 1/2 A 250 V: LA to FUSED\n"
            "S1 power: ON LB to B-   # <-\nZ1 load 250 mA: FUSED to B-\n",
            says="S1 (power) breaks the B- lead",
        ),
        # The changeover stands at LINE while the set is on the line: it is no line switch.
        Example(
            _TOP + "P1 plug, polarized: hot LINE, neutral N\nF1 1/2 A 250 V: LINE to FUSED\n"
            "S1 power: ON N to B-   # <-\nBT1 90 V: + BBAT, - B-\n"
            "S2 changeover: LINE FUSED to SW, BATTERY BBAT to B+\n"
            "Z1 load 250 mA: SW to B-\nZ2 load 10 mA: B+ to B-\n",
            says="S1 (power) breaks the neutral lead",
        ),
    ),
    good=(
        _TOP + "P1 plug, polarized: hot LINE, neutral B-\nF1 1/2 A 250 V: LINE to FUSED\n"
        "S1 power: ON FUSED to SW\nZ1 load 250 mA: SW to B-\n",
        _TOP + "P1 plug, polarized: hot LINE, neutral N\nF1 1/2 A 250 V: LINE to FUSED\n"
        "S1 power, DPST: ON FUSED to SW, ON N to B-\nZ1 load 250 mA: SW to B-\n",
        # Off, and two wave bands.
        _TOP + "P1 plug, polarized: hot LINE, neutral N\nF1 1/2 A 250 V: LINE to FUSED\n"
        "S1A wafer: OFF open, MW FUSED to SW, SW FUSED to SW\nS2 interlock: ON N to B-\n"
        "S1B wafer: OFF open, MW X1 to X2, SW X1 to X3\n"
        "Z1 load 250 mA: SW to B-\nR1 1K 1/2 W: X1 to SW\nR2 1K 1/2 W: X2 to X3\n",
        _TOP + "P1 plug, not polarized: 1 LA, 2 LB\nF1 1/2 A 250 V: LA to FUSED\n"
        "S1 power: ON LB to SW\nT1 power, primary 117 V, high 300 V:\n"
        "   primary FUSED to SW, high HA to CHASSIS\nZ1 load 60 mA: HA to CHASSIS\n",
    ),
)
@on_line
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each switch that opens only the lead that should go straight through."""
    wiring = case.circuit.wiring
    cold = sorted(straight_poles(wiring))
    breaking = {ref: pole for pole in cold for ref in switches(case, wiring.lead(pole).cuts)}
    others = [lead for pole, lead in wiring.leads.items() if pole not in cold]
    if any(breaking_switches(case, lead.cuts) for lead in others):
        return
    # What also opens the other lead leaves nothing joined.
    also = {part.body_ref for lead in others for part in parts_of(case, lead.cuts)}
    both = (part.ref for part in case.chassis.of_kind("switch") if part.body_ref in also)
    breaking = {ref: pole for ref, pole in breaking.items() if ref not in set(both)}
    if breaking and is_unread(wiring, [lead.pole for lead in others]):
        yield case.not_checked("parts of the hot lead could not be read", breaking)
        return
    for ref, pole in breaking.items():
        yield _finding(case, ref, pole, sorted(lead.pole for lead in others))


def _finding(case: Case, ref: str, pole: str, hot: list[str]) -> Finding:
    wiring = case.circuit.wiring
    contact = next(e for e in wiring.lead(pole).cuts if e.ref == ref)
    (part,) = parts_of(case, [contact])
    lead = wiring.lead(pole)
    inner = next((net for net in contact.nets if net in (lead.end, wiring.common)), contact.b)
    path = _way(wiring, ref, inner, hot)
    through = listed(dict.fromkeys(e.ref for e in reversed(path)))
    side = "neutral" if pole not in wiring.hot else wiring.common or "B-"
    stays = f"{inner} stays joined to {' or '.join(hot)} through {through}"
    if not path:
        stays = f"the set stays on {' or '.join(hot)}"
    related = [pin for net in (pole, *hot) if (pin := plug_pin(case, net)) is not None]
    kept = case.option("switch") == "as-built"
    metal = sorted(wiring.bare & wiring.line_side) if kept else []
    if kept:
        why = f"{listed(metal)} with it, so it cannot stay" if metal else "kept as built, by policy"
        stays += f" ({why})"
    move = (
        f"let {pole} go straight to {inner} and put {ref} in the hot lead {' or '.join(hot)},"
        " behind the fuse"
    )
    pull = f"pull the plug, and do not trust the switch, before a hand goes near {inner}"
    return case.finding(
        f"{named(part)} breaks the {side} lead: when it is off, {stays}",
        part.ref_span or part.span,
        harm=Harm.RECORD if kept and not metal else None,
        parts=(ref,),
        nodes=(*contact.nets, *hot),
        state=f"{ref} off",
        related=related,
        calc=_calculation(case, inner, any(e.kind is Kind.HEATER for e in path)) if path else (),
        action=pull if kept and not metal else move,
    )


def _way(wiring: Wiring, switch: str, net: str, hot: list[str]) -> tuple[Element, ...]:
    """How a net stays joined to the hot pins with the switch off: by conductors, else a diode."""
    ohmic = wiring.dc_path(net, hot)
    if ohmic is not None:
        return ohmic
    at = adjacency(e for e in wiring.elements if e.ref != switch)
    reached = walk(at, [net], _ohm, until=hot)
    goal = next((each for each in reached if each in hot), None)
    return () if goal is None else tuple(reversed(reached.chain(goal)))


def _ohm(element: Element) -> float | None:
    if element.kind not in GALVANIC:
        return None
    return _COLD_TUBE_OHM if element.kind is Kind.STREAM else element.ohm or 0.0


def _calculation(case: Case, net: str, heaters: bool) -> tuple[Calculation, ...]:
    if is_line_fed(case.circuit.wiring):
        less = " (the cold heaters, about 100 ohm, take little off it)" if heaters else ""
        return touch_calculation(case, f"through a hand on {net} with the switch off{less}")
    line = line_of(case)
    if line is None:
        return ()
    said = f"the whole line, {amount(line.volts, 'V')}, stays on the primary"
    return (Calculation("volts left with the switch off", line.volts, "V", None, said),)
