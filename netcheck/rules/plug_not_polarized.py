"""Plug that can put the hot line on B-.

Why: Half the time such a plug goes in the wrong way round: in a set without a transformer B- and
all that is joined to it is then the hot line, and fuse and switch are in the neutral lead.
False alarm: Some keep the plug as built where cabinet, back and knobs insulate all metal; and many
countries have no polarized sockets: then a tester on B- after each plugging in is the only answer.
They set `policy plug-not-polarized plug as-built`: it is then only put on record, unless touchable
metal is joined to the line side. With an isolating transformer it is on record in any case.
Source: wide blade neutral to B-, narrow blade through the switch: a US maker-specific radio forum,
threads 22888 and 181285; the case for leaving it: the same, thread 130301; 1500 ohm: leakage check
in service manuals (Panasonic TH-42PW5, safety page).
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.circuit.wiring import Wiring
from netcheck.findings import Finding, Harm, NotChecked, Related
from netcheck.parts import Part
from netcheck.rules._base import Case, Example, Option, rule
from netcheck.rules._line import (
    is_line_fed,
    is_reversed,
    line_fuses,
    on_line,
    parts_of,
    switches,
    touch_calculation,
    two_pole_switches,
)
from netcheck.rules._words import listed

_TOP = "line 117 V 60 Hz\n"


@rule(
    harm=Harm.SHOCK,
    options={
        "plug": Option(
            "polarized",
            ("polarized", "as-built"),
            "whether a plug that was not polarized is to be changed, or kept and put on record",
        )
    },
    bad=(
        Example(
            _TOP + "P1 plug, not polarized: 1 LA, 2 B-   # <-\nF1 1/2 A 250 V: LA to FUSED\n"
            "S1 power: ON FUSED to SW\nZ1 load 250 mA: SW to B-\n",
            says="either way round",
        ),
        Example(
            _TOP + "P1 plug, polarized: hot B-, neutral N   # <-\nF1 1/2 A 250 V: N to FUSED\n"
            "S1 power: ON FUSED to SW\nZ1 load 250 mA: SW to B-\n",
            says="puts the hot line on B-",
        ),
        Example(
            _TOP + "P1 plug, not polarized: 1 LA, 2 LB   # <-\nF1 1/2 A 250 V: LA to FUSED\n"
            "S1 power: ON FUSED to SW\nT1 power, primary 117 V, high 300 V:\n"
            "   primary SW to LB, high HA to CHASSIS\nZ1 load 60 mA: HA to CHASSIS\n",
            says="F1 and S1 are in the neutral lead one way round",
        ),
    ),
    good=(
        _TOP + "P1 plug, polarized: hot LINE, neutral B-\nF1 1/2 A 250 V: LINE to FUSED\n"
        "S1 power: ON FUSED to SW\nZ1 load 250 mA: SW to B-\n",
        _TOP + "P1 plug, earthed: hot LINE, neutral N, earth CHASSIS\n"
        "F1 1/2 A 250 V: LINE to FUSED\nS1 power: ON FUSED to SW\n"
        "T1 power, primary 117 V, high 300 V:\n"
        "   primary SW to N, high HA to CHASSIS\nZ1 load 60 mA: HA to CHASSIS\n",
    ),
)
@on_line
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each line plug that is not polarized, or is wired the wrong way round."""
    wiring = case.circuit.wiring
    for plug in wiring.poles.plugs:
        nets = {case.chassis.net(t.node) for t in plug.terminals if not t.unused}
        if nets & wiring.hot & wiring.neutral:
            yield _turnable(case, plug) if _is_known(wiring) else _unknown(case, plug)
        elif is_reversed(wiring):
            yield _reversed(case, plug)
        elif not plug.description.has("polarized", "earthed") and plug.terminal("earth") is None:
            yield case.not_checked(
                f"the text does not say whether {plug.ref} is polarized", (plug.ref,)
            )


def _is_known(wiring: Wiring) -> bool:
    """Whether the text tells that the set hangs on the line, or that a transformer isolates it."""
    if is_line_fed(wiring):
        return True
    whole = not any(wiring.incomplete(net) for net in wiring.line_side)
    return whole and bool(wiring.supply.power_refs)


def _unknown(case: Case, plug: Part) -> NotChecked:
    return case.not_checked(
        f"{plug.ref} is not polarized, and the text does not tell whether a transformer isolates"
        " the set",
        (plug.ref,),
    )


def _turnable(case: Case, plug: Part) -> Finding:
    wiring = case.circuit.wiring
    cuts = [element for lead in wiring.leads.values() for element in lead.cuts]
    one_pole = {e.ref for e in line_fuses(wiring)} | set(switches(case, cuts))
    one_pole -= two_pole_switches(case)
    single = [element for element in cuts if element.ref in one_pole]
    refs = [part.ref for part in parts_of(case, single)]
    are = "is" if len(refs) == 1 else "are"
    leads = f"; {listed(refs)} {are} in the neutral lead one way round" if refs else ""
    common = wiring.common or "B-"
    fed = is_line_fed(wiring)
    said = f": {common} can be the hot line" if fed else " (the transformer isolates the set)"
    kept = fed and case.option("plug") == "as-built"
    metal = sorted(wiring.bare & wiring.line_side) if kept else []
    if kept:
        why = f"{listed(metal)} with it, so it cannot stay" if metal else "kept as built, by policy"
        said += f" ({why})"
    return case.finding(
        f"{plug.ref} goes into the outlet either way round{said}{leads}",
        plug.span_of("not-polarized"),
        harm=None if fed and (metal or not kept) else Harm.RECORD,
        parts=(plug.ref,),
        nodes=sorted(wiring.hot),
        state="plug either way round",
        related=[
            Related(part.ref_span or part.span, "in the neutral lead one way round")
            for part in parts_of(case, single)
        ],
        calc=touch_calculation(case, f"through a hand on {common} one way round") if fed else (),
        action=_to_do(common, fed=fed, kept=kept and not metal),
    )


def _to_do(common: str, *, fed: bool, kept: bool) -> str:
    if not fed:
        return "note which way round it is plugged in"
    if kept:
        return (
            f"check after each plugging in, on and off, that {common} is not the hot line, and that"
            " no hand reaches a screw, a shaft or the back"
        )
    return (
        f"fit a polarized plug: wide blade (neutral) straight to {common}, narrow blade through"
        " fuse and switch; where sockets are not polarized, check after each plugging in, on and"
        f" off, that {common} is not the hot line"
    )


def _reversed(case: Case, plug: Part) -> Finding:
    wiring = case.circuit.wiring
    common = wiring.common or "B-"
    hot = plug.terminal("hot")
    return case.finding(
        f"the hot pin of {plug.ref} puts the hot line on {common}",
        hot.span if hot is not None else plug.span_of("polarized"),
        parts=(plug.ref,),
        nodes=(common, *sorted(wiring.hot)),
        calc=touch_calculation(case, f"through a hand on {common}"),
        action=f"change over the leads at {plug.ref}: neutral to {common}, hot to fuse and switch",
    )
