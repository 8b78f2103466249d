"""The switches of a set as they are set, for the head of a chart and for what it computes.

Belongs here: positions by body reference. Does not belong here: what contacts do (circuit/).
"""

from __future__ import annotations

from netcheck.chassis import Chassis

__all__ = ["switch_positions"]


def switch_positions(chassis: Chassis) -> dict[str, str]:
    """The position of each switch by its body (S3 for S3A): as the set says, else the first."""
    found: dict[str, str] = {}
    for part in chassis.of_kind("switch"):
        if part.positions:
            found.setdefault(part.body_ref, part.positions[0])
    found.update(
        (setting.switch, setting.position)
        for setting in chassis.settings
        if setting.switch in found
    )
    return found
