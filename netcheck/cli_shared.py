"""What several modules of commands share: failing in a sentence, output options, writing.

Belongs here: that and nothing else. Does not belong here: any command.
"""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Callable, Iterable, Iterator
from typing import TYPE_CHECKING, Any, Final

import click

from netcheck.output.columns import visible

if TYPE_CHECKING:
    from netcheck.rules._runner import Report

__all__ = [
    "NOT_READ", "STDIN", "STDIN_NAME", "Failure", "drop_stdout", "lint_output_options",
    "output_options", "schema_lines", "stdin_text", "write", "writer_lines",
]  # fmt: skip

NOT_READ: Final = 2
STDIN: Final = "-"
STDIN_NAME: Final = "<stdin>"
FORMS: Final = ("text", "json")


class Failure(click.ClickException):
    """A command that could not do what was asked: one sentence on stderr, exit status 2."""

    exit_code = NOT_READ

    def show(self, file: Any = None) -> None:
        """Print the sentence, wrapped in nothing and with nothing in it that could act."""
        click.echo(f"netcheck: {visible(self.message)}", file=file, err=file is None)


def drop_stdout() -> None:
    """Point stdout at nothing, so that the interpreter's last flush cannot fail again."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, sys.stdout.fileno())
    except (OSError, io.UnsupportedOperation):
        pass
    finally:
        os.close(nowhere)


def _form_named(ctx: click.Context, param: click.Parameter, value: str) -> str:
    """One of netcheck's own forms, or that of an installed writer; a slip gets the nearest."""
    if value in FORMS:
        return value
    from netcheck.entries import OUTPUT
    from netcheck.language.mistakes import did_you_mean
    from netcheck.plugins import everything_brought, installed_writers

    writers = installed_writers()
    if value in writers:
        return value
    known = (*FORMS, *writers)
    remedy = did_you_mean(value, known, f"there are {', '.join(known)}")
    faults = [f for each in everything_brought() if each.group == OUTPUT for f in each.faults]
    said = "; ".join((f"no form is called {value}", remedy, *faults))
    raise click.BadParameter(said, ctx, param)


def writer_lines(form: str, reports: Iterable[Report]) -> Iterator[str]:
    """Yield the lines of an installed writer.

    Raises:
        Failure: the writer raised, or yields something else than lines.
    """
    from netcheck.plugins import installed_writers

    distribution, writer = installed_writers()[form]
    told = _Told(reports)
    try:
        for line in writer(told):
            if not isinstance(line, str):
                raise TypeError(f"it yields {type(line).__name__} where lines are due")
            yield from line.split("\n")
    except (BrokenPipeError, GeneratorExit):
        raise
    except Exception as fault:
        if told.fault is fault:
            raise
        said = f"the writer {form} of {distribution} failed: {type(fault).__name__}: {fault}"
        raise Failure(f"{said}; the result is not whole") from fault
    for _ in told:  # what a writer does not take still counts for the exit status
        pass


class _Told:
    """Reports on their way to a writer; `fault` is what making one of them raised, if anything."""

    def __init__(self, reports: Iterable[Report]) -> None:
        self._reports = iter(reports)
        self.fault: Exception | None = None

    def __iter__(self) -> Iterator[Report]:
        return self

    def __next__(self) -> Report:
        try:
            return next(self._reports)
        except StopIteration:
            raise
        except Exception as fault:
            self.fault = fault
            raise


def output_options(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command the options that say in which form its result goes where."""
    form = click.option(
        "--as",
        "form",
        type=click.Choice(FORMS),
        default="text",
        show_default=True,
        help="The form of the result.",
    )
    return _where_to(form(command))


def lint_output_options(command: Callable[..., None]) -> Callable[..., None]:
    """As `output_options`, with the forms of installed writers."""
    form = click.option(
        "--as",
        "form",
        metavar="FORM",
        callback=_form_named,
        default="text",
        help="The form of the result: text (if not given), json, or that of an installed writer.",
    )
    return _where_to(form(command))


def _where_to(command: Callable[..., None]) -> Callable[..., None]:
    for option in (
        click.option("--schema", is_flag=True, help="Print the JSON Schema of --as json and stop."),
        click.option("--replace", is_flag=True, help="Let a file be overwritten."),
        click.option(
            "-o", "--output", "target", metavar="FILE", help="Write here instead of to stdout."
        ),
    ):
        command = option(command)
    return command


def schema_lines(name: str) -> list[str]:
    """The JSON Schema of a document, as lines."""
    from netcheck.output.machine import schema

    return schema(name).splitlines()


def stdin_text() -> str:
    """The text of standard input.

    Raises:
        ValueError: it is too large for a set or no text; the message says so.
    """
    from netcheck.language.files import MOST_BYTES

    data = sys.stdin.buffer.read(MOST_BYTES + 1)  # bounded: a pipe may never end
    if len(data) > MOST_BYTES:
        raise ValueError(f"this text is larger than a set may be ({MOST_BYTES} bytes)")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = data.count(b"\n", 0, fault.start) + 1
        raise ValueError(f"this is not UTF-8 text: byte {fault.start + 1}, line {line}") from fault


def write(
    lines: Iterable[str], target: str | None, replace: bool, read: Iterable[str] = ()
) -> None:
    """Put the result where it was asked for; nothing else ever goes to stdout."""
    if target is not None:
        from netcheck.output.saving import check_target, save

        check_target(target, replace, read)
        save(target, lines, replace)
        return
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="backslashreplace")
    try:
        for line in lines:
            sys.stdout.write(line + "\n")
        sys.stdout.flush()
    except BrokenPipeError:
        raise
    except OSError as fault:
        drop_stdout()
        reason = (fault.strerror or str(fault)).lower()
        raise Failure(f"the result could not be written to stdout: {reason}") from fault
