"""States of a set and electrodes of its tubes by name, because several rules ask for the same.

Belongs here: building the states (under one name each, so that rules share solutions), the volts
and watts of a tube's section at a point, which tubes drive an output transformer. Does not belong
here: solving (circuit/), limits and judgements (the rules).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

from netcheck.circuit.states import ALL_TUBES, NOMINAL, SHORT_OHM, Edit, State, line_volts
from netcheck.circuit.wiring import Kind, Wiring
from netcheck.findings import NotSolved
from netcheck.parts import Part, Section
from netcheck.rules._base import Case

if TYPE_CHECKING:
    from netcheck.circuit.operating import Point, TubePoint

__all__ = [
    "NOMINAL",
    "Stream",
    "bulb_of",
    "cold",
    "driven_transformers",
    "instant_rectifiers",
    "is_fed",
    "leaking",
    "line_high",
    "line_low",
    "no_load",
    "opened",
    "output_bulbs",
    "output_nets",
    "output_transformers",
    "output_tubes",
    "plug_out",
    "pulled",
    "shorted",
    "solved",
    "speaker_plugs",
    "streams",
    "tried",
]


def tried(case: Case, states: Sequence[State]) -> tuple[Point | NotSolved, ...]:
    """Solve states in one batch, with the reason in the place of one that is not solved.

    A text without any source (a fragment with a stated load) is not a set whose volts can be told.
    """
    if not is_fed(case):
        reason = "nothing in the text feeds this set: no rectifier, no battery, no held rail"
        return tuple(NotSolved(reason) for _ in states)
    return case.circuit.operating.tried(states)


def is_fed(case: Case) -> bool:
    """Whether the text has anything that makes plate volts: a rectifier, a battery, a held rail."""
    wiring = case.circuit.wiring
    if wiring.rectifiers or wiring.supply.rectified or case.chassis.holds:
        return True
    return any(element.kind is Kind.BATTERY for element in wiring.elements)


def solved(case: Case, state: State = NOMINAL) -> Point:
    """Solve one state.

    Raises:
        NotSolved: it has no solution; the runner says so for the rule that asked.
    """
    (found,) = tried(case, [state])
    if isinstance(found, NotSolved):
        raise found
    return found


def line_high(case: Case) -> State:
    """The set on the highest line its text allows (the nominal one where no line is stated)."""
    return State("line high", line_v=line_volts(case.chassis)["high"])


def line_low(case: Case) -> State:
    """The set on the lowest line its text allows."""
    return State("line low", line_v=line_volts(case.chassis)["low"])


def no_load(case: Case) -> State:
    """Every tube but the rectifiers cold, line high: warm-up of a rectifier that is quicker."""
    return State(
        "no load, line high",
        line_v=line_volts(case.chassis)["high"],
        emission=((ALL_TUBES, 0.0),),
    )


def pulled(bulb: str, base: State = NOMINAL) -> State:
    """One tube without emission (pulled, dead, cold), on top of `base`."""
    return _on(State(f"{bulb} pulled", emission=((bulb, 0.0),)), base)


def cold(bulb: str, base: State = NOMINAL) -> State:
    """One tube in its socket without emission: slower to warm than the others, or worn out."""
    return _on(State(f"{bulb} cold", emission=((bulb, 0.0),)), base)


def opened(ref: str, base: State = NOMINAL) -> State:
    """A part open: a dried-out electrolytic, a dial lamp that is out; on top of `base`."""
    return _on(State(f"{ref} open", edits=(Edit("open", ref),)), base)


def plug_out(ref: str, base: State = NOMINAL) -> State:
    """A plug pulled with everything that is on it, on top of `base`."""
    return _on(State(f"{ref} out", out=(ref,)), base)


def shorted(ref: str, base: State = NOMINAL) -> State:
    """A capacitor shorted, on top of `base`."""
    return _on(State(f"{ref} shorted", edits=(Edit("leak", ref, SHORT_OHM),)), base)


def leaking(ref: str, ohm: float, base: State = NOMINAL) -> State:
    """A capacitor that leaks through `ohm`, on top of `base`."""
    return _on(State(f"{ref} leaks {ohm:.4g} ohm", edits=(Edit("leak", ref, ohm),)), base)


def _on(state: State, base: State) -> State:
    if base == NOMINAL:
        return state
    return replace(state, name=f"{state.name}, {base.name}").on(base)


# --- tubes


def bulb_of(part: Part) -> str:
    """The name under which a point lists the tube a part is (or is a section of)."""
    return part.body_ref


@dataclass(frozen=True, slots=True)
class Stream:
    """One amplifying section of one tube at one point.

    Volts are against its cathode (the middle of a filament), amperes into the electrode. None
    where the section has no such electrode.
    """

    part: Part
    section: Section
    tube: TubePoint

    @property
    def plate_v(self) -> float:
        """Plate to cathode volts."""
        return self._volts(self.section.plate) or 0.0

    @property
    def plate_a(self) -> float:
        """Plate amperes."""
        return self._amperes(self.section.plate) or 0.0

    @property
    def plate_w(self) -> float:
        """Watts the plate turns into heat."""
        return self.tube.watts(self.section.plate)

    @property
    def screen_v(self) -> float | None:
        """Screen to cathode volts."""
        return self._volts(self.section.screen)

    @property
    def screen_a(self) -> float | None:
        """Screen amperes."""
        return self._amperes(self.section.screen)

    @property
    def screen_w(self) -> float | None:
        """Watts the screen turns into heat."""
        return None if self.section.screen is None else self.tube.watts(self.section.screen)

    @property
    def cathode_a(self) -> float:
        """Amperes of this section: plate, screen and grid currents together."""
        names = {self.section.plate, self.section.screen, *self.section.controls}
        return sum(e.amperes for e in self.tube.electrodes if e.name in names)

    @property
    def grid_v(self) -> float | None:
        """First control grid to cathode volts: its bias."""
        return self._volts(self.section.controls[0]) if self.section.controls else None

    @property
    def grid_a(self) -> float | None:
        """First control grid's amperes."""
        return self._amperes(self.section.controls[0]) if self.section.controls else None

    @property
    def grid_net(self) -> str:
        """The net of the first control grid, empty if there is none."""
        found = self.tube.electrode(self.section.controls[0]) if self.section.controls else None
        return "" if found is None else found.net

    @property
    def cathode_v(self) -> float:
        """Volts of this section's cathode against the point's reference."""
        own = self.tube.electrode(self.section.cathode)
        filament = own is None or own.name.startswith("heater")
        return self.tube.cathode_v if filament or own is None else own.volts

    def _volts(self, name: str | None) -> float | None:
        found = None if name is None else self.tube.electrode(name)
        return None if found is None else found.volts - self.cathode_v

    def _amperes(self, name: str | None) -> float | None:
        found = None if name is None else self.tube.electrode(name)
        return None if found is None else found.amperes


def streams(case: Case, point: Point) -> Iterator[Stream]:
    """Every amplifying section (no diodes, rectifiers, targets) of every tube of a point."""
    for part in _bulbs(case):
        found = point.tubes.get(bulb_of(part))
        if found is None or part.tube is None:
            continue
        for section in part.tube.sections:
            if section.kind not in ("diode", "rectifier", "target"):
                yield Stream(part, section, found)


def _bulbs(case: Case) -> Iterator[Part]:
    """One part for each bulb: a twin tube may be drawn as two."""
    return (sections[0] for sections in case.circuit.wiring.bulbs.values())


def output_transformers(case: Case, bulb: str) -> tuple[Part, ...]:
    """The output transformers through which the plates of a tube are fed."""
    return _outputs(case.circuit.wiring).get(bulb, ())


@lru_cache(maxsize=8)
def _outputs(wiring: Wiring) -> Mapping[str, tuple[Part, ...]]:
    """The output transformers of every tube that has one, by its bulb."""
    chassis = wiring.chassis
    found: dict[str, dict[str, Part]] = {}
    for electrode in wiring.electrodes:
        owner = chassis.part(electrode.ref) if electrode.duty == "plate" else None
        if owner is None:
            continue
        for element in wiring.supply.feed_walk.chain(electrode.net):
            part = chassis.part(element.ref) if element.kind is Kind.WINDING else None
            if part is not None and part.description.has("output"):
                found.setdefault(owner.body_ref, {})[part.ref] = part
    return {bulb: tuple(parts.values()) for bulb, parts in found.items()}


def output_tubes(case: Case) -> tuple[Part, ...]:
    """The tubes whose plate is on an output transformer, one part for each bulb."""
    return tuple(part for part in _bulbs(case) if output_transformers(case, bulb_of(part)))


def driven_transformers(case: Case) -> tuple[Part, ...]:
    """The output transformers of all tubes, each once."""
    bulbs = (bulb_of(part) for part in _bulbs(case))
    found = {t.ref: t for bulb in bulbs for t in output_transformers(case, bulb)}
    return tuple(found.values())


def output_bulbs(case: Case) -> frozenset[str]:
    """The bulbs of the output tubes, by the reference of their body."""
    return frozenset(bulb_of(part) for part in output_tubes(case))


def output_nets(case: Case, duty: str) -> frozenset[str]:
    """The nets of the plates (or grids, by `duty`) of the output tubes, common wires left out."""
    bulbs = output_bulbs(case)
    return (
        frozenset(
            e.net
            for e in case.circuit.wiring.electrodes
            if e.duty == duty
            and (p := case.chassis.part(e.ref)) is not None
            and p.body_ref in bulbs
        )
        - case.circuit.wiring.returns
    )


# --- supplies and plugs


def instant_rectifiers(case: Case) -> tuple[str, ...]:
    """Rectifiers that deliver before the other tubes are warm: filaments, dry disc, silicon.

    A vibrator's own contacts count too. What an indirectly heated one feeds rises with the load.
    """
    found: dict[str, None] = {}
    for element in case.circuit.wiring.rectifiers:
        part = case.chassis.part(element.ref)
        tube = part.tube if part is not None else None
        if tube is None or tube.heating == "direct":
            found[element.ref] = None
    return tuple(found)


def speaker_plugs(case: Case) -> tuple[str, ...]:
    """The plugs that carry an output transformer, a field coil or a speaker, in text order."""
    found: dict[str, None] = {}
    for part in case.chassis.parts:
        if part.on is None or not part.fitted:
            continue
        plug = case.chassis.part(part.on)
        if plug is None or plug.kind not in ("plug", "jack"):
            continue
        if part.kind == "speaker" or part.description.has("output", "field"):
            found[plug.ref] = None
    return tuple(found)
