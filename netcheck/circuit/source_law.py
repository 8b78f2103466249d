"""The one law that rectifiers of a supply share, because its cycle is solved with one.

Belongs here: the law of several rectifiers, or why there is none. Does not belong here: the law of
one part (rectify_fit).
"""

from __future__ import annotations

from collections.abc import Sequence

from netcheck.circuit.elements import Element, Kind
from netcheck.circuit.rectify_fit import diode_law, tube_law
from netcheck.circuit.rectify_law import RectifierLaw
from netcheck.circuit.source_drive import Missing
from netcheck.circuit.wiring import Wiring
from netcheck.findings import Assumed

__all__ = ["shared_law"]


def shared_law(wiring: Wiring, arms: Sequence[Element]) -> tuple[RectifierLaw, list[Assumed]]:
    """The law of the rectifiers of one supply, and what was assumed.

    Raises:
        Missing: a law is not known, or they are unlike.
    """
    found: dict[str, RectifierLaw] = {}
    taken: list[Assumed] = []
    for e in arms:
        part = wiring.chassis.part(e.ref)
        given = None
        if part is not None:
            given = tube_law(part, e.path) if e.kind is Kind.STREAM else diode_law(part)
        if given is None:
            raise Missing(f"{e.ref}: how its volts drop is not known.", [e.ref])
        found[e.ref] = given[0]
        taken += [a for a in given[1] if a not in taken]
    laws = list(found.values())
    if any(law.drop_v(0.1) > 1.3 * laws[0].drop_v(0.1) + 1.0 for law in laws):
        raise Missing(f"{', '.join(found)}: unlike rectifiers share one supply.", list(found))
    return laws[0], taken
