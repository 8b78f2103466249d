"""Line cord of rubber or cloth, or a resistance cord.

Why: Old rubber hardens and cracks, under a cloth cover too, where it is not seen: bare wire then
touches the cabinet, the chassis or a hand. A resistance cord carries the heater dropper along its
length and runs hot over all of it; coiled, cut short or covered it starts a fire.
False alarm: A cord that was renewed in the old look: write `new` beside it. The resistance cord has
no such answer: nobody makes one with today's insulation.
Source: power cords lead the field ranking of failures (antiqueradio.org capacitor text, a copy);
resistance cord and its replacement by a resistor of two to three times the watts it must lose:
capeoldradio.com page on AC/DC radio resistors.
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.findings import Calculation, Finding, Harm, NotChecked
from netcheck.parts import Condition, Part
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._words import amount, named

_OLD = {"rubber-cord": "rubber", "cloth-cord": "cloth over rubber"}
_SAID = ("rubber-cord", "cloth-cord", "plastic-cord")


@rule(
    harm=Harm.SHOCK,
    bad=(
        Example(
            "P1 plug, polarized, rubber cord: hot LINE, neutral B-   # <-\n",
            "P1 has its original cord of rubber",
        ),
        Example(
            "P1 plug, not polarized, cloth cord: 1 LINE, 2 B-   # <-\n",
            "cloth over rubber",
        ),
        Example(
            """
line 117 V 60 Hz
P1 plug, polarized, plastic cord: hot LINE, neutral B-
R1 cord, 181 ohm: LINE to H1   # <-
V1 43: heater H1 to H2
V2 25Z5: heater H2 to B-
""",
            "R1 (cord, 181 ohm) is a resistance cord",
        ),
    ),
    good=(
        """
P1 plug, polarized, plastic cord: hot LINE, neutral B-
F1 1/2 A 250 V slow: LINE to FUSED
""",
        """
P1 plug, polarized, cloth cord, new: hot MAINS, neutral B-
F1 1/2 A 250 V slow: MAINS to LINE
R1 181 ohm 25 W wirewound, replaces cord 181 ohm: LINE to H1
""",
    ),
)
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each old line cord and each resistance cord."""
    plugs = {plug.ref for plug in case.circuit.wiring.poles.plugs}
    for part in case.chassis.of_kind("plug", "resistor"):
        if part.kind == "resistor":
            if part.description.has("cord"):
                yield _resistance_cord(case, part)
        elif part.ref in plugs and part.condition is Condition.ORIGINAL:
            yield from _line_cord(case, part)


def _line_cord(case: Case, plug: Part) -> Iterator[Finding | NotChecked]:
    word = next((word for word in _OLD if plug.description.has(word)), None)
    if word is not None:
        yield case.finding(
            f"{plug.ref} has its original cord of {_OLD[word]}",
            plug.span_of(word),
            parts=(plug.ref,),
            action="fit a new cord with a strain relief, its switched lead to the fuse",
        )
    elif not plug.description.has(*_SAID):
        yield case.not_checked(
            f"the text does not say what cord {plug.ref} has (rubber, cloth or plastic cord)",
            (plug.ref,),
        )


def _resistance_cord(case: Case, part: Part) -> Finding:
    value = part.description.values.get("resistance")
    ohm = value.total if value is not None and value.known else None
    ampere = _heater_a(case, part)
    calc = []
    if ohm is not None and ampere is not None:
        watt = ampere**2 * ohm
        calc.append(
            Calculation(
                "heat along the cord", watt, "W", None,
                f"({amount(ampere, 'A')})^2 x {amount(ohm, 'ohm')} = {watt:.3g} W",
            )
        )  # fmt: skip
        resistor = f"a {amount(ohm, 'ohm')} resistor of {2 * watt:.0f} W or more"
    else:
        same = amount(ohm, "ohm") if ohm else "the same ohms"
        resistor = f"a resistor of {same} and twice its watts"
    return case.finding(
        f"{named(part)} is a resistance cord: it runs hot over its whole length",
        part.span_of("cord"),
        parts=(part.ref,),
        calc=calc,
        action=f"fit {resistor} where it can cool, and a plain new cord; never shorten this one",
    )


def _heater_a(case: Case, part: Part) -> float | None:
    """The rated heater current of the tube that follows the cord, if one does."""
    for element in case.circuit.wiring.of(part.ref):
        for net in element.nets:
            for other in case.circuit.wiring.at(net):
                tube = case.chassis.part(other.ref)
                if other.kind.value == "heater" and tube is not None and tube.tube is not None:
                    return tube.tube.heater_a
    return None
