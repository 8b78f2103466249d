"""Screen volts far from what the type is published for.

Why: The screen sets the current of the tube. Far too many volts on it, because a dropper was left
out or a divider's leg is gone, over-run the tube and all that feeds it; with next to none the stage
is dead. A screen far above its own plate takes the current the plate should have.
False alarm: A tube run on purpose away from its published points, such as a starved pentode of a
high-gain stage. Volts above the published maximum are told by `tube-rating`, a resistor that
drifted by `resistor-drift`, a screen without any feed by `plate-supply`. A screen that is tied to
its own plate (a pentode connected as a triode) has the plate's volts by design.
Source: published points of the tube type, as `netcheck tube` cites them; half above the highest of
them, a tenth of the lowest: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from netcheck.circuit.wiring import Element, Kind
from netcheck.findings import Calculation, Finding, Harm, NotChecked, Related
from netcheck.parts import Part
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._operating import Stream, output_transformers, solved, streams
from netcheck.rules._words import amount, listed, named

_HIGH, _LOW, _ABOVE_PLATE, _ALIVE = 1.5, 0.1, 1.5, 0.2
# A stopper between screen and plate of a triode-connected tube (common practice: 100 to 1000 ohm).
_STOPPER_OHM = 1e3
# From here on `resistor-drift` tells of a resistor whatever its band.
_DRIFTED = 0.2

_STAGE = """hold B+ {volts}
V2 6SJ7: plate PLATE, screen SCREEN, g3 K2, grid IN,{mark}
   cathode K2, shell CHASSIS, heater H1 to CHASSIS
R1 470K 1/2 W, new: IN to CHASSIS
R2 1K 1/2 W: K2 to CHASSIS
R3 47K 1 W, new: B+ to PLATE
C1 .1 mfd 630 V film, new: SCREEN to CHASSIS
"""
_OUTPUT = """hold B+ 250 V
V4 6V6GT: plate PLATE, screen B+, g1 DRIVE, cathode KOUT, heater H1 to CHASSIS{mark}
R1 470K 1/2 W, new: DRIVE to CHASSIS
R2 250 ohm 2 W: KOUT to CHASSIS
T2 output, 5000 ohm to 3.2 ohm, primary {ohm} ohm: primary B+ to PLATE, secondary VC to VCR
LS1 3.2 ohm: VC to VCR
"""
_IF_STAGE = """hold B+ 200 V
V2 EF89: plate PLATE, screen {screen}, g3 K2, grid IN,{mark}
   cathode K2, heater H1 to CHASSIS
R1 470K 1/2 W, new: IN to CHASSIS
R2 160 ohm 1/2 W: K2 to CHASSIS
T1 IF, 468 kc, primary 8 ohm, secondary 8 ohm: primary B+ to PLATE, secondary X1 to X2
"""


@rule(
    harm=Harm.DAMAGE,
    bad=(
        Example(
            _STAGE.format(volts="250 V", mark="   # <-") + "R4 33 meg 1 W, new: B+ to SCREEN\n",
            "published at 100 V and more",
        ),
        Example(_OUTPUT.format(ohm=9000, mark="   # <-"), "above its own plate's"),
        Example(_IF_STAGE.format(screen="B+", mark="   # <-"), "without a dropper"),
    ),
    good=(
        _STAGE.format(volts="250 V", mark="") + "R4 220K 1/2 W, new: B+ to SCREEN\n",
        _OUTPUT.format(ohm=250, mark=""),
        _IF_STAGE.format(screen="SCREEN", mark="") + "R4 39K 1 W, new: B+ to SCREEN\n",
    ),
)
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each section whose screen is fed far too high or too low."""
    if not any(e.duty == "screen" for e in case.circuit.wiring.electrodes):
        return
    point = solved(case)
    unknown = []
    for stream in streams(case, point):
        if stream.section.screen is None or not _is_fed(case, stream):
            continue
        published = _published(stream)
        off = _off(case, stream, published)
        if off is not None:
            yield _finding(case, stream, off)
        elif not published:
            unknown.append(stream.part.ref)
    if unknown:
        yield case.not_checked(f"no screen volts are published for {listed(unknown)}", unknown)


@dataclass(frozen=True, slots=True)
class _Off:
    """What is wrong, in words after the volts; the limit it is compared with; what to do."""

    words: str
    limit: float
    sum: str
    harm: Harm
    action: str


def _net(stream: Stream) -> str:
    found = stream.tube.electrode(stream.section.screen or "")
    return "" if found is None else found.net


def _is_fed(case: Case, stream: Stream) -> bool:
    """Whether some supply reaches the screen (`plate-supply` tells of those without)."""
    return _net(stream) in case.circuit.wiring.b_plus


def _published(stream: Stream) -> tuple[float, ...]:
    """The screen volts of the type's points, rising."""
    tube, screen = stream.part.tube, stream.section.screen
    points = tube.points if tube is not None else ()
    return tuple(sorted(p.volts[screen] for p in points if screen and screen in p.volts))


def _off(case: Case, stream: Stream, published: tuple[float, ...]) -> _Off | None:
    volts, plate_v = stream.screen_v, stream.plate_v
    if volts is None or stream.part.tube is None:
        return None
    feed = _feed(case, stream)
    if _is_drifted(case, feed):
        return None
    limit = stream.part.tube.limits.get("screen-v")
    # Where the plate is dead too, the supply or the cathode is at fault, and told elsewhere.
    alive = bool(published) and plate_v > _ALIVE * published[0]
    if alive and -1.0 < volts < _LOW * published[0]:
        return _missing(case, stream, published, feed)
    over = limit is not None and volts > limit
    if published and volts > _HIGH * published[-1] and not over and not _is_triode(case, stream):
        return _too_high(stream, published, feed, limit)
    on_output = bool(output_transformers(case, stream.part.body_ref))
    if on_output and volts > _ABOVE_PLATE * max(plate_v, 0.0) and not _has_load(case, stream):
        return _Off(
            f"above its own plate's {amount(plate_v, 'V')}", plate_v * _ABOVE_PLATE,
            "1.5 times the plate's volts", Harm.DAMAGE,
            "measure the ohms of the output transformer's primary, and the volts at both its ends",
        )  # fmt: skip
    return None


def _has_load(case: Case, stream: Stream) -> bool:
    """Whether a resistor, not the transformer, feeds the plate: a resistance-coupled stage."""
    plate = stream.tube.electrode(stream.section.plate)
    if plate is None:
        return False
    feed = case.circuit.wiring.supply.feed_walk.chain(plate.net)
    return any(e.kind is Kind.RESISTOR for e in feed[:1])


def _is_triode(case: Case, stream: Stream) -> bool:
    """Whether the screen is tied to its own plate, by wire or through a stopper."""
    plate = stream.tube.electrode(stream.section.plate)
    net = _net(stream)
    if plate is None:
        return False
    stoppers = (e for e in case.circuit.wiring.at(net) if e.kind is Kind.RESISTOR)
    return plate.net == net or any(
        e.other(net) == plate.net and (e.ohm or 0.0) <= _STOPPER_OHM for e in stoppers
    )


def _feed(case: Case, stream: Stream) -> tuple[Element, ...]:
    """What feeds the screen from its supply, and what ties it down."""
    wiring, net = case.circuit.wiring, _net(stream)
    up = wiring.supply.feed_walk.chain(net)
    down = [
        e for e in wiring.at(net)
        if e.kind is Kind.RESISTOR and e not in up and e.other(net) in wiring.returns
    ]  # fmt: skip
    return (*up, *down)


def _resistors(case: Case, feed: tuple[Element, ...]) -> list[Part]:
    refs = dict.fromkeys(e.ref for e in feed if e.kind is Kind.RESISTOR)
    return [part for ref in refs if (part := case.chassis.part(ref)) is not None]


def _is_drifted(case: Case, feed: tuple[Element, ...]) -> bool:
    for part in _resistors(case, feed):
        was, now = part.description.number("resistance"), part.measured
        if was and now is not None and now.known and abs(now.si / was - 1) > _DRIFTED:
            return True
    return False


def _missing(
    case: Case, stream: Stream, published: tuple[float, ...], feed: tuple[Element, ...]
) -> _Off:
    refs = listed(part.ref for part in _resistors(case, feed))
    by = f", fed through {refs}" if refs else ""
    return _Off(
        f"though published at {amount(published[0], 'V')} and more{by}",
        published[0] * _LOW, "a tenth of the lowest published screen volts",
        Harm.PERFORMANCE,
        f"measure {refs or 'what feeds it'} and the ohms from the screen to B-",
    )  # fmt: skip


def _too_high(
    stream: Stream, published: tuple[float, ...], feed: tuple[Element, ...], limit: float | None
) -> _Off:
    droppers = [e.ref for e in feed if e.kind is Kind.RESISTOR]
    by = f"through {listed(droppers)}" if droppers else "without a dropper"
    return _Off(
        f"{by}; the highest published is {amount(published[-1], 'V')}",
        published[-1] * _HIGH, "1.5 times the highest published screen volts",
        Harm.PERFORMANCE if limit is not None else Harm.DAMAGE,
        f"compare what feeds the screen of {stream.part.ref} with the maker's drawing: the "
        "dropper's ohms, the divider's lower leg",
    )  # fmt: skip


def _finding(case: Case, stream: Stream, off: _Off) -> Finding:
    part = stream.part
    screen = part.terminal(stream.section.screen or "")
    volts = stream.screen_v or 0.0
    parts = _resistors(case, _feed(case, stream))
    return case.finding(
        f"the screen of {named(part)} is at {amount(volts, 'V')} {off.words}",
        screen.span if screen is not None else part.ref_span or part.span,
        harm=off.harm,
        parts=(part.ref,),
        nodes=(_net(stream),),
        related=[Related(p.span_of("resistance"), f"{named(p)} is in its feed") for p in parts],
        calc=(Calculation("screen to cathode", volts, "V", off.limit, off.sum),),
        action=off.action,
    )
