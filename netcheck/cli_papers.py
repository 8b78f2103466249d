"""The commands that print the papers of the bench.

Belongs here: options, the one set that is meant, exit status. Does not belong here: what a paper
says (bench/), its look (output/).
"""

from __future__ import annotations

import click

from netcheck.cli_shared import NOT_READ, one_set, output_in, schema_lines, write

__all__ = ["recap"]


@click.command(short_help="List the parts to replace, with what to fit.")
@click.argument("file", required=False, metavar="FILE")
@output_in("text", "csv", "json")
@click.pass_context
def recap(
    ctx: click.Context, file: str | None, form: str, target: str | None, replace: bool, schema: bool
) -> None:
    """List every part of the set in FILE (- for standard input) that a finding speaks of.

    For each: what is there, what to fit (value, rating, kind, class), where its ends go and why;
    then the order, what to leave alone, and what is renewed already.

    Exit status: 2 if the set was not read or its voltages are not solved (ratings then follow the
    old parts alone), else 0.
    """
    if schema:
        write(schema_lines("recap"), target, replace)
        return
    from netcheck.bench.recap import recap as listed
    from netcheck.bench.workup import Workup
    from netcheck.output.recap import recap_csv, recap_document, recap_lines

    chassis = one_set(ctx, file)
    paper = listed(Workup(chassis))
    if form == "json":
        lines = iter([recap_document(paper)])
    else:
        lines = recap_csv(paper) if form == "csv" else recap_lines(paper)
    write(lines, target, replace, [file or ""])
    if paper.solved is False or not chassis.was_read:
        ctx.exit(NOT_READ)
