"""What several modules of commands share: failing in a sentence, output options, writing.

Belongs here: that and nothing else. Does not belong here: any command.
"""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Any, Final

import click

from netcheck.output.columns import visible

if TYPE_CHECKING:
    from netcheck.chassis import Chassis

__all__ = [
    "NOT_READ", "STDIN", "STDIN_NAME", "Failure", "drop_stdout", "one_set", "output_in",
    "output_options", "schema_lines", "stdin_text", "write",
]  # fmt: skip

NOT_READ: Final = 2
STDIN: Final = "-"
STDIN_NAME: Final = "<stdin>"


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


def output_in(*forms: str) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Give a command the options that say in which of these forms its result goes where."""

    def decorate(command: Callable[..., None]) -> Callable[..., None]:
        for option in (
            click.option(
                "--schema", is_flag=True, help="Print the JSON Schema of --as json and stop."
            ),
            click.option("--replace", is_flag=True, help="Let -o overwrite a file."),
            click.option(
                "-o", "--output", "target", metavar="FILE", help="Write here instead of to stdout."
            ),
            click.option(
                "--as",
                "form",
                type=click.Choice(forms),
                default=forms[0],
                show_default=True,
                help="The form of the result.",
            ),
        ):
            command = option(command)
        return command

    return decorate


output_options = output_in("text", "json")


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


def one_set(ctx: click.Context, file: str | None) -> Chassis:
    """The set a command that takes one is asked about.

    Raises:
        Failure: the file is not there or is no text; says which.
    """
    from netcheck.language.files import read, read_file

    if file is None:
        raise click.UsageError("name a set, or - for standard input", ctx)
    if file != STDIN:
        chassis = read_file(file)
        if not chassis.texts:  # there is nothing to tell of: no file, or one that is no text
            raise Failure("; ".join(found.message for found in chassis.findings))
        return chassis
    try:
        return read(stdin_text(), STDIN_NAME)
    except ValueError as fault:
        raise Failure(f"{STDIN_NAME}: {fault}") from fault


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
