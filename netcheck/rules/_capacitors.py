"""What a text says a capacitor is made of and how far it leaks, because several rules ask.

Belongs here: the dielectric behind the trade words, ohms from a leakage reading, and the limit it
is held against. Does not belong here: how dielectrics age (catalog/capacitors.py), or which part is
reported.
"""

from __future__ import annotations

from dataclasses import dataclass

from netcheck.catalog.capacitors import Dielectric, dielectric, leakage_limit_ma
from netcheck.chassis import Chassis, Reading
from netcheck.findings import Calculation
from netcheck.parts import Part
from netcheck.rules._words import amount

__all__ = [
    "Leak",
    "age_calculation",
    "dielectric_of",
    "dielectric_span_word",
    "insulates_as_new",
    "leak_of",
    "leakage_reading",
    "within_limit",
]

# The first word that stands in a description decides: what a case is called (moulded, disc)
# comes after what is in it, and a film part is named before the paper it may also hold.
_NAMES = (
    ("silver-mica", "silver-mica"), ("mica", "mica"), ("ceramic", "ceramic"),
    ("polypropylene", "polypropylene"), ("polystyrene", "polystyrene"),
    ("polyester", "polyester"), ("film", "film"), ("tantalum", "tantalum"),
    ("wet", "wet-electrolytic"), ("electrolytic", "electrolytic"), ("oil", "oil-paper"),
    ("bathtub", "oil-paper"), ("moulded", "moulded-paper"), ("wax", "wax-paper"),
    ("paper", "paper"), ("disc", "ceramic"), ("air", "air"), ("variable", "air"),
    ("gang", "air"), ("trimmer", "air"), ("padder", "air"),
)  # fmt: skip


def dielectric_of(part: Part) -> Dielectric | None:
    """Return what the capacitor is made of by the words of its text, None if they do not say."""
    word = dielectric_span_word(part)
    name = dict(_NAMES).get(word)
    if name is None:
        return None
    found = dielectric(name)
    if part.description.has("paper") and found is not None and "film" in found.ageing:
        return dielectric("paper-film")
    return found


def dielectric_span_word(part: Part) -> str:
    """Return the word that tells the dielectric, empty if there is none."""
    return next((word for word, _ in _NAMES if part.description.has(word)), "")


@dataclass(frozen=True, slots=True)
class Leak:
    """What a leakage reading says: insulation in ohms, leakage in amperes, and the sum in words."""

    ohm: float
    ampere: float
    sum: str


def leakage_reading(chassis: Chassis, ref: str) -> Reading | None:
    """Return the last leakage reading of a part, or None."""
    found = [r for r in chassis.readings if r.leakage and r.part == ref]
    return found[-1] if found else None


def leak_of(reading: Reading) -> Leak | None:
    """Return what a leakage reading means, None when it lacks the meter's ohms or its volts.

    Volts through a meter: R = Rm (V - Vm) / Vm, the capacitor in series with the meter across V
    (a divider; the method as in the amradio and antique-radio pages on the VTVM leakage test).
    """
    at_v = reading.at_v.si if reading.at_v is not None and reading.at_v.known else None
    if not reading.value.known or not at_v or at_v <= 0 or reading.value.si <= 0:
        return None
    value = reading.value.si
    volts = amount(at_v, "V")
    if reading.value.dimension == "resistance":
        return Leak(value, at_v / value, f"{amount(value, 'ohm')} as measured at {volts}")
    if reading.value.dimension == "current":
        said = f"{volts} / {amount(value, 'A')} = {amount(at_v / value, 'ohm')}"
        return Leak(at_v / value, value, said)
    if not reading.meter_ohm:
        return None
    across_v = max(at_v - value, 0.0)
    ohm = reading.meter_ohm * across_v / value
    said = (
        f"{amount(reading.meter_ohm, 'ohm')} x ({volts} - {amount(value, 'V')}) / "
        f"{amount(value, 'V')} = {amount(ohm, 'ohm')}"
    )
    return Leak(ohm, value / reading.meter_ohm, said)


def within_limit(chassis: Chassis, part: Part) -> bool:
    """Return whether an electrolytic's leakage was read and is within its limit (JAN-C-62)."""
    leak, limit = _leak(chassis, part), _limit_ma(part)
    return leak is not None and limit is not None and leak.ampere * 1e3 <= limit


def insulates_as_new(chassis: Chassis, part: Part) -> bool:
    """Return whether a part was measured at its printed volts and insulates as a new one does.

    A reading at fewer volts tells nothing: paper that is sound to an ohmmeter leaks at its volts.
    """
    reading, leak = leakage_reading(chassis, part.ref), _leak(chassis, part)
    kind, farad, rated_v = dielectric_of(part), part.value("capacitance"), part.value("voltage")
    if reading is None or leak is None or kind is None or farad is None or rated_v is None:
        return False
    floor_ohm = kind.insulation_floor_ohm(farad)
    at_v = reading.at_v.si if reading.at_v is not None else 0.0
    return floor_ohm is not None and at_v >= rated_v and leak.ohm >= floor_ohm


def _leak(chassis: Chassis, part: Part) -> Leak | None:
    reading = leakage_reading(chassis, part.ref)
    return leak_of(reading) if reading is not None else None


def _limit_ma(part: Part) -> float | None:
    farad, volts = part.value("capacitance"), part.value("voltage")
    if farad is None or volts is None:
        return None
    return leakage_limit_ma(farad * 1e6, volts)


def age_calculation(chassis: Chassis, part: Part) -> Calculation | None:
    """Return the number an old part has to meet: its leakage, or the insulation of paper."""
    kind, farad = dielectric_of(part), part.value("capacitance")
    if kind is None or farad is None:
        return None
    if not kind.polarized:
        ohm = kind.insulation_floor_ohm(farad)
        if ohm is None or not kind.floor_s:
            return None
        said = f"{kind.floor_s:g} s / {amount(farad, 'F')} = {amount(ohm, 'ohm')}"
        said = f"{said} ({kind.floor_source})"
        return Calculation(f"insulation of a new {part.ref}", ohm / 1e6, "Mohm", None, said)
    limit, leak = _limit_ma(part), _leak(chassis, part)
    if limit is None:
        return None
    said = f"k x C + 0.3 mA = {limit:.3g} mA for {amount(farad, 'F')} (JAN-C-62)"
    if leak is None:
        return Calculation(f"leakage {part.ref} may have", limit, "mA", None, said)
    return Calculation(f"leakage of {part.ref}", leak.ampere * 1e3, "mA", limit, said)
