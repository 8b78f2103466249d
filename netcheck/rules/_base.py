"""What a rule is: a documented, exemplified, pure generator over a case.

Belongs here: the `rule` decorator, its documentation and examples, and the `Case` handed to a
check. Does not belong here: running rules over a set (_runner.py) or finding them (plugins.py).
"""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from netcheck.chassis import Chassis
from netcheck.findings import (
    Calculation,
    Finding,
    Harm,
    NetcheckError,
    NotChecked,
    Related,
    Span,
)

if TYPE_CHECKING:
    from netcheck.circuit import Circuit

__all__ = ["NAME", "BadRule", "Case", "Example", "Option", "Rule", "RuleDoc", "rule"]

Check = Callable[["Case"], Iterable[Finding | NotChecked]]

NAME = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)*")
_HEADINGS = ("Why", "False alarm", "Source")
_TITLE_WORDS = 10


class BadRule(NetcheckError, ValueError):
    """A rule that cannot be registered; `rule` and `fault` say which and what is wrong."""

    def __init__(self, rule: str, fault: str) -> None:
        super().__init__(f"the rule {rule!r} cannot be used: {fault}")
        self.rule = rule
        self.fault = fault


@dataclass(frozen=True, slots=True)
class Example:
    """A tiny set in text. In a bad one the marked line ends in `# <-`; `says` is in its message."""

    text: str
    says: str = ""

    @property
    def marked_line(self) -> int | None:
        """The 1-based line that ends in `# <-`, or None."""
        for number, line in enumerate(self.text.split("\n"), start=1):
            if line.rstrip().endswith("# <-"):
                return number
        return None


@dataclass(frozen=True, slots=True)
class Option:
    """A choice where good practitioners differ: its default, the allowed values, its meaning."""

    default: str
    allowed: tuple[str, ...]
    meaning: str


@dataclass(frozen=True, slots=True)
class RuleDoc:
    """The words of a rule: title, why it matters, when it is a false alarm, its source."""

    title: str
    why: str
    false_alarm: str
    source: str


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule: `name` is its file name with dashes; `harm` is the worst harm it reports."""

    name: str
    harm: Harm
    doc: RuleDoc
    check: Check
    bad: tuple[Example, ...] = ()
    good: tuple[Example, ...] = ()
    options: Mapping[str, Option] = field(default_factory=dict)
    distribution: str = "netcheck"


def rule(
    *,
    harm: Harm,
    bad: Iterable[Example | str] = (),
    good: Iterable[Example | str] = (),
    options: Mapping[str, Option] | None = None,
) -> Callable[[Check], Rule]:
    """Turn the check of a module into a `Rule` named after that module.

    The module's docstring gives the words: a title of at most ten words, then paragraphs that
    begin `Why:`, `False alarm:` and `Source:`.

    Raises:
        BadRule: the name or the docstring is not of that form (said at import, not at lint).
    """

    def decorate(check: Check) -> Rule:
        module = sys.modules[check.__module__]
        name = check.__module__.rpartition(".")[2].replace("_", "-")
        if not NAME.fullmatch(name):
            raise BadRule(name, "a rule is named by its file, in lower-case words")
        return Rule(
            name=name,
            harm=harm,
            doc=_documentation(name, module.__doc__ or ""),
            check=check,
            bad=tuple(_as_example(e) for e in bad),
            good=tuple(_as_example(e) for e in good),
            options=dict(options or {}),
        )

    return decorate


def _as_example(example: Example | str) -> Example:
    return example if isinstance(example, Example) else Example(example)


def _documentation(name: str, text: str) -> RuleDoc:
    title, _, rest = text.strip().partition("\n")
    if not title or len(title.split()) > _TITLE_WORDS:
        raise BadRule(name, f"its docstring needs a title of at most {_TITLE_WORDS} words")
    parts = re.split(r"^(Why|False alarm|Source):", rest, flags=re.MULTILINE)
    sections = {
        heading: " ".join(body.split())
        for heading, body in zip(parts[1::2], parts[2::2], strict=True)
    }
    for heading in _HEADINGS:
        if not sections.get(heading):
            raise BadRule(name, f"its docstring has no paragraph that begins '{heading}:'")
    return RuleDoc(title.rstrip("."), sections["Why"], sections["False alarm"], sections["Source"])


@dataclass(frozen=True)
class Case:
    """What a check sees: the chassis, the circuit computed from it, the policy in force."""

    rule: Rule
    chassis: Chassis
    circuit: Circuit
    policy: Mapping[tuple[str, str], str] = field(default_factory=dict)

    def option(self, name: str) -> str:
        """The value of the rule's option `name`: as set by `policy`, else its default.

        Raises:
            KeyError: the rule declares no such option.
        """
        option = self.rule.options[name]
        chosen = self.policy.get((self.rule.name, name), option.default)
        # A choice the option does not know is reported by stale-acceptance; it changes nothing.
        return chosen if not option.allowed or chosen in option.allowed else option.default

    def finding(
        self,
        message: str,
        at: Span,
        *,
        action: str,
        harm: Harm | None = None,
        parts: Iterable[str] = (),
        nodes: Iterable[str] = (),
        related: Iterable[Related] = (),
        calc: Iterable[Calculation] = (),
        state: str = "as wired",
        why: str | None = None,
    ) -> Finding:
        """Make a finding of this rule; harm and why default to the rule's own."""
        from netcheck.rules._identity import subject

        found = Finding(
            rule=self.rule.name,
            harm=harm or self.rule.harm,
            message=message,
            span=at,
            related=tuple(related),
            parts=tuple(dict.fromkeys(parts)),
            nodes=tuple(dict.fromkeys(nodes)),
            state=state,
            why=self.rule.doc.why if why is None else why,
            calc=tuple(calc),
            action=action,
            line_text=self.chassis.line_text(at),
        )
        return replace(found, subject=subject(self.chassis, found))

    def not_checked(self, reason: str, parts: Iterable[str] = ()) -> NotChecked:
        """Say that this rule could not give its verdict, and why."""
        return NotChecked(self.rule.name, reason, tuple(parts))

    def from_reading(self) -> Iterable[Finding]:
        """Yield what the reader itself reported under this rule's name."""
        return (found for found in self.chassis.findings if found.rule == self.rule.name)
