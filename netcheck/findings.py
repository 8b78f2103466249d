"""What everybody may report: a place in a text, a harm, a finding.

Belongs here: the value objects that every layer exchanges. Does not belong here: anything
that knows about radios, files or output formats. This module imports nothing of ours.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field, replace
from enum import Enum

__all__ = [
    "Assumed",
    "Calculation",
    "Finding",
    "Harm",
    "NetcheckError",
    "NotChecked",
    "NotSolved",
    "Related",
    "Signal",
    "Span",
]


class NetcheckError(Exception):
    """Base of every exception netcheck raises for a broken call (never for a user's mistake)."""


class NotSolved(NetcheckError, ArithmeticError):
    """A view of the circuit that has no answer: `reason` is a sentence, `nodes` did not settle."""

    def __init__(self, reason: str, nodes: tuple[str, ...] = ()) -> None:
        super().__init__(reason)
        self.reason = reason
        self.nodes = nodes


@dataclass(frozen=True, slots=True, order=True)
class Span:
    """A stretch of a file: 1-based lines and code-point columns, the end column exclusive."""

    file: str
    line: int
    column: int
    end_line: int
    end_column: int

    def joined(self, other: Span) -> Span:
        """Return the smallest span that covers both (of the same file; else this one)."""
        if other.file != self.file:
            return self
        first = min((self.line, self.column), (other.line, other.column))
        last = max((self.end_line, self.end_column), (other.end_line, other.end_column))
        return Span(self.file, *first, *last)


class Signal(Enum):
    """Signal words of ANSI Z535.6 / ISO 3864-2: the first three speak of injury only."""

    DANGER = "danger"
    WARNING = "warning"
    CAUTION = "caution"
    NOTICE = "notice"


class Harm(Enum):
    """What a finding can do to a person or a set, worst first; `signal` follows by one table."""

    __hash__ = object.__hash__  # a member is one object: its name need not be hashed

    SHOCK_NOW = "shock-now"
    SHOCK = "shock"
    BURST = "burst"
    DAMAGE = "damage"
    PERFORMANCE = "performance"
    RECORD = "record"

    @property
    def rank(self) -> int:
        """0 for the worst harm, rising as harm falls."""
        return list(Harm).index(self)

    @property
    def signal(self) -> Signal:
        """The signal word that follows from this harm."""
        return _SIGNALS[self]

    def at_least(self, other: Harm) -> bool:
        """Whether this harm is as bad as `other`, or worse."""
        return self.rank <= other.rank


_SIGNALS = {
    Harm.SHOCK_NOW: Signal.DANGER,
    Harm.SHOCK: Signal.WARNING,
    Harm.BURST: Signal.CAUTION,
    Harm.DAMAGE: Signal.NOTICE,
    Harm.PERFORMANCE: Signal.NOTICE,
    Harm.RECORD: Signal.NOTICE,
}


@dataclass(frozen=True, slots=True)
class Calculation:
    """One number behind a finding: `value` in `unit`, its `limit` if any, the `sum` in words."""

    name: str
    value: float
    unit: str
    limit: float | None = None
    sum: str = ""


@dataclass(frozen=True, slots=True)
class Assumed:
    """A value the text does not give and a check took: `value` in `unit`, and on what basis."""

    part: str | None
    what: str
    value: float
    unit: str
    basis: str


@dataclass(frozen=True, slots=True)
class Related:
    """A second place that belongs to a finding, with what it has to do with it."""

    span: Span
    message: str


@dataclass(frozen=True, slots=True)
class NotChecked:
    """A rule that could not give its verdict, and why; never to be read as an all-clear."""

    rule: str
    reason: str
    parts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Finding:
    """Something wrong (or worth recording) at a place, with its numbers and the remedy.

    `message` is one sentence: what is at this place, the value, the limit. `action` names the
    part to fit or the thing to measure. `why` says what it does on a real chassis. `accepted`
    holds the reason of an `accept` statement. `line_text` is the text of the marked line, `subject`
    what it is about in words that stay while the text is moved; the `fingerprint` is made from it.
    """

    rule: str
    harm: Harm
    message: str
    span: Span
    related: tuple[Related, ...] = ()
    parts: tuple[str, ...] = ()
    nodes: tuple[str, ...] = ()
    state: str = "as wired"
    why: str = ""
    calc: tuple[Calculation, ...] = ()
    action: str = ""
    accepted: str | None = None
    line_text: str = field(default="", compare=False)
    subject: str = field(default="", compare=False)

    @property
    def signal(self) -> Signal:
        """The signal word (from the harm)."""
        return self.harm.signal

    @property
    def fingerprint(self) -> str:
        """Sixteen hexadecimal digits that stay the same while text and file are moved.

        Made from rule, harm and subject: lines, comments, order and file names are not in it; a
        part of another value, or another harm, is another finding.
        """
        plain = (
            self.state,
            *sorted(self.parts),
            *sorted(self.nodes),
            " ".join(self.line_text.split()),
        )
        about = self.subject or "\n".join(plain)
        key = "\n".join((self.rule, self.harm.value, about))
        return hashlib.sha256(key.encode("utf-8", "backslashreplace")).hexdigest()[:16]

    @property
    def sort_key(self) -> tuple[int, str, int, int, str]:
        """Worst harm first, then file, line, column, rule."""
        return (self.harm.rank, self.span.file, self.span.line, self.span.column, self.rule)

    def accept(self, reason: str) -> Finding:
        """Return this finding marked as accepted for `reason`."""
        return replace(self, accepted=reason)
