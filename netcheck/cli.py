"""The commands: thin, each reads its options, asks the layers below and picks a writer.

Belongs here: options, which files are meant, exit status, the last net under every fault. Does
not belong here: reading, judging, or wording of results.

Exit status: 2 if anything asked for was not read or not solved; else 1 if a finding at or above
the threshold stands; else 0. Layers below are imported where a command needs them: start-up counts.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Any, Final, NoReturn

import click

from netcheck import __version__
from netcheck.cli_charts import ohms, volts
from netcheck.cli_papers import jobsheet, note, recap, report_page, start
from netcheck.cli_shared import (
    NOT_READ,
    STDIN,
    STDIN_NAME,
    Failure,
    drop_stdout,
    output_options,
    schema_lines,
    stdin_text,
    write,
)
from netcheck.findings import Harm, NetcheckError

if TYPE_CHECKING:
    from netcheck.rules._base import Rule
    from netcheck.rules._runner import Report

__all__ = ["app", "main"]

FOUND: Final = 1
INTERRUPTED: Final = 130
SUFFIX: Final = ".chassis"
DEBUG: Final = "NETCHECK_DEBUG"
_PROGRESS_FROM: Final = 20


class _Net(click.Group):
    """The group of commands, with the last net under every fault: no input ends in a traceback."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; whatever it raises becomes a sentence and an exit status."""
        try:
            return super().invoke(ctx)
        except (click.ClickException, click.exceptions.Exit, click.Abort):
            raise
        except BrokenPipeError:
            drop_stdout()
            ctx.exit(NOT_READ)
        except KeyboardInterrupt:
            ctx.exit(INTERRUPTED)
        except NetcheckError as fault:
            raise Failure(str(fault)) from fault
        except Exception as fault:
            if os.environ.get(DEBUG):
                raise
            raise Failure(_own_fault(fault)) from fault


def _own_fault(fault: Exception) -> str:
    where = "".join(f", {note}" for note in getattr(fault, "__notes__", ()))
    return (
        f"this is a fault of netcheck, not of your set ({type(fault).__name__}: {fault}{where})."
        " Nothing can be said of the set. Please report it to the makers of netcheck, with the"
        f" command and the set that show it; {DEBUG}=1 shows where it happened."
    )


@click.group(
    cls=_Net,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 78},
    epilog="Guidance, not a clearance: lethal voltages stay lethal whatever a text says.",
)
@click.version_option(__version__, prog_name="netcheck", message="%(prog)s %(version)s")
def app() -> None:
    """Check a tube radio's chassis, described in a text, before power is applied."""


app.add_command(volts)
app.add_command(ohms)
app.add_command(recap)
app.add_command(jobsheet)
app.add_command(note)
app.add_command(report_page)
app.add_command(start)


@app.command()
@click.argument("files", nargs=-1, metavar="FILE...")
@click.option(
    "--fail-on",
    type=click.Choice([harm.value for harm in Harm]),
    default=Harm.DAMAGE.value,
    show_default=True,
    help="The least harm of a finding that makes the exit status 1.",
)
@output_options
@click.pass_context
def lint(
    ctx: click.Context,
    files: Sequence[str],
    fail_on: str,
    form: str,
    target: str | None,
    replace: bool,
    schema: bool,
) -> None:
    """Find what is wrong in the sets of these FILEs.

    A folder stands for every *.chassis file below it, - for standard input.

    Exit status: 2 if anything was not read or its voltages not solved, else 1 if a finding at or
    above the threshold stands, else 0.
    """
    if schema:
        write(schema_lines("lint"), target, replace)
        return
    if not files:
        raise click.UsageError("name a set, a folder of sets, or - for standard input", ctx)
    rules = _installed_rules()
    wanted = list(_sets(files))
    tally = _Tally(Harm(fail_on))
    reports = tally.watch(_reports(wanted, rules))
    write(_lint_lines(reports, form, rules, target), target, replace, [p for p, _ in wanted])
    ctx.exit(tally.status)


@app.command(short_help="Tell why a rule matters, or list all rules.")
@click.argument("rule", required=False)
@output_options
def why(rule: str | None, form: str, target: str | None, replace: bool, schema: bool) -> None:
    """Tell why a RULE matters and when it is wrong; without one, list them all."""
    if schema:
        write(schema_lines("why"), target, replace)
        return
    from netcheck.output.why import list_lines, rule_lines
    from netcheck.plugins import rule_named

    known = _installed_rules()
    chosen = rule_named(rule) if rule is not None else None
    if rule is not None and chosen is None:
        raise Failure(_unknown_rule(rule, [each.name for each in known]))
    if form == "json":
        from netcheck.output.machine import why_document

        write([why_document([chosen] if chosen else known)], target, replace)
    else:
        write(rule_lines(chosen) if chosen else list_lines(known), target, replace)


@app.command(short_help="Tell what is known of a tube type.")
@click.argument("name", metavar="TYPE", required=False)
@output_options
@click.pass_context
def tube(
    ctx: click.Context,
    name: str | None,
    form: str,
    target: str | None,
    replace: bool,
    schema: bool,
) -> None:
    """Tell what the catalogue knows of a tube TYPE: pins, heater, limits, sources."""
    if schema:
        write(schema_lines("tube"), target, replace)
        return
    if name is None:
        raise click.UsageError("name a tube type, such as 12AV6", ctx)
    from netcheck.catalog.tubes import find_tube, nearest_tubes

    found = find_tube(name)
    if found is None:
        near = " or ".join(nearest_tubes(name))
        raise Failure(
            f"the catalogue has no tube {name}"
            + (f"; did you mean {near}?" if near else "; a `type` statement can define it in a set")
        )
    if form == "json":
        from netcheck.output.machine import tube_document

        write([tube_document(found)], target, replace)
    else:
        from netcheck.output.tube import tube_lines

        write(tube_lines(found), target, replace)


def _installed_rules() -> Sequence[Rule]:
    """The rules installed. None at all is a broken installation and must not look like a pass."""
    from netcheck.plugins import installed_rules

    rules = installed_rules()
    if not rules:
        raise Failure("no rules are installed, so nothing can be checked: install netcheck again")
    return rules


def _unknown_rule(name: str, known: Iterable[str]) -> str:
    from netcheck.language.mistakes import nearest

    close = nearest(name, known)
    remedy = f"did you mean {close}?" if close else "`netcheck why` lists them all"
    return f"no rule is called {name}; {remedy}"


class _Tally:
    """The exit status of a run, kept while the reports stream by."""

    def __init__(self, threshold: Harm) -> None:
        self.threshold = threshold
        self.status = 0

    def watch(self, reports: Iterable[Report]) -> Iterator[Report]:
        """Yield the reports unchanged."""
        for report in reports:
            if not report.was_read or report.solved is False:
                self.status = NOT_READ
            elif report.standing(self.threshold):
                self.status = max(self.status, FOUND)
            yield report


def _lint_lines(
    reports: Iterable[Report], form: str, rules: Sequence[Rule], target: str | None
) -> Iterator[str]:
    if form == "json":
        from netcheck.output.machine import lint_lines

        return lint_lines(reports)
    from netcheck.output.text import lines

    colour = target is None and sys.stdout.isatty() and not os.environ.get("NO_COLOR")
    return lines(reports, [each.name for each in rules], colour)


def _sets(names: Iterable[str]) -> Iterator[tuple[str, str]]:
    """Yield every file meant, once, and what keeps it from being read (empty: nothing known)."""
    seen: set[str] = set()
    for name in names:
        folder = name != STDIN and os.path.isdir(name)
        for path, fault in _below(name) if folder else [(name, "")]:
            key = path if path == STDIN else os.path.realpath(path)
            if key not in seen:
                seen.add(key)
                yield path, fault


def _below(folder: str) -> Iterator[tuple[str, str]]:
    """Yield the sets below a folder in order; hidden ones and linked folders are left out."""
    closed: list[OSError] = []
    empty = True
    for root, folders, names in os.walk(folder, onerror=closed.append):
        folders[:] = sorted(each for each in folders if not each.startswith("."))
        for name in sorted(names):
            if name.lower().endswith(SUFFIX) and not name.startswith("."):
                empty = False
                yield os.path.join(root, name), ""
    for fault in closed:
        reason = (fault.strerror or str(fault)).lower()
        yield fault.filename or folder, f"this folder cannot be read: {reason}"
    if empty and not closed:
        yield folder, f"there is no set (*{SUFFIX}) below this folder"


def _reports(wanted: Sequence[tuple[str, str]], rules: Sequence[Rule]) -> Iterator[Report]:
    progress = len(wanted) > _PROGRESS_FROM and sys.stderr.isatty()
    for number, (path, fault) in enumerate(wanted, start=1):
        if progress:
            click.echo(f"\r{number} of {len(wanted)} sets", err=True, nl=number == len(wanted))
        try:
            yield _unread(path, fault) if fault else _report(path, rules)
        except Exception as trouble:
            trouble.add_note(f"in {path}")
            raise


def _report(path: str, rules: Sequence[Rule]) -> Report:
    from netcheck.language.files import read, read_file
    from netcheck.rules._runner import lint as run

    if path != STDIN:
        return run(read_file(path), rules)
    try:
        text = stdin_text()
    except ValueError as fault:
        return _unread(STDIN_NAME, str(fault))
    return run(read(text, STDIN_NAME), rules)


def _unread(file: str, fault: str) -> Report:
    """A report on something that is no set: one finding, and the mark that it was not read."""
    from netcheck.chassis import Chassis
    from netcheck.findings import Span
    from netcheck.language.mistakes import Mistake
    from netcheck.rules._runner import Report

    finding = Mistake(
        fault,
        Span(file, 1, 1, 1, 1),
        "name a set, or a folder that has one",
        why="Nothing is known of what was not read.",
    ).finding("")
    chassis = Chassis(file=file, was_read=False, findings=(finding,))
    return Report(chassis, chassis.findings)


def main() -> NoReturn:
    """Run the commands as a program."""
    app(prog_name="netcheck")
    raise AssertionError("click leaves by SystemExit")
