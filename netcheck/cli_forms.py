"""The forms in which `lint` can write: netcheck's own, and those of installed writers.

Belongs here: the option that names one, running a writer so that its faults are sentences. Does not
belong here: finding writers (plugins.py), where the result goes (cli_shared.py).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import TYPE_CHECKING, Final

import click

from netcheck.cli_shared import Failure, where_to
from netcheck.output.columns import visible

if TYPE_CHECKING:
    from netcheck.rules._runner import Report

__all__ = ["lint_output_options", "writer_lines"]

FORMS: Final = ("text", "json")


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
    raise click.BadParameter(visible(said), ctx, param)


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


def lint_output_options(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command the options for its result, with the forms of installed writers."""
    form = click.option(
        "--as",
        "form",
        metavar="FORM",
        callback=_form_named,
        default="text",
        help="The form of the result: text (if not given), json, or that of an installed writer.",
    )
    return where_to(form(command))
