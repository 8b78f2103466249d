"""Both ends of a part are on the same node.

Why: A part with both ends on one node does nothing. Most often one of the two names is a slip, and
    the node that was meant lacks the part: a grid without its leak, a supply without its filter.

False alarm: A part bridged out on purpose (a dropper section, an unused winding). Accept it:
    `accept shorted-part on R5: "bridged, set runs on 220 V"`.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.chassis import Chassis
from netcheck.findings import Finding, Harm
from netcheck.parts import Part, Path
from netcheck.rules._barrier import bridged_at_jacks
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._words import named

# Between neighbouring corners of a bridge stands one of its diodes.
_CORNERS = [(ac, pole) for ac in ("ac1", "ac2") for pole in ("+", "-")]
_WOUND = ("coil", "transformer")
_REST = "\nZ1 load 35 mA: B+ to B-"


@rule(
    harm=Harm.PERFORMANCE,
    bad=(
        Example("line none\nR1 470K 1/2 W 10%: B+ to B+  # <-" + _REST, says="both ends"),
        Example(
            "line none\nwire B- to CHASSIS\nC1 .1 mfd 400 V film: B- to CHASSIS  # <-" + _REST,
            says="joined by a `wire`",
        ),
        Example("line none\nV3 1S5: filament A+ to A+  # <-" + _REST, says="of its filament"),
    ),
    good=(
        Example("line none\nR1 470K 1/2 W 10%: B+ to B-" + _REST),
        Example("line none\nR1 control, 500K 1/2 W 20%: B+ to B- to B-" + _REST),
        # A tapped filament whose halves lie beside each other.
        "line none\nV4 3S4: plate B+, screen B+, grid B-, filament A+ to B- to A+\n"
        "BT1 1.5 V A-battery: + A+, - B-" + _REST,
    ),
)
def check(case: Case) -> Iterator[Finding]:
    """Report every path whose outer ends are one node."""
    chassis, told = case.chassis, bridged_at_jacks(case)
    for part in chassis.parts:
        if part.broken or part.misplaced or not part.fitted or part.ref in told:
            continue
        for what, first, last in _ends(chassis, part):
            if chassis.net(first) == chassis.net(last):
                yield _finding(case, chassis, part, what, first, last)


def _ends(chassis: Chassis, part: Part) -> Iterator[tuple[str, str, str]]:
    """Outer ends of every path, and plus and minus of a polarized part.

    A path whose tap is on another net is two halves beside each other; of a winding the halves
    work against each other, so that it is shorted all the same.
    """
    nodes = {terminal.name: terminal.node for terminal in part.terminals if not terminal.unused}
    for path in part.paths:
        first, *taps, last = path.terminals if len(path.terminals) > 1 else ("", "")
        tapped = any(
            chassis.net(nodes[tap]) != chassis.net(nodes[first])
            for tap in taps
            if {tap, first} <= nodes.keys()
        )
        if {first, last} <= nodes.keys() and not (tapped and part.kind not in _WOUND):
            yield _name(part, path), nodes[first], nodes[last]
    for first, last in (("+", "-"), ("anode", "cathode"), *_CORNERS):
        if {first, last} <= nodes.keys():
            yield "", nodes[first], nodes[last]


def _name(part: Part, path: Path) -> str:
    direct = part.tube is not None and part.tube.heating == "direct"
    if direct and path.name == "heater":
        return "filament"
    return path.name or (f"position {path.position}" if path.position else "")


def _finding(case: Case, chassis: Chassis, part: Part, what: str, first: str, last: str) -> Finding:
    of = f" of its {what}" if what else ""
    ends = "two of its corners" if part.is_bridge and not what else f"both ends{of}"
    through = "" if first == last else f" ({first} and {last} are joined by a `wire`)"
    return case.finding(
        f"{named(part)} has {ends} on {chassis.net(first)}{through}",
        part.span,
        parts=(part.ref,),
        nodes=(chassis.net(first),),
        action=f"compare the two ends of {part.ref} with the drawing",
    )
