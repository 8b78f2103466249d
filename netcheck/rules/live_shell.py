"""Metal shell, can, frame or shaft on the line side.

Why: A metal tube, a shield can, the frame of a gang or speaker, a shaft, a lamp socket that hangs
on B- or the line carries the whole line when its pin is hot. Hands go there with the set running:
to change a tube, to trim, to turn a shaft whose knob is off.
False alarm: Metal that is covered for good, or insulated from where a hand comes (rubber grommets,
a plastic shaft, knob and grub screw covered): accept it and say how.
Source: hot metal of sets without a transformer: antiqueradio.org safety page,
vintageradioworld.co.uk safety page; knob grub screws waxed over: vintage-radio.net post 14207;
1500 ohm: leakage check in service manuals (Panasonic TH-42PW5, safety page).
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.circuit.wiring import BRIDGE_OHM
from netcheck.findings import Finding, Harm, NotChecked, Related
from netcheck.parts import Part, Terminal
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._line import (
    OUTSIDE_METAL,
    hot_when,
    metal_with,
    on_line,
    path_lines,
    state_of,
    touch_calculation,
)
from netcheck.rules._words import listed

# What each mechanical terminal is called in a sentence; by the part's kind where that differs.
_INSIDE = {
    ("tube", "shell"): "metal shell",
    ("transformer", "can"): "can",
    ("transformer", "core"): "core",
    ("coil", "can"): "can",
    ("coil", "core"): "core",
    ("vibrator", "can"): "can",
    ("capacitor", "body"): "body",
    ("resistor", "case"): "case",
    ("resistor", "body"): "body",
    ("lamp", "socket"): "socket",
    ("fuse", "holder"): "holder",
}
_LEADS = "F1 1/2 A 250 V slow: LINE to FUSED\nS1 power: ON FUSED to SW\nZ1 load 250 mA: SW to B-\n"
_TURNING = "line 117 V 60 Hz\nP1 plug, not polarized: 1 LINE, 2 B-\n" + _LEADS
_FIXED = "line 117 V 60 Hz\nP1 plug, polarized: hot LINE, neutral B-\n" + _LEADS


@rule(
    harm=Harm.SHOCK,
    bad=(
        Example(
            _TURNING + "V2 12SK7: cathode B-, shell B-   # <-\n",
            says="the metal shell of V2 is joined to the line",
        ),
        Example(
            _FIXED + "LS1 3.2 ohm: VC to VCR, frame B-   # <-\n",
            says="the frame of LS1 is joined to the line",
        ),
        Example(
            _TURNING + "C2 gang, air: body B-   # <-\nC2A 10-365 mmf air: TUNED to B-\n"
            "R6 control, 500K: DET to VOL to B-, shaft B-\n",
            says="the body of C2 and the shaft of R6 are joined to the line",
        ),
    ),
    good=(
        _FIXED + "V2 12SK7: cathode B-, shell CHASSIS\nLS1 3.2 ohm: VC to VCR, frame CHASSIS\n",
        "line none\nBT1 67.5 V B-battery: + B+, - B-\nC2 gang, air: body B-\n",
    ),
)
@on_line
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield one finding for each line-side net that metal of parts is on."""
    wiring = case.circuit.wiring
    # Metal that the text calls touchable, and all that a live chassis joins, is told there.
    touched = wiring.bare | {case.chassis.net("CHASSIS")}
    told = metal_with(wiring, *(touched & wiring.line_side))
    live = {n for n in wiring.line_side - told if (wiring.line_ohm(n) or 0.0) < BRIDGE_OHM}
    found: dict[str, list[tuple[Part, Terminal]]] = {}
    for part in case.chassis.parts:
        for terminal in part.terminals if part.fitted and not part.broken else ():
            net = case.chassis.net(terminal.node)
            known = (part.kind, terminal.name) in _INSIDE.keys() | OUTSIDE_METAL.keys()
            if known and not terminal.unused and net in live:
                found.setdefault(net, []).append((part, terminal))
    for net, metal in found.items():
        yield _finding(case, net, metal)


def _finding(case: Case, net: str, metal: list[tuple[Part, Terminal]]) -> Finding:
    path = case.circuit.wiring.line_path(net)
    words = {**_INSIDE, **OUTSIDE_METAL}
    said = [f"the {words[part.kind, t.name]} of {part.ref}" for part, t in metal]
    outside = any((part.kind, t.name) in OUTSIDE_METAL for part, t in metal)
    # What is inside the cabinet and on the neutral pin takes two mishaps to hurt.
    harm = Harm.SHOCK if outside or hot_when(case, net) else Harm.RECORD
    by = f" by {listed(e.ref for e in path)}" if path else f": {net} is a line pin"
    return case.finding(
        f"{listed(said)} {'is' if len(said) == 1 else 'are'} joined to the line{by}",
        metal[0][1].span,
        harm=harm,
        parts=[part.ref for part, _ in metal],
        nodes=(net,),
        state=state_of(case, net),
        related=[
            *(Related(t.span, f"{words[p.kind, t.name]} of {p.ref}") for p, t in metal[1:]),
            *path_lines(case, net, path),
        ],
        calc=touch_calculation(case, f"through a hand on {said[0]} when {net} is hot"),
        action=_to_do(case, net, metal, said),
    )


def _to_do(case: Case, net: str, metal: list[tuple[Part, Terminal]], said: list[str]) -> str:
    """To take it off the line side, but where a gang's own sections work from there."""
    cover = (
        "see that no hand comes to it: knobs on, grub screws covered, the back on; on the bench use"
        " an isolating transformer"
    )
    rotors = [part.ref for part, _ in metal if _has_section_on(case, part, net)]
    if not rotors:
        return f"join {listed(said)} to CHASSIS and not to {net}, or {cover}"
    others = [said[i] for i, (part, _) in enumerate(metal) if part.ref not in rotors]
    first = f"join {listed(others)} to CHASSIS and not to {net}; " if others else ""
    stays = f"{listed(rotors)} {'stays' if len(rotors) == 1 else 'stay'} on {net}, where"
    return f"{first}{stays} the sections work: {cover}"


def _has_section_on(case: Case, part: Part, net: str) -> bool:
    """Whether a gang's own sections are on the net: its frame is their rotor."""
    return part.kind == "capacitor" and any(
        each.body_ref == part.body_ref and each.ref != part.ref and each.fitted
        and net in {case.chassis.net(node) for node in each.nodes}
        for each in case.chassis.of_kind("capacitor")
    )  # fmt: skip
