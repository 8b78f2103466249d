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
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NoReturn

import click

from netcheck import __version__
from netcheck.cli_charts import ohms, volts
from netcheck.cli_forms import lint_output_options, writer_lines
from netcheck.cli_papers import jobsheet, note, powerup, recap, report_page, start
from netcheck.cli_rules import View, all_rules, plugins, rule_options, why
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
    from netcheck.rules._runner import Report
    from netcheck.rules._scope import Asked

__all__ = ["app", "main"]

FOUND: Final = 1
INTERRUPTED: Final = 130
SUFFIX: Final = ".chassis"
DEBUG: Final = "NETCHECK_DEBUG"


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
app.add_command(plugins)
app.add_command(why)
app.add_command(recap)
app.add_command(powerup)
app.add_command(jobsheet)
app.add_command(note)
app.add_command(report_page)
app.add_command(start)


@app.command()
@click.argument("files", nargs=-1, metavar="FILE...")
@rule_options
@click.option(
    "--workers",
    type=click.IntRange(1, 256),
    metavar="N",
    help="Processes that lint at a time; 1 is this one. By default two for more than a few files.",
)
@lint_output_options
@click.pass_context
def lint(
    ctx: click.Context,
    files: Sequence[str],
    view: View,
    workers: int | None,
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
    installed = all_rules()
    asked = view.asked(installed)
    ran = [each.name for each in asked.rules(installed)]
    wanted = list(_sets(files))
    paths = [path for path, _ in wanted]
    view.prepare(replace, paths)
    tally = _Tally(view.fail_on)
    shown = target is None and sys.stdout.isatty()
    try:
        with _reports(wanted, asked, workers, shown) as reports:
            seen = tally.watch(view.watch(reports, asked, ran))
            write(_lint_lines(seen, form, ran, shown), target, replace, paths)
    except KeyboardInterrupt:
        click.echo(f"netcheck: stopped after {tally.seen} of {len(wanted)} sets", err=True)
        raise
    view.save(replace)
    ctx.exit(tally.status)


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


class _Tally:
    """The exit status of a run, kept while the reports stream by."""

    def __init__(self, threshold: Harm) -> None:
        self.threshold = threshold
        self.status = 0
        self.seen = 0

    def watch(self, reports: Iterable[Report]) -> Iterator[Report]:
        """Yield the reports unchanged."""
        for report in reports:
            self.seen += 1
            if not report.was_read or report.solved is False:
                self.status = NOT_READ
            elif report.standing(self.threshold):
                self.status = max(self.status, FOUND)
            yield report


def _lint_lines(
    reports: Iterable[Report], form: str, ran: Sequence[str], shown: bool
) -> Iterator[str]:
    if form == "json":
        from netcheck.output.machine import lint_lines

        return lint_lines(reports)
    if form != "text":
        return writer_lines(form, reports)
    from netcheck.output.text import lines

    colour = shown and not os.environ.get("NO_COLOR")
    return lines(reports, ran, colour)


def _sets(names: Iterable[str]) -> Iterator[tuple[str, str]]:
    """Yield every file meant, once, and what keeps it from being read (empty: nothing known)."""
    names = list(names)
    seen: set[str] = set()
    tops = [os.path.realpath(name) for name in names if name != STDIN]
    for name in names:
        folder = name != STDIN and os.path.isdir(name)
        for path, fault in _below(name, tops) if folder else [(name, "")]:
            key = path if path == STDIN else os.path.realpath(path)
            if key not in seen:
                seen.add(key)
                yield path, fault


def _below(folder: str, tops: Sequence[str]) -> Iterator[tuple[str, str]]:
    """Yield the sets below a folder in order; hidden ones are left out.

    A linked folder is not followed, for it may lead anywhere; it is said unless what it leads to
    lies below one of the `tops`, where its sets are found without it.
    """
    closed: list[OSError] = []
    empty = True
    for root, folders, names in os.walk(folder, onerror=closed.append):
        folders[:] = sorted(each for each in folders if not each.startswith("."))
        for linked in (os.path.join(root, each) for each in folders):
            if os.path.islink(linked) and not _covered(linked, tops):
                empty = False
                yield linked, "this linked folder is not followed: name it to lint what is in it"
        for name in sorted(names):
            if name.lower().endswith(SUFFIX) and not name.startswith("."):
                empty = False
                yield os.path.join(root, name), ""
    for fault in closed:
        reason = (fault.strerror or str(fault)).lower()
        yield fault.filename or folder, f"this folder cannot be read: {reason}"
    if empty and not closed:
        yield folder, f"there is no set (*{SUFFIX}) below this folder"


def _covered(link: str, tops: Sequence[str]) -> bool:
    target = Path(os.path.realpath(link))
    return any(target.is_relative_to(top) for top in tops)


@contextmanager
def _reports(
    wanted: Sequence[tuple[str, str]], asked: Asked, workers: int | None, shown: bool
) -> Iterator[Iterator[Report]]:
    """Give a report on each file meant; one alone is linted here, at the start-up cost of one."""
    if len(wanted) == 1:
        yield (_report(path, fault, asked) for path, fault in wanted)
        return
    from netcheck.cli_many import reports_on, watched, workers_for

    files = [path for path, fault in wanted if not fault and path != STDIN]
    with reports_on(files, workers_for(len(files), workers), asked) as linted:
        reports = (
            _report(path, fault, asked) if fault or path == STDIN else next(linted)
            for path, fault in wanted
        )
        yield watched(reports, len(wanted), shown)


def _report(path: str, fault: str, asked: Asked) -> Report:
    if fault:
        return _unread(path, fault)
    try:
        return _linted(path, asked)
    except Exception as trouble:
        trouble.add_note(f"in {path}")
        raise


def _linted(path: str, asked: Asked) -> Report:
    from netcheck.language.files import read, read_file

    if path != STDIN:
        return asked.report(read_file(path))
    try:
        text = stdin_text()
    except ValueError as fault:
        return _unread(STDIN_NAME, str(fault))
    return asked.report(read(text, STDIN_NAME))


def _unread(file: str, fault: str) -> Report:
    from netcheck.streaming import unread

    return unread(file, fault)


def main() -> NoReturn:
    """Run the commands as a program."""
    # The matrices of a set are small: threads would wait for each other longer than they work. It
    # must be said before numpy is loaded; who has set it himself is left alone.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    app(prog_name="netcheck")
    raise AssertionError("click leaves by SystemExit")
