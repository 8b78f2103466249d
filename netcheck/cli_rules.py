"""What a run of `lint` is asked for, and the commands on rules and on what brings them.

Belongs here: the options that choose rules, harms, policies and known findings, with the nearest
right name after a slip; `why` and `plugins`. Does not belong here: which files are read (cli.py).
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import click

from netcheck.cli_shared import NOT_READ, Failure, output_options, schema_lines, write
from netcheck.findings import Harm
from netcheck.output.columns import visible

if TYPE_CHECKING:
    from netcheck.chassis import Policy
    from netcheck.output.known import Known
    from netcheck.rules._base import Rule
    from netcheck.rules._runner import Report
    from netcheck.rules._scope import Asked

__all__ = ["View", "all_rules", "plugins", "rule_options", "why"]


def _harm_named(ctx: click.Context, param: click.Parameter, value: str) -> Harm:
    """Return the harm of this name; a slip is answered with the nearest."""
    names = {harm.value: harm for harm in Harm}
    found = names.get(value.strip().lower().replace("_", "-"))
    if found is None:
        from netcheck.language.mistakes import did_you_mean

        remedy = did_you_mean(value, names, _all_harms())
        said = visible(f"no harm is called {value}; {remedy}")
        raise click.BadParameter(said, ctx, param)
    return found


def _all_harms() -> str:
    return f"there are, worst first, {', '.join(harm.value for harm in Harm)}"


_OPTIONS = (
    click.option("--only", metavar="RULE", multiple=True, help="Run this rule only; repeatable."),
    click.option("--without", metavar="RULE", multiple=True, help="Leave this rule out too."),
    click.option(
        "--from",
        "lowest",
        metavar="HARM",
        callback=_harm_named,
        default=Harm.RECORD.value,
        help="List findings of this harm and worse; the others are counted.",
    ),
    click.option(
        "--fail-on",
        metavar="HARM",
        callback=_harm_named,
        default=Harm.DAMAGE.value,
        help=f"The least harm that makes the exit status 1 (if not given: {Harm.DAMAGE.value})."
        f" Harms: {', '.join(harm.value for harm in Harm)}.",
    ),
    click.option(
        "--policy",
        "policies",
        metavar='"RULE OPTION VALUE"',
        multiple=True,
        help="Set a policy; it wins over the text. Repeatable.",
    ),
    click.option(
        "--known", metavar="FILE", help="List only what is not in this file of known findings."
    ),
    click.option(
        "--write-known", metavar="FILE", help="Save what is found as a file for --known."
    ),
)  # fmt: skip


def rule_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Give a command the options above; it gets them as one `View` called `view`."""

    @functools.wraps(command)
    def with_view(*arguments: Any, **options: Any) -> Any:
        names = ("only", "without", "lowest", "fail_on", "policies", "known", "write_known")
        view = View(**{name: options.pop(name) for name in names})
        return command(*arguments, view=view, **options)

    whole: Callable[..., Any] = with_view
    for option in reversed(_OPTIONS):
        whole = option(whole)
    return whole


@dataclass
class View:
    """The options of one run: what is asked of each set, and what is shown of it."""

    only: Sequence[str] = ()
    without: Sequence[str] = ()
    lowest: Harm = Harm.RECORD
    fail_on: Harm = Harm.DAMAGE
    policies: Sequence[str] = ()
    known: str | None = None
    write_known: str | None = None
    _kept: list[dict[str, Any]] = field(default_factory=list)
    _before: Known | None = None

    def asked(self, installed: Sequence[Rule]) -> Asked:
        """Return what is asked of each set, every name checked.

        Raises:
            Failure: a rule, an option or a value is unknown, or nothing is left to be run.
        """
        from netcheck.rules._scope import ALWAYS, Asked

        only = tuple(_rule_called(name, installed).name for name in self.only)
        without = tuple(_rule_called(name, installed).name for name in self.without)
        kept = next((name for name in without if name in ALWAYS), None)
        if kept is not None:
            raise Failure(f"{kept} cannot be left out: the rest means nothing without it")
        asked = Asked(only, without, self.lowest, tuple(self._policies(installed)))
        if only and not set(only) - set(without):
            raise Failure("--without takes out all that --only names: nothing would be checked")
        return asked

    def _policies(self, installed: Sequence[Rule]) -> Iterator[Policy]:
        from netcheck.language.files import read
        from netcheck.rules._acceptance import policy_fault

        by_name = {each.name: each for each in installed}
        for words in self.policies:
            chassis = read(f"policy {words}", "--policy")
            wrong = next(iter(chassis.findings), None)
            if wrong is not None or len(chassis.policies) != 1 or "\n" in words.strip():
                said = f"{wrong.message}; {wrong.action}" if wrong else "it is no policy"
                raise Failure(f'--policy "{words}": {said} (RULE OPTION VALUE)')
            fault = policy_fault(chassis.policies[0], by_name)
            if fault is not None:
                raise Failure(f'--policy "{words}": {"; ".join(fault)}')
            yield chassis.policies[0]

    def prepare(self, replace_it: bool, read: Iterable[str]) -> None:
        """Read --known, and refuse a file for --write-known, before any work is done."""
        if self.known is not None:
            from netcheck.output.known import read_known

            self._before = read_known(self.known)
        if self.write_known is not None:
            from netcheck.output.saving import check_target

            check_target(self.write_known, replace_it, read)

    def watch(
        self, reports: Iterable[Report], asked: Asked, ran: Sequence[str]
    ) -> Iterator[Report]:
        """Yield each report as it is to be shown, and keep what --write-known asks for."""
        if self.known is not None or self.write_known is not None:
            reports = self._known(reports, ran)
        yield from map(asked.cut, reports)

    def _known(self, reports: Iterable[Report], ran: Sequence[str]) -> Iterator[Report]:
        from netcheck.output.known import compared, kept

        for report in reports:
            if self.write_known is not None:
                self._kept.append(kept(report, self.write_known))
            yield report if self._before is None else compared(report, self._before, ran)

    def save(self, replace_it: bool) -> None:
        """Save the findings for --known, once every report is written."""
        if self.write_known is not None:
            from netcheck.output.known import known_lines
            from netcheck.output.saving import save

            save(self.write_known, known_lines(self._kept), replace_it)


def all_rules() -> Sequence[Rule]:
    """The rules installed. None at all is a broken installation and must not look like a pass."""
    from netcheck import plugins

    rules = plugins.installed_rules()
    if not rules:
        raise Failure("no rules are installed, so nothing can be checked: install netcheck again")
    return rules


def _rule_called(name: str, installed: Sequence[Rule]) -> Rule:
    wanted = name.strip().lower().replace("_", "-")
    for each in installed:
        if each.name == wanted:
            return each
    from netcheck.language.mistakes import did_you_mean
    from netcheck.plugins import faults

    remedy = did_you_mean(wanted, [r.name for r in installed], "`netcheck why` lists them all")
    failed = "".join(f"; {fault}" for fault in faults())
    raise Failure(f"no rule is called {name}; {remedy}{failed}")


@click.command(short_help="Tell why a rule matters, or list all rules.")
@click.argument("rule", required=False)
@output_options
def why(rule: str | None, form: str, target: str | None, replace: bool, schema: bool) -> None:
    """Tell why a RULE matters and when it is wrong; without one, list them all by harm."""
    if schema:
        write(schema_lines("why"), target, replace)
        return
    from netcheck.output.why import by_harm, list_lines, rule_lines

    known = all_rules()
    chosen = None if rule is None else _rule_called(rule, known)
    if form == "json":
        from netcheck.output.machine import why_document

        write([why_document([chosen] if chosen else by_harm(known))], target, replace)
    else:
        write(rule_lines(chosen) if chosen else list_lines(known), target, replace)


@click.command(short_help="List what is installed: rules, component data, writers.")
@output_options
@click.pass_context
def plugins(ctx: click.Context, form: str, target: str | None, replace: bool, schema: bool) -> None:
    """List what every installed distribution brings to netcheck, and what could not be loaded.

    Exit status: 2 if anything could not be loaded or was refused, else 0.
    """
    if schema:
        write(schema_lines("plugins"), target, replace)
        return
    from netcheck.output.plugins import plugins_document, plugins_lines
    from netcheck.plugins import everything_brought

    every = everything_brought()
    lines = [plugins_document(every)] if form == "json" else plugins_lines(every)
    write(lines, target, replace)
    ctx.exit(NOT_READ if any(each.faults for each in every) else 0)
