"""An AVC line or its diode returns wrongly, or nowhere.

Why: The line for automatic volume control carries the bias of the tubes on it: at rest they have
what its return has. Returned to the chassis in a set that makes bias in its negative lead, or to a
net above their cathodes, they run without bias: hot, deaf and distorted. A diode without a return
charges itself shut, and the set falls silent.
False alarm: A maker who ran them at zero on purpose (contact potential biases them): accept it. A
grid that has no way at all to a return is told by `grid-return`.
Source: AVC returned to chassis in place of the bias tap: common practice, no source; published
bias: tube data; a third of it as too little: common practice, no source; volts: solved.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from netcheck.circuit.wiring import Electrode, Kind
from netcheck.findings import Calculation, Finding, Harm, NotChecked, NotSolved, Related
from netcheck.parts import Part
from netcheck.rules._avc import AvcLine, avc_lines
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._operating import NOMINAL, Stream, streams, tried
from netcheck.rules._reach import electrode_words, grouped, is_lone, lacking, place_of, reached
from netcheck.rules._words import amount, listed, named

# A grid this far above its cathode draws current (contact potential is near half a volt).
_POSITIVE_V = 0.3

_SET = """line none
hold B+ 250 V
hold BIAS -3 V
hold SCREEN 100 V
R10 100K 1/2 W, new: BIAS to CHASSIS
V2 6K7: plate T3.plate, screen SCREEN, suppressor CHASSIS, grid T2.grid, cathode CHASSIS,
   shell CHASSIS, heater H1 to CHASSIS
T2 IF, 456 kc, primary 25 ohm, secondary 25 ohm: primary X to Y, secondary T2.grid to AVC
T3 IF, 456 kc, primary 25 ohm, secondary 25 ohm: primary T3.plate to B+, secondary DIODE to IFLOW
R9 500K 1/2 W, new: {load}
V3 6H6: plate1 DIODE, plate2 AVCDIODE, cathode1 CHASSIS, cathode2 CHASSIS, shell CHASSIS,
   heater H1 to CHASSIS
C13 50 mmf 500 V mica: T3.plate to AVCDIODE
R11 1 meg 1/2 W, new: AVCDIODE to AVC
C14 .1 mfd 400 V film, new: AVC to CHASSIS
R8 1 meg 1/2 W, new: AVCDIODE to {to}{mark}
"""
_LOAD = "IFLOW to CHASSIS"


@rule(
    harm=Harm.DAMAGE,
    bad=(
        Example(_SET.format(load=_LOAD, to="CHASSIS", mark="   # <-"), "rests at"),
        Example(
            _SET.format(load="OTHER to CHASSIS", to="BIAS", mark="").replace(
                "V3 6H6: plate1 DIODE,", "V3 6H6: plate1 DIODE,   # <-\n  "
            ),
            "has no DC path",
        ),
    ),
    good=(
        _SET.format(load=_LOAD, to="BIAS", mark=""),
        _SET.format(load=_LOAD, to="CHASSIS", mark="").replace("hold BIAS -3 V\n", "").replace(
            "cathode CHASSIS,\n   shell", "cathode K2,\n   shell"
        ) + "R2 300 ohm 1/2 W: K2 to CHASSIS\n",
    ),
)  # fmt: skip
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each diode without a return, and for each AVC line that rests wrong."""
    yield from _diodes(case)
    lines = [line for line in avc_lines(case) if line.grids]
    if not lines:
        return
    (point,) = tried(case, [NOMINAL])
    if isinstance(point, NotSolved):
        refs = [part.ref for line in lines for part in line.bypasses]
        yield case.not_checked(f"where the AVC line rests: {point.reason}", refs)
        return
    running = list(streams(case, point))
    for line in lines:
        resting = [
            rest for grid in line.grids for stream in running
            if (rest := _resting(grid, stream)) is not None
        ]  # fmt: skip
        wrong = [rest for rest in resting if rest.volts > _POSITIVE_V or _unbiased(case, rest)]
        if wrong:
            yield _finding(case, line, wrong)


def _diodes(case: Case) -> Iterator[Finding | NotChecked]:
    """Plates of signal diodes without a DC path to a return (their grids' lines are told)."""
    wiring = case.circuit.wiring
    if not wiring.returns:
        return
    found = []
    grids = {e.net for e in wiring.electrodes if e.duty == "grid"}
    for diode in wiring.electrodes:
        if diode.duty != "diode" or diode.section_kind != "diode" or is_lone(case, diode.net):
            continue
        if wiring.return_path(diode.net) is not None or diode.net in wiring.positive:
            continue
        nets = reached(case, diode.net)
        own = {e.net for e in wiring.electrodes if e.ref == diode.ref and e.duty == "cathode"}
        if not nets & (own | grids | wiring.returns):
            found.append((nets, diode))
    for nets, alike in grouped(found).items():
        wound = any(e.kind is Kind.WINDING for e in wiring.at(alike[0].net))
        place = f"{alike[0].net}'s winding" if wound else alike[0].net
        action = f"fit the load resistor from {place} to where the drawing has it"
        yield lacking(case, nets, alike, "no DC path to its cathode", action,
                      harm=Harm.PERFORMANCE)  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Rest:
    """A controlled grid at rest: volts to its cathode, and the published bias if one is known."""

    grid: Electrode
    stream: Stream
    volts: float
    published_v: float | None


def _resting(grid: Electrode, stream: Stream) -> _Rest | None:
    if stream.part.ref != grid.ref or grid.name not in stream.section.controls:
        return None
    found = stream.tube.electrode(grid.name)
    if found is None:
        return None
    return _Rest(grid, stream, found.volts - stream.cathode_v, _published_v(stream, grid.name))


def _published_v(stream: Stream, grid: str) -> float | None:
    """The grid's volts at the published point nearest in plate and screen volts."""
    tube, section = stream.part.tube, stream.section

    def apart(volts: Mapping[str, float]) -> float:
        screen = volts.get(section.screen or "", stream.screen_v or 0.0)
        away = abs(screen - (stream.screen_v or 0.0))
        return away + abs(volts.get(section.plate, stream.plate_v) - stream.plate_v)

    points = [
        p for p in (tube.points if tube is not None else ())
        if p.section == section.name and grid in p.volts
    ]  # fmt: skip
    nearest = min(points, key=lambda p: apart(p.volts), default=None)
    return None if nearest is None else nearest.volts[grid]


def _unbiased(case: Case, rest: _Rest) -> bool:
    """Whether a tube is left without bias in a set that makes one for it."""
    makes = bool(case.circuit.wiring.supply.back_bias) or any(
        hold.value.known and hold.value.si < 0 for hold in case.chassis.holds
    )
    tube, usual = rest.stream.part.tube, rest.published_v
    # An eye and an audio stage on the detector's line rest near zero by design.
    controlled = tube is not None and ("remote" in tube.kind or "converter" in tube.kind)
    return makes and controlled and usual is not None and usual <= -1.0 and rest.volts > usual / 3


def _finding(case: Case, line: AvcLine, wrong: list[_Rest]) -> Finding:
    first = wrong[0]
    at, end = _returned_by(case, line)
    over = any(_over(rest) for rest in wrong)
    above = first.volts > _POSITIVE_V
    usual = f"; published: {amount(first.published_v, 'V')}" if first.published_v else ""
    rests = f"{amount(first.volts, 'V')}{', above its cathode' if above else ''}{usual}"
    return case.finding(
        f"{named(at)} returns the AVC of {listed(r.grid.ref for r in wrong)} to {end}: "
        f"{electrode_words(case, first.grid)} rests at {rests}",
        at.ref_span or at.span,
        harm=Harm.DAMAGE if over else Harm.PERFORMANCE,
        parts=(at.ref, *dict.fromkeys(r.grid.ref for r in wrong)),
        nodes=(line.net, end),
        related=[Related(place_of(case, r.grid), electrode_words(case, r.grid)) for r in wrong],
        state=NOMINAL.name,
        calc=[
            calculation for rest in wrong for calculation in _calculations(rest)
        ],
        action=f"return {at.ref} to the bias tap or cathode that the drawing shows, and measure "
        f"{line.net} with no station",
    )  # fmt: skip


def _returned_by(case: Case, line: AvcLine) -> tuple[Part, str]:
    """The last resistor on the way to the return, and where it ends.

    A cathode on the way ends it: what lies below that is the bias of a tube, and not of the line.
    """
    wiring, net, last = case.circuit.wiring, line.net, None
    for element in line.way:
        net = element.other(net)
        if element.kind is Kind.RESISTOR:
            last = case.chassis.part(element.ref)
        if any(electrode.duty == "cathode" for electrode in wiring.electrodes_on(net)):
            break
    return last or line.bypasses[0], net


def _over(rest: _Rest) -> bool:
    tube = rest.stream.part.tube
    limit = tube.limits.get("plate-w") if tube is not None else None
    return limit is not None and rest.stream.plate_w > limit


def _calculations(rest: _Rest) -> Iterator[Calculation]:
    ref, tube = rest.grid.ref, rest.stream.part.tube
    limit = tube.limits.get("plate-w") if tube is not None else None
    yield Calculation(f"{rest.grid.name} of {ref} to its cathode", rest.volts, "V",
                      rest.published_v, "solved, no station")  # fmt: skip
    yield Calculation(f"plate dissipation of {ref}", rest.stream.plate_w, "W", limit, "solved")
