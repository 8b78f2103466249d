"""Which law a rectifier part follows, because a set names types and not laws.

Belongs here: tube types (their fitted perveance), silicon, selenium and other dry rectifiers, and
what is taken where nothing is published. Does not belong here: the law itself (rectify_law), the
fit (tube_fit_rectifier), finding rectifiers in a set (source).
"""

from __future__ import annotations

import math

from netcheck.circuit.rectify_law import RectifierLaw
from netcheck.circuit.tube_fit import NoFit
from netcheck.circuit.tube_fit_store import fits_of
from netcheck.findings import Assumed
from netcheck.parts import Part, TubeType

__all__ = ["CONTACT_LAW", "diode_law", "tube_law"]

_SILICON = RectifierLaw(
    "silicon", threshold_v=0.7, ohm=0.2, basis="from memory: 0.7 V and 0.2 ohm, 1N4007 class"
)
CONTACT_LAW = RectifierLaw(
    "contacts", ohm=0.1, basis="common practice, no source: clean vibrator contacts"
)

# Selenium (from memory: stacks carry 26 V rms per plate; a plate drops about 1 V at the rated
# current when new, of which half a volt stays at the smallest current).
_PLATE_RMS_V, _PLATE_THRESHOLD_V, _PLATE_SLOPE_V = 26.0, 0.5, 0.5
_STACK_V, _STACK_A = 130.0, 0.075
_SELENIUM_BASIS = "from memory: about 1 V a plate at the rated current, a plate for each 26 V rms"

# Where a vacuum type has no published drop (from memory: the common types of its kind).
_TYPICAL_DIRECT = (60.0, 0.125, "a filament rectifier's 60 V at 125 mA")
_TYPICAL_INDIRECT = (20.0, 0.150, "an indirectly heated rectifier's 20 V at 150 mA")


def tube_law(part: Part, section: str) -> tuple[RectifierLaw, tuple[Assumed, ...]] | None:
    """The law of one section of a rectifier tube, and what was assumed; None for no known type."""
    tube = part.tube
    if tube is None:
        return None
    law = _fitted(tube, section)
    if law is not None:
        return law, ()
    volts, amperes, what = _TYPICAL_DIRECT if tube.heating == "direct" else _TYPICAL_INDIRECT
    basis = f"from memory: no drop of the {tube.name} is known; taken as {what}"
    law = RectifierLaw("vacuum", perveance=amperes / volts**1.5, basis=basis)
    return law, (Assumed(part.ref, f"plate volts at {amperes * 1e3:g} mA", volts, "V", basis),)


def _fitted(tube: TubeType, section: str) -> RectifierLaw | None:
    """The catalogue's fit. A gas type's constant drop is a contact potential below zero there."""
    try:
        fit = fits_of(tube).get(section)
    except NoFit:
        return None
    if fit is None or not fit.get("perveance", 0.0) > 0.0:
        return None
    threshold_v = max(-fit.get("contact-v", 0.0), 0.0)
    basis = tube.sources.get("drop-v") or tube.sources.get("limits") or "from memory"
    kind = "gas" if threshold_v > 0.0 else "vacuum"
    seen = "from memory" not in basis
    return RectifierLaw(kind, fit["perveance"], threshold_v, 0.0, basis, seen)


def diode_law(part: Part) -> tuple[RectifierLaw, tuple[Assumed, ...]]:
    """The law of a dry rectifier or silicon diode, and what was assumed.

    Of a bridge in one piece it is that of one of its four: its volts are those of the AC input,
    which one of them blocks, its amperes those of the output, of which each carries half.
    """
    if not part.description.has("selenium", "dry-disc"):
        said = part.description.has("silicon")
        basis = _SILICON.basis if said else f"{_SILICON.basis}; {part.ref} taken as silicon"
        return _SILICON, (Assumed(part.ref, "forward drop", _SILICON.threshold_v, "V", basis),)
    taken = []
    volts = part.value("voltage-ac") or part.value("voltage")
    amperes = part.value("current")
    if not volts:
        volts = _STACK_V
        taken.append(Assumed(part.ref, "rated volts", volts, "V", "from memory: a common stack"))
    if not amperes:
        amperes = _STACK_A
        taken.append(Assumed(part.ref, "rated current", amperes, "A", "from memory: common stack"))
    what = "drop at its rated current"
    if part.is_bridge:
        amperes, what = amperes / 2, "drop of each of its diodes at its rated output"
    plates = max(math.ceil(volts / _PLATE_RMS_V), 1)
    law = RectifierLaw(
        "selenium", threshold_v=plates * _PLATE_THRESHOLD_V,
        ohm=plates * _PLATE_SLOPE_V / amperes, basis=_SELENIUM_BASIS,
    )  # fmt: skip
    drop_v = law.drop_v(amperes)
    taken.append(Assumed(part.ref, what, drop_v, "V", _SELENIUM_BASIS))
    return law, tuple(taken)
