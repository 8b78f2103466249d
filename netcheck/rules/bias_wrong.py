"""An output tube is biased far from its published point.

Why: Too little bias and the tube draws far too much: its plate glows, its transformer and the
rectifier follow. A positive grid draws current itself and clips every peak. Too much bias and the
tube draws next to nothing: weak and rough sound.
False alarm: A stage that is run so on purpose (an economy battery set, push-pull near cut-off):
accept it with the published bias you went by. Volts are carried over by the three-halves law, so
a set on other volts than the published ones is judged as well.
Source: published operating points of the tube data (`netcheck tube TYPE` names each source);
three-halves law: Child 1911, Langmuir 1913; limits of 1.5 and 0.35 times the published current,
too little only below 0.35 of the plate watts: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.circuit.wiring import Element, Kind
from netcheck.findings import Calculation, Finding, Harm, NotChecked, Related
from netcheck.parts import Condition
from netcheck.rules._base import Case, Example, rule
from netcheck.rules._bias import Bias, wrongly_biased
from netcheck.rules._operating import NOMINAL, solved, streams
from netcheck.rules._words import amount, listed, named

_OUTPUT = """
line none
hold B+ 250 V
V4 6V6GT: plate T2.plate, screen B+, g1 DRIVE, cathode {cathode}, heater H1 to B-{mark}
R9 470K 1/2 W: DRIVE to {grid}
T2 output, 5000 ohm to 4 ohm, primary 300 ohm: primary B+ to T2.plate, secondary VC to VCR
LS1 4 ohm: VC to VCR
"""


@rule(
    harm=Harm.DAMAGE,
    bad=(
        Example(
            _OUTPUT.format(cathode="KOUT", grid="B-", mark="  # <-") + "R12 27 ohm 2 W: KOUT to B-",
            "V4 (6V6GT) draws",
        ),
        Example(_OUTPUT.format(cathode="B-", grid="B-", mark="  # <-"), "times the published"),
        Example(
            _OUTPUT.format(cathode="KOUT", grid="B-", mark="  # <-") + "R12 3.3K 2 W: KOUT to B-",
            "next to nothing",
        ),
    ),
    good=(
        _OUTPUT.format(cathode="KOUT", grid="B-", mark="") + "R12 250 ohm 2 W: KOUT to B-",
        _OUTPUT.format(cathode="B-", grid="BIAS", mark="") + "hold BIAS -12.5 V",
    ),
)
def check(case: Case) -> Iterator[Finding | NotChecked]:
    """Yield a finding for each output tube that draws far too much or little, or grid current."""
    point = solved(case)
    for bias in wrongly_biased(case, streams(case, point)):
        yield _finding(case, bias)


def _finding(case: Case, bias: Bias) -> Finding:
    stream = bias.stream
    part = stream.part
    return case.finding(
        _message(bias),
        part.span_of("type"),
        parts=(part.ref,),
        nodes=(stream.grid_net,),
        harm=_harm(bias),
        state=NOMINAL.name,
        related=list(_related(case, bias)),
        calc=list(_calculations(bias)),
        action=_action(case, bias),
    )


def _harm(bias: Bias) -> Harm:
    over = bias.over_watts
    if bias.hot or (bias.positive and over is not None and over > 1):
        return Harm.DAMAGE
    return Harm.PERFORMANCE


def _message(bias: Bias) -> str:
    stream = bias.stream
    grid = "no grid" if stream.grid_v is None else f"{amount(stream.grid_v, 'V')} on its grid"
    draws = f"{named(stream.part)} draws {amount(stream.cathode_a, 'A')} with {grid}"
    if bias.ratio is None or bias.expected_a is None or not (bias.hot or bias.starved):
        return f"{named(stream.part)} has {grid}, above its cathode"
    published = f"{bias.ratio:.2g} times the published {amount(bias.expected_a, 'A')}"
    return f"{draws}, {'next to nothing: ' if bias.starved else ''}{published}"


def _calculations(bias: Bias) -> Iterator[Calculation]:
    stream = bias.stream
    ref, point = stream.part.ref, bias.published
    if point is not None and bias.expected_a is not None:
        volts = ", ".join(f"{name} {amount(value, 'V')}" for name, value in point.volts.items())
        yield Calculation(
            f"cathode current of {ref}", stream.cathode_a * 1e3, "mA", bias.expected_a * 1e3,
            f"solved; published at {volts}, carried over by the three-halves law ({point.source})",
        )  # fmt: skip
    if stream.grid_v is not None:
        usual = bias.published_bias_v
        yield Calculation(f"bias of {ref}", stream.grid_v, "V", usual, "solved, grid to cathode")
    tube = stream.part.tube
    limit = tube.limits.get("plate-w") if tube is not None else None
    yield Calculation(
        f"plate dissipation of {ref}", stream.plate_w, "W", limit,
        f"{amount(stream.plate_v, 'V')} x {amount(stream.plate_a, 'A')} = "
        f"{amount(stream.plate_w, 'W')}",
    )  # fmt: skip


# --- where to look


def _cathode_path(case: Case, bias: Bias) -> tuple[Element, ...]:
    """The resistors between the cathode and the return."""
    wiring = case.circuit.wiring
    found = bias.stream.tube.electrode(bias.stream.section.cathode)
    path = wiring.dc_path(found.net, wiring.returns) if found is not None else None
    return tuple(e for e in path or () if e.kind is Kind.RESISTOR)


def _grid_path(case: Case, bias: Bias) -> tuple[Element, ...]:
    path = case.circuit.wiring.return_path(bias.stream.grid_net)
    return tuple(e for e in path or () if e.kind is Kind.RESISTOR)


def _related(case: Case, bias: Bias) -> Iterator[Related]:
    rows = [(e, "carries the cathode current") for e in _cathode_path(case, bias)]
    rows += [(e, "returns the grid") for e in _grid_path(case, bias)]
    for element, does in rows:
        part = case.chassis.part(element.ref)
        if part is not None:
            said = f"{named(part)}, {element.a} to {element.b}: {does}"
            yield Related(part.ref_span or part.span, said)


def _action(case: Case, bias: Bias) -> str:
    """What to look at, likeliest first, of what this set has."""
    ref = bias.stream.part.ref
    cathode = listed(e.ref for e in _cathode_path(case, bias))
    grid = listed(e.ref for e in _grid_path(case, bias))
    old = listed(
        c.ref
        for c in case.circuit.wiring.couplings
        if c.tube == ref and (p := case.chassis.part(c.ref)) and p.condition is Condition.ORIGINAL
    )
    looks = [f"the ohms of {cathode} and of what is across it"] if cathode else []
    if not cathode:
        looks.append("the bias supply: its node, its resistor and its filter capacitor")
    if grid:
        looks.append(f"that {grid} returns the grid to the right node")
    if old and not bias.starved:
        looks.append(f"{old} for a leak")
    return f"check {', '.join(looks)}; then the type in the socket of {ref}"
