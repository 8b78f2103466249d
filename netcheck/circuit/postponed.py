"""Lets those who ask for states one after the other have them solved together.

Belongs here: the list of states that wait, and the interruption of who asked for one. Does not
belong here: solving them (operating.py), running the rules again (rules/_runner.py).

A batch costs little more than a single state. So a rule that asks for states that are not solved is
broken off, and run again from its start when all that was asked for has been solved: a check is a
pure generator, and says the same again.
"""

from __future__ import annotations

from collections.abc import Iterable

from netcheck.circuit.states import State

__all__ = ["Interrupted", "Postponed"]


class Interrupted(BaseException):
    """What was asked for waits; no fault, so that nobody takes it for one."""


class Postponed:
    """The states that were asked for and wait to be solved, while `waiting` is set."""

    def __init__(self) -> None:
        self.waiting = False
        self._states: dict[State, None] = {}

    def put_off(self, states: Iterable[State]) -> None:
        """Note states that are not solved yet.

        Raises:
            Interrupted: always; who asked is to be run again.
        """
        self._states.update(dict.fromkeys(states))
        raise Interrupted

    def taken(self) -> list[State]:
        """The states that wait, in the order in which they were asked for, no longer waiting."""
        found, self._states = list(self._states), {}
        return found
