"""What to fit in a part's place: value, rating, kind and class, with the reason for each.

Belongs here: one part to one proposal. Does not belong here: which parts are changed (recap.py),
how much of what to order (ordering.py).

Values are those of IEC 60063 (catalog/preferred). A rating is the next standard one that is not
below the original, nor below a tenth over what lasts with the line high, nor below what passes:
warm-up without load, plugs out (common practice, no source). At the plate of an output tube the
signal swings to about twice the supply (common practice, no source). An electrolytic may be -20 %
to +100 % of the old one (jbcapacitors.hk post 139) or less by policy, the first one no larger than
its rectifier tube is published for or than the maker made it (nostalgiaair.org t2246). A resistor
gets twice the watts it turns into heat (common practice, no source), in place of a field what the
policy asks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from netcheck.bench.workup import Workup
from netcheck.catalog.preferred import nearest_preferred, next_rating, ratings, series
from netcheck.circuit.wiring import Role
from netcheck.parts import Description, Part
from netcheck.rules._barrier import barriers
from netcheck.rules._capacitors import dielectric_of
from netcheck.rules._fields import field_swaps, watts_asked
from netcheck.rules._operating import output_nets
from netcheck.rules._reservoir import reservoir_limit
from netcheck.rules._touch_fit import fitting_part
from netcheck.rules._words import amount
from netcheck.rules._worst_volts import LASTING_MARGIN

__all__ = ["ELECTROLYTIC", "Fit", "fit_capacitor", "fit_resistor"]

ELECTROLYTIC = "electrolytic"

_SWING = 2.0  # of the supply, at the plate of an output tube
_CLOSE = 1.02  # a value counts as one of a series when it is within so much of it
_BUFFER_V = 1600.0  # what a vibrator's buffer is rated for at least (common practice, no source)
_MADE = 1.1  # of its mark an old electrolytic had at least as often as not (from memory)
_LARGE_F = 1e-6
_WATTS = 2.0

_ACROSS = (Role.ACROSS_LINE, Role.ACROSS_SWITCH)


@dataclass(frozen=True, slots=True)
class Fit:
    """A part to buy: `kind` in words, SI `value` in `unit`, `rating` in `rating_unit`.

    `mark` is a safety class; `count` parts in series make it up where one of that rating is not
    made. `reasons` tell where value and rating come from; `note` what to mind.
    """

    kind: str
    value: float | None
    unit: str
    rating: float | None
    rating_unit: str
    reasons: tuple[str, ...]
    mark: str = ""
    count: int = 1
    note: str = ""

    @property
    def text(self) -> str:
        """The part as an order says it: `0.047 mfd 630 V film`."""
        said = [amount(self.value, self.unit)] if self.value is not None else ["same value"]
        if self.rating is not None:
            said.append(amount(self.rating, self.rating_unit.split()[0]))
            said += self.rating_unit.split()[1:2] if self.rating_unit == "V AC" else []
        if self.mark:
            said.append(f"class {self.mark}")
        return " ".join([*said, self.kind])


def fit_capacitor(work: Workup, part: Part, duty: str = "") -> Fit | None:
    """The capacitor to fit, None for a kind that is not bought by its value (gang, trimmer).

    `duty` is one of catalog.safety where a finding tells it; else it follows from the place.
    """
    case, role = work.case(), work.circuit.wiring.role_of(part.ref)
    before = _before(part)
    farad = before.number("capacitance") or part.description.number("capacitance")
    duty = duty or next((b.duty for b in barriers(case) if part in b.capacitors), "")
    if not duty and role is Role.ANTENNA_ISOLATION and _live(work):
        duty = "antenna"  # a switch may part it from the line now, and join it when turned
    if role in _ACROSS:
        duty = "across-line"
    kind = _kind(work, part, farad)
    if duty and kind != ELECTROLYTIC:  # a filter capacitor on metal only has its minus astray
        safe = fitting_part(case, part, duty, farad)
        reasons = [
            f"between {_place(work, part)}: only a safety class is made to fail without"
            f" {'fire' if duty == 'across-line' else 'joining them'}"
        ]
        if farad and safe.farad is not None and safe.farad < 0.8 * farad:
            reasons.append(
                f"smaller than the {amount(farad, 'F')} before, so that a hand gets no more than"
                " the touch limit from all that bridges to the metal"
            )
        return Fit(
            "safety capacitor", safe.farad, "F", safe.volts, "V AC", tuple(reasons), safe.mark,
            note=safe.else_,
        )  # fmt: skip
    if kind is None:
        return None
    value, why = _capacitance(work, part, farad, kind, role)
    return _rated(work, part, Fit(kind, value, "F", None, "V DC", why), before, role)


def _before(part: Part) -> Description:
    """What its maker put there: the part it replaces where the text tells, else itself."""
    return part.replaces if part.replaces is not None else part.description


def _live(work: Workup) -> bool:
    """Whether the common wire or the chassis is joined to the line, no transformer between."""
    wiring = work.circuit.wiring
    return bool({wiring.common, work.chassis.net("CHASSIS")} & set(wiring.line_side))


def _place(work: Workup, part: Part) -> str:
    return " and ".join(part.nodes[:2]) or "line and metal"


def _kind(work: Workup, part: Part, farad: float | None) -> str | None:
    made_of = dielectric_of(part)
    name = made_of.name if made_of is not None else ""
    if name == "air" or part.description.has("trimmer", "padder", "variable", "gang"):
        return None
    if name in ("mica", "silver-mica"):
        return "silver mica capacitor"
    if name == "ceramic":
        return "ceramic capacitor"
    polarized = made_of is not None and made_of.polarized
    ends_named = any(t.name == "+" for t in part.terminals)
    if polarized or (not name and (ends_named or (farad or 0.0) >= _LARGE_F)):
        return ELECTROLYTIC
    return "film capacitor"


def _capacitance(
    work: Workup, part: Part, farad: float | None, kind: str, role: Role
) -> tuple[float | None, tuple[str, ...]]:
    if not farad:
        return None, ("its value is not in the text: read it on the part or the drawing",)
    was = amount(farad, "F")
    if kind == "silver mica capacitor" or role in (Role.TUNED, Role.BUFFER):
        return farad, (f"{was} as it was: match it by measurement",)
    if kind != ELECTROLYTIC:
        fine = nearest_preferred(farad * 1e12, "E12") * 1e-12
        if not 1 / _CLOSE <= fine / farad <= _CLOSE:
            fine = nearest_preferred(farad * 1e12, "E6") * 1e-12
        return fine, (f"{was} to the nearest standard value",)
    if role is Role.RESERVOIR:
        return _reservoir(work, part, farad)
    return _standard(work, farad)


def _standard(work: Workup, farad: float) -> tuple[float, tuple[str, ...]]:
    """The standard value of an electrolytic, and where it comes from."""
    most = _most_of_old(work)
    value, was = _upward(farad, farad * most), amount(farad, "F")
    beside = f"below: by policy at most +{most - 1:.0%}" if value < 0.94 * farad else "or above"
    said = "as before" if value == farad else f"{was} to the standard value next to it {beside}"
    return value, (f"{was} {said}" if value == farad else said,)


def _most_of_old(work: Workup) -> float:
    """How many times the old one an electrolytic may be, by the policy in force."""
    return 1 + float(work.case("replacement-rating").option("electrolytics")) / 100


def _upward(farad: float, most: float = float("inf")) -> float:
    """The smallest value of E6 not below the old one (6 % less counts as equal), within `most`."""
    decade = [10.0**power for power in range(-12, 0)]
    values = [float(f"{d * step:.3g}") for d in decade for step in series("E6")]
    fitting = [v for v in values if farad * 0.94 <= v <= most * 1.0001]
    return fitting[0] if fitting else max(v for v in values if v <= max(most, values[0]))


def _reservoir(work: Workup, part: Part, farad: float) -> tuple[float, tuple[str, ...]]:
    """The first filter capacitor: what stands beside it at the same place counts too."""
    wiring = work.circuit.wiring
    nets = frozenset(wiring.of(part.ref)[0].nets)
    beside = [
        p for p in work.chassis.of_kind("capacitor")
        if wiring.of(p.ref) and frozenset(wiring.of(p.ref)[0].nets) == nets
    ]  # fmt: skip
    whole = sum(_before(p).number("capacitance") or 0.0 for p in beside if not _added(p, beside))
    limit = reservoir_limit(work.case(), nets)
    if limit is None:
        return _standard(work, farad)
    most = max(limit.farad, whole * _MADE)
    most = min(most, whole * _most_of_old(work)) if whole else most
    share = farad * most / whole if whole else most
    value = _upward(farad, share)
    return value, (
        f"{amount(farad, 'F')} before; {limit.tube.ref} ({limit.tube.tube_name}) is published for"
        f" {amount(limit.farad, 'F')} at most"
        + (f", {amount(whole, 'F')} as built" if whole > limit.farad else "")
        + f" ({limit.source})",
    )


def _added(part: Part, beside: Sequence[Part]) -> bool:
    """Whether a part was put beside an original one without replacing anything."""
    originals = any(p.condition.value == "original" for p in beside if p is not part)
    return originals and part.replaces is None and part.condition.value != "original"


def _rated(work: Workup, part: Part, fit: Fit, before: Description, role: Role) -> Fit:
    """The fit with its volts, or with the reason why none can be named."""
    old = max(
        (v for v in (before.number("voltage"), part.description.number("voltage")) if v),
        default=None,
    )
    if before.number("voltage") is not None:
        old = before.number("voltage")
    reasons, least = list(fit.reasons), old or 0.0
    if old:
        reasons.append(f"{amount(old, 'V')} before")
    seen = _seen(work, part)
    least = max(least, *(volts for volts, _ in seen)) if seen else least
    reasons += [said for _, said in seen] or ["the volts it will see are not solved"]
    if role is Role.BUFFER:
        least = max(least, _BUFFER_V)
    if not least:
        return replace(fit, reasons=tuple(reasons), note="volts not known: measure or find them")
    standard = "electrolytic-dc" if fit.kind == ELECTROLYTIC else "film-dc"
    return _made(replace(fit, reasons=tuple(reasons)), least, standard)


def _seen(work: Workup, part: Part) -> list[tuple[float, str]]:
    """Volts to be rated for by what lasts and, where it asks for more, by what passes."""
    at_plate = _at_output_plate(work, part)
    swing, also = (_SWING, ", twice that with the signal") if at_plate else (1.0, "")
    lasting = work.worst_volts(part, short=False)
    passing = work.worst_volts(part, short=True)
    found = []
    if lasting is not None:
        said = f"sees {amount(lasting.volts, 'V')} {lasting.said}{also}"
        found.append((lasting.volts * swing * LASTING_MARGIN, said))
    if passing is not None and (lasting is None or passing.volts > lasting.volts):
        found.append((passing.volts, f"sees {amount(passing.volts, 'V')} {passing.said}"))
    return found


def _made(fit: Fit, least: float, standard: str) -> Fit:
    """One part of the next standard rating, or several in series where none is made."""
    rating = next_rating(least, standard)
    if rating is not None:
        return replace(fit, rating=rating)
    count = next(n for n in range(2, 99) if least / n <= max(ratings(standard)))
    rating = next_rating(least / count, standard)
    value = fit.value * count if fit.value is not None else None
    if value is not None and fit.kind == ELECTROLYTIC:
        value = _upward(value, value)  # downwards: a reservoir must not grow
    return replace(
        fit, rating=rating, count=count, value=value,
        note=f"{count} in series, a resistor of 220K beside each; none is made for"
        f" {amount(least, 'V')}",
    )  # fmt: skip


def _at_output_plate(work: Workup, part: Part) -> bool:
    plates = output_nets(work.case(), "plate")
    return any(
        net in plates for element in work.circuit.wiring.of(part.ref) for net in element.nets
    )


def fit_resistor(work: Workup, part: Part) -> Fit | None:
    """The resistor to fit; None for one that is not bought by its ohms (a control, a cord)."""
    before = _before(part)
    value = before.values.get("resistance") or part.description.values.get("resistance")
    if part.description.has("control", "rheostat", "cord") or (value and len(value.amounts) > 1):
        return None
    old_w = before.number("power") or part.description.number("power")
    reasons, ohm, least = [], None, old_w or 0.0
    if value is not None and value.known:
        ohm = value.si
        nearest = nearest_preferred(ohm, "E24")
        if abs(nearest / ohm - 1) > _CLOSE - 1:
            reasons.append(f"{amount(ohm, 'ohm')} to the nearest standard value")
        ohm = nearest
    else:
        reasons.append("its value is not in the text: read it on the drawing")
    if old_w:
        reasons.append(f"{amount(old_w, 'W')} before")
    heat = work.worst_watts(part)
    if heat is not None:
        share = heat / least if least else 1.0
        hot = f"turns {amount(heat, 'W')} into heat" if share > 0.01 else "stays cold"
        reasons.append(f"{hot}, line high")
        stands_in = any(swap.part == part for swap in field_swaps(work.case()))
        least = max(least, watts_asked(work.case(), heat) if stands_in else _WATTS * heat)
    else:
        reasons.append("the watts it turns into heat are not solved")
    rating = next_rating(least, "resistor-w") if least else None
    note = "" if rating is not None else "watts not known: measure the volts across it first"
    kind = "wirewound resistor" if (rating or 0.0) > 3 else "resistor"
    return Fit(kind, ohm, "ohm", rating, "W", tuple(reasons), note=note)
