"""Making nodes of names: what a name in one line means given every other line.

Belongs here: free node names, dotted names, references to parts, and the finished Part records.
Does not belong here: reading the lines (describe.py, terminals.py).
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from lark import Token

from netcheck.findings import Harm, Related, Span
from netcheck.language.drafts import Draft, RawTerminal
from netcheck.language.mistakes import Mistake, did_you_mean, joined
from netcheck.language.terminals import extra_terminals, find_terminal
from netcheck.language.vocabulary import FORBIDDEN_NODES, LETTERS, NODE_SYNONYMS
from netcheck.parts import Condition, Part, Terminal

__all__ = ["Resolver"]

_PART_LIKE = re.compile(
    rf"(?:{'|'.join(sorted(LETTERS, key=len, reverse=True))})\d+[A-Z]?", re.IGNORECASE
)
_FIXED = ("CHASSIS", "EARTH", "B-", "B+")


class Resolver:
    """Names of one set. Parts are resolved once; then statements may ask for nodes."""

    def __init__(self, drafts: Iterable[Draft]) -> None:
        self.drafts = list(drafts)
        self.by_ref: dict[str, Draft] = {}
        self._spelled: dict[str, str] = {name.casefold(): name for name in _FIXED}
        self._mentioned: set[str] = set(_FIXED)
        self._wrong_names: dict[str, Mistake] = {}
        self._ends: dict[str, str] = {}
        self._implied: dict[str, dict[str, Span]] = {}
        self._bodies = {f"{draft.letters}{draft.number}" for draft in self.drafts}
        for draft in self.drafts:
            self._register(draft)
        for draft in self.drafts:
            self._collect_leads(draft)

    def _register(self, draft: Draft) -> None:
        first = self.by_ref.setdefault(draft.ref, draft)
        if first is draft:
            return
        draft.broken = True
        draft.mistakes.append(
            Mistake(
                f"{draft.ref} is described twice, here and in line {first.ref_span.line}",
                draft.ref_span,
                "give one of them another reference; an old part stands behind `replaces`",
                rule="twin-reference",
                harm=Harm.DAMAGE,
                parts=(draft.ref,),
                related=(Related(first.ref_span, "the first one"),),
                why="Only the first can be meant wherever the reference is used.",
            )
        )

    def _collect_leads(self, draft: Draft) -> None:
        """`primary B1 to T2.plate` in T2's own line gives its lead the name `plate`."""
        for raw in draft.terminals:
            if raw.node is None or "." not in raw.node:
                continue
            ref, _, word = str(raw.node).partition(".")
            if ref.upper() == draft.ref and find_terminal(draft, word) is None:
                draft.leads[word.casefold()] = raw.name

    # --- nodes --------------------------------------------------------------------------------

    def node(self, token: Token, span: Span, *, known: bool = False) -> str:
        """The node a statement names.

        Args:
            token: the name as written.
            span: its place.
            known: whether some part (or the language) must know the node already.

        Raises:
            Mistake: the name cannot be a node, or (with `known`) is on no part.
        """
        name = self._name(token, span, None)
        if known and "." not in token and name not in self._mentioned:
            raise Mistake(
                f"nothing is connected to {token}",
                span,
                did_you_mean(str(token), sorted(self._mentioned), "name a node that parts are on"),
                nodes=(name,),
            )
        return name

    def _name(self, token: Token, span: Span, draft: Draft | None) -> str:
        written = str(token)
        if "." in written:
            return self._dotted(written, span, draft)
        upper = written.upper()
        if upper in FORBIDDEN_NODES:
            raise Mistake(
                f"{written} can mean three things",
                span,
                "say CHASSIS, B- or EARTH"
                if upper not in ("A", "P")
                else "say plate, A+, A- or ANT, whichever is meant",
            )
        if upper in ("TO", "OPEN"):
            raise Mistake(
                f"a name is missing here: `{written}` is a word of the language",
                span,
                "write the node's name; `open` stands alone, for an end left unconnected",
            )
        upper = NODE_SYNONYMS.get(upper, upper)
        if _PART_LIKE.fullmatch(upper):
            # However often such a name occurs: a part forgotten or misspelt would become a node of
            # that name without a word, and what it joins would be checked as if it were not there.
            absent = "" if upper in self.by_ref else f", and there is no part {upper}"
            raise Mistake(
                f"{written} reads as a part's reference{absent}: a node may not be named like a "
                "part",
                span,
                self._meant_terminal(upper),
                parts=(upper,) if upper in self.by_ref else (),
            )
        if upper in _FIXED:
            return upper
        return self._spelled.setdefault(written.casefold(), written)

    @staticmethod
    def is_part_like(name: str) -> bool:
        """Whether a name has the form of a part's reference."""
        return _PART_LIKE.fullmatch(name) is not None

    def _meant_terminal(self, ref: str) -> str:
        other = self.by_ref.get(ref)
        if other is None:
            return f"give the node another name (NODE_{ref}), or describe the part {ref}"
        if not other.terminals:
            return "give the node another name"
        return f"name one of its terminals, as in {ref}.{other.terminals[0].name}"

    def _dotted(self, written: str, span: Span, draft: Draft | None) -> str:
        ref, _, word = written.partition(".")
        other = self.by_ref.get(ref.upper())
        if other is None:
            raise Mistake(
                f"{written}: there is no part {ref}",
                span,
                did_you_mean(ref, self.by_ref, "describe the part, or name a node without a dot"),
            )
        name = find_terminal(other, word)
        lead = other.leads.get(word.casefold())
        if name is None and lead is not None:
            return f"{other.ref}.{word.casefold()}"
        if name is None:
            if other.broken or (other.kind == "tube" and other.tube is None):
                return f"{other.ref}.{word.casefold()}"
            self._no_terminal(other, written, word, span, draft)
            return written
        return self._of_terminal(other, name, span)

    def _no_terminal(
        self, other: Draft, written: str, word: str, span: Span, draft: Draft | None
    ) -> None:
        if draft is other and other.kind != "tube":
            return
        own = [t.name for t in other.terminals if not t.name.startswith("?")]
        known = [*own, *other.leads, *extra_terminals(other)]
        noun = f"{other.ref} ({other.tube_name})" if other.tube_name else other.ref
        raise Mistake(
            f"{written}: {noun} has no terminal {word}",
            span,
            did_you_mean(word, known, f"it has {joined(dict.fromkeys(known), 'and')}"),
            parts=(other.ref,),
        )

    def _of_terminal(self, other: Draft, name: str, span: Span) -> str:
        """The node of a terminal; a terminal without one is a node under its dotted name."""
        dotted = f"{other.ref}.{name}"
        raw = next((t for t in other.terminals if t.name == name), None)
        if raw is None:
            self._implied.setdefault(other.ref, {}).setdefault(name, span)
            return dotted
        if raw.unused:
            raise Mistake(
                f"{dotted} is used here, but its own line says it is open",
                span,
                "take `open` out, or connect something else",
                parts=(other.ref,),
                related=(Related(raw.span, "said to be open"),),
            )
        return self._follow(other, raw, dotted)

    def _follow(self, other: Draft, raw: RawTerminal, dotted: str) -> str:
        """Go on from terminal to terminal (`V3.plate` is on `T2.plate`), never in a circle.

        Where a chain ends is remembered for every terminal on it.
        """
        seen: dict[str, None] = {}
        step = dotted
        while step not in self._ends:
            seen[step] = None
            if raw.node is None:
                self._ends[step] = step
                break
            if "." not in raw.node:
                self._ends[step] = self._name(raw.node, raw.span, None)
                break
            ref, _, word = str(raw.node).partition(".")
            target = self.by_ref.get(ref.upper())
            name = find_terminal(target, word) if target is not None else None
            if target is None or name is None:
                self._ends[step] = f"{ref.upper()}.{word.casefold()}"
                break
            onward = f"{target.ref}.{name}"
            following = next((t for t in target.terminals if t.name == name), None)
            if following is None or following.unused or onward in seen:
                self._ends[step] = min(seen) if onward in seen and len(seen) > 1 else onward
                break
            step, raw = onward, following
        end = self._ends[step]
        self._ends.update(dict.fromkeys(seen, end))
        return end

    # --- parts --------------------------------------------------------------------------------

    def parts(self) -> list[Part]:
        """Every part with its terminals on nodes. Mistakes are collected in the drafts."""
        resolved = [(draft, self._terminals(draft)) for draft in self.drafts]
        made = []
        for draft, terminals in resolved:
            for name, span in self._implied.pop(draft.ref, {}).items():
                if self.by_ref[draft.ref] is draft:
                    node = f"{draft.ref}.{name}"
                    self._mentioned.add(node)
                    terminals.append(Terminal(name, node, span, given=False))
            self._check_references(draft)
            made.append(_part(draft, tuple(terminals)))
        return made

    def implied_terminal(self, part: Part) -> Part:
        """The part with terminals that statements (touchable, reading) named after `parts`."""
        implied = self._implied.get(part.ref, {})
        if not implied:
            return part
        from dataclasses import replace

        extra = tuple(
            Terminal(name, f"{part.ref}.{name}", span, given=False)
            for name, span in implied.items()
            if part.terminal(name) is None
        )
        return replace(part, terminals=part.terminals + extra)

    def _terminals(self, draft: Draft) -> list[Terminal]:
        terminals = []
        for raw in draft.terminals:
            if raw.node is None:
                terminals.append(
                    Terminal(raw.name, f"{draft.ref}.{raw.name}", raw.span, raw.pin, True)
                )
                continue
            try:
                node = self._name(raw.node, raw.span, draft)
            except Mistake as mistake:
                if not raw.name.startswith("?"):  # what was guessed of a broken line is no mistake
                    self._wrong_name(draft, str(raw.node), mistake)
                    # The terminal is there, whatever it is on: nobody shall miss it.
                    terminals.append(Terminal(raw.name, str(raw.node), raw.span, raw.pin))
                continue
            self._mentioned.add(node)
            terminals.append(Terminal(raw.name, node, raw.span, raw.pin))
        return terminals

    def _wrong_name(self, draft: Draft, written: str, mistake: Mistake) -> None:
        """One finding for a wrong name, however many lines use it."""
        draft.misplaced = True
        ref = written.partition(".")[0].upper()
        # Every use of a missing part is the one finding that the part is missing.
        key = ref if "." in written and ref not in self.by_ref else written.casefold()
        first = self._wrong_names.get(key)
        if first is None:
            mistake = Mistake(
                f"{draft.ref}: {mistake.message}",
                mistake.span,
                mistake.action,
                parts=(draft.ref,),
                nodes=(written,),
            )
            draft.mistakes.append(mistake)
            self._wrong_names[key] = mistake
            return
        first.related = (*first.related, Related(mistake.span, f"{draft.ref} uses it too"))

    def _check_references(self, draft: Draft) -> None:
        for what, ref in (("on", draft.on), ("in", draft.inside)):
            if ref is None or ref in self.by_ref or ref in self._bodies:
                continue
            draft.mistakes.append(
                Mistake(
                    f"{draft.ref} is {what} {ref}, and there is no part {ref}",
                    draft.spans.get(what, draft.ref_span),
                    did_you_mean(ref, self.by_ref, "describe that part, or take the clause out"),
                    parts=(draft.ref,),
                )
            )


def _part(draft: Draft, terminals: tuple[Terminal, ...]) -> Part:
    condition = draft.condition
    if condition is None:
        # What replaces something was put in by a restorer; all else is as it came.
        condition = Condition.NEW if draft.replaces is not None else Condition.ORIGINAL
    return Part(
        ref=draft.ref,
        letters=draft.letters,
        number=draft.number,
        kind=draft.kind,
        span=draft.span,
        section=draft.section,
        description=draft.description.frozen(),
        condition=condition,
        measured=draft.measured,
        replaces=draft.replaces.frozen() if draft.replaces is not None else None,
        tube=draft.tube,
        tube_name=draft.tube_name,
        terminals=terminals,
        paths=tuple(draft.paths),
        on=draft.on,
        inside=draft.inside,
        mark=draft.mark,
        reversed_windings=tuple(draft.reversed_windings),
        note=draft.note,
        broken=draft.broken,
        misplaced=draft.misplaced,
        ref_span=draft.ref_span,
        spans=dict(draft.spans),
    )
