"""States a set can be in, by name: what rules and charts ask the operating point for.

Belongs here: a state and the changes it makes. Does not belong here: solving (operating.py), what
text an option is written in (bench/).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from netcheck.chassis import Chassis

__all__ = ["ALL_TUBES", "NOMINAL", "SHORT_OHM", "Edit", "State", "line_volts", "switch_positions"]

ALL_TUBES = "*"
# What stands for a short: small beside every part of a set, large beside rounding.
SHORT_OHM = 0.01


@dataclass(frozen=True, slots=True)
class Edit:
    """One change of the network.

    `kind` is open, short, value (a part's ohms become `ohm`), scale (they are multiplied by
    `ohm`), leak (`ohm` across the part) or join (`ohm` between `nets`). `ref` names the part;
    `path` one winding or section of it (empty: all).
    """

    kind: str
    ref: str = ""
    ohm: float = 0.0
    nets: tuple[str, str] = ("", "")
    path: str = ""


@dataclass(frozen=True, slots=True)
class State:
    """A state of a set by its name.

    `line_v` volts rms at the wall (None: as stated). By bulb (`*` for all): `emission`, of which 0
    is a cold or pulled tube and 0.5 a weak one; `contact_shift_v`, volts on the contact potential
    in the drive of every stream and on that of diode plates (0.2: more current); `grid_shift_v`,
    volts on that of the control grids, where their own current starts (0.15: a grid leak rests so
    much more negative). bands.py says why they are two. `meter` is a net and the ohms of a meter
    from there to where is measured from. `closed` are switch positions that differ from those of
    the text. `out` are plugs pulled and parts taken out. `oscillator` is running or dead.
    """

    name: str
    line_v: float | None = None
    edits: tuple[Edit, ...] = ()
    emission: tuple[tuple[str, float], ...] = ()
    contact_shift_v: tuple[tuple[str, float], ...] = ()
    grid_shift_v: tuple[tuple[str, float], ...] = ()
    meter: tuple[str, float] | None = None
    closed: tuple[tuple[str, str], ...] = ()
    out: tuple[str, ...] = ()
    oscillator: str = "running"

    def on(self, base: State) -> State:
        """This state's changes on top of those of `base`, under this state's name."""
        return replace(
            self,
            line_v=self.line_v if self.line_v is not None else base.line_v,
            edits=base.edits + self.edits,
            emission=base.emission + self.emission,
            contact_shift_v=base.contact_shift_v + self.contact_shift_v,
            grid_shift_v=base.grid_shift_v + self.grid_shift_v,
            meter=self.meter or base.meter,
            closed=base.closed + self.closed,
            out=tuple(dict.fromkeys(base.out + self.out)),
            oscillator=base.oscillator if self.oscillator == "running" else self.oscillator,
        )


NOMINAL = State("nominal")


def line_volts(chassis: Chassis) -> dict[str, float | None]:
    """The line's volts by name: nominal, high, low (None where no line is stated)."""
    line = chassis.line
    if line is None or line.volts is None:
        return {"nominal": None, "high": None, "low": None}
    return {
        "nominal": line.volts,
        "high": line.volts * (1 + line.tolerance.above),
        "low": line.volts * (1 - line.tolerance.below),
    }


def switch_positions(chassis: Chassis) -> dict[str, str]:
    """The position of each switch by its body (S3 for S3A): as `switch` says, else its first."""
    found: dict[str, str] = {}
    for part in chassis.of_kind("switch"):
        if part.positions:
            found.setdefault(part.body_ref, part.positions[0])
    said = {each.switch: each.position for each in chassis.settings}
    return {switch: said.get(switch, first) for switch, first in found.items()}
