"""The commands that print the papers of the bench.

Belongs here: options, the one set that is meant, exit status. Does not belong here: what a paper
says (bench/), its look (output/).
"""

from __future__ import annotations

import click

from netcheck.cli_shared import NOT_READ, one_set, output_in, schema_lines, write

__all__ = ["jobsheet", "note", "recap", "report_page", "start"]


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


@click.command(short_help="Print the whole job for this set, with boxes.")
@click.argument("file", required=False, metavar="FILE")
@output_in("text", "json")
@click.pass_context
def jobsheet(
    ctx: click.Context, file: str | None, form: str, target: str | None, replace: bool, schema: bool
) -> None:
    """Print the job for the set in FILE (- for standard input) in order, boxes to tick.

    What the text says is done (a part renewed, a resistor measured) is ticked.

    Exit status: 2 if the set was not read or its voltages are not solved, else 0.
    """
    if schema:
        write(schema_lines("jobsheet"), target, replace)
        return
    from netcheck.bench.jobsheet import job_sheet
    from netcheck.bench.workup import Workup
    from netcheck.output.job import job_document, job_lines

    chassis = one_set(ctx, file)
    sheet = job_sheet(Workup(chassis))
    write(
        [job_document(sheet)] if form == "json" else job_lines(sheet), target, replace, [file or ""]
    )
    if sheet.solved is False or not chassis.was_read:
        ctx.exit(NOT_READ)


@click.command(short_help="Print the card that stays in the chassis.")
@click.argument("file", required=False, metavar="FILE")
@click.option("--by", default="", metavar="NAME", help="Who worked on it; else a line to fill in.")
@click.option("--date", default="", metavar="DATE", help="When; else a line to fill in.")
@output_in("text", "json")
@click.pass_context
def note(
    ctx: click.Context,
    file: str | None,
    by: str,
    date: str,
    form: str,
    target: str | None,
    replace: bool,
    schema: bool,
) -> None:
    """Print the note for the next repairer of the set in FILE (- for standard input).

    A postcard's size: parts renewed and restuffed, fuse, lamp, plug, isolation, line, cautions.
    Findings of damage or worse that stand are on it as OPEN.

    Exit status: 2 if the set was not read, else 0.
    """
    if schema:
        write(schema_lines("note"), target, replace)
        return
    from netcheck.bench.chassis_note import chassis_note
    from netcheck.bench.workup import Workup
    from netcheck.output.job import note_document, note_lines

    chassis = one_set(ctx, file)
    card = chassis_note(Workup(chassis), by, date)
    write(
        [note_document(card)] if form == "json" else note_lines(card), target, replace, [file or ""]
    )
    if not chassis.was_read:
        ctx.exit(NOT_READ)


@click.command("report", short_help="Make one page with everything, for phone, desk and paper.")
@click.argument("file", metavar="FILE")
@click.option("-o", "--output", "target", metavar="FILE", help="Write here instead of to stdout.")
@click.option("--replace", is_flag=True, help="Let -o overwrite a file.")
@click.pass_context
def report_page(ctx: click.Context, file: str, target: str | None, replace: bool) -> None:
    """Make a self-contained HTML page on the set in FILE (- for standard input).

    Findings, charts, lists, the job, the note and pictures; it needs no network and no script.

    Exit status: 2 if the set was not read or its voltages are not solved, else 0.
    """
    from netcheck.bench.dossier import Dossier
    from netcheck.output.report import report_lines

    chassis = one_set(ctx, file)
    dossier = Dossier(chassis)
    write(report_lines(dossier), target, replace, [file])
    if dossier.work.report.solved is False or not chassis.was_read:
        ctx.exit(NOT_READ)


@click.command(short_help="Write a starting text for a line-up of tubes.")
@click.argument("tubes", nargs=-1, metavar="TUBES...")
@click.option("-o", "--output", "target", metavar="FILE", help="Write here instead of to stdout.")
@click.option("--replace", is_flag=True, help="Let -o overwrite a file.")
def start(tubes: tuple[str, ...], target: str | None, replace: bool) -> None:
    """Write the text of a set with these TUBES, to be edited: "12BE6 12BA6 12AV6 50C5 35W4".

    Tubes with their electrodes, the usual supply, coupling and bias parts; every typical value
    carries the note "assumed".
    """
    from netcheck.bench.start import starting_text

    write(starting_text(" ".join(tubes)).splitlines(), target, replace)
