"""The commands that compute: volts and ohms, with the options they share.

Belongs here: options, the one set that is meant, exit status. Does not belong here: reading what
an option says (bench/), figures, their look (output/).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import click

from netcheck.cli_shared import (
    NOT_READ,
    one_set,
    output_options,
    schema_lines,
    write,
)

__all__ = ["ohms", "volts"]


def _supposing(command: Callable[..., None]) -> Callable[..., None]:
    return click.option(
        "--suppose",
        "supposed",
        multiple=True,
        metavar="TEXT",
        help='What differs from the text: "R9 610K", "C14 leaks 2M", "C14 short", "T2 primary'
        ' open", "V4 pulled", "V4 weak", "P2 out", "S3 at LW", "DS1 out", "wire B1 to B2",'
        ' "cut R7", "oscillator dead". Give it again for more.',
    )(command)


@click.command(short_help="Compute the voltage chart of a set.")
@click.argument("file", required=False, metavar="FILE")
@click.option("--line", metavar="VOLTS", help="The line today, as measured at the wall: 124.")
@click.option(
    "--meter",
    metavar="METER",
    help="The meter in hand: 11M, 20k/V:250V, 1k/V:250V, or none.  [default: 11M]",
)
@click.option("--no-band", is_flag=True, help="Leave out low and high, which is quicker.")
@_supposing
@output_options
@click.pass_context
def volts(
    ctx: click.Context,
    file: str | None,
    line: str | None,
    meter: str | None,
    no_band: bool,
    supposed: Sequence[str],
    form: str,
    target: str | None,
    replace: bool,
    schema: bool,
) -> None:
    """Compute the voltage chart of the set in FILE (- for standard input).

    Every figure is solved with the meter connected to that point, volume at maximum, no signal.

    Exit status: 2 if the set was not read or not solved (then no figure is told), else 0.
    """
    if schema:
        write(schema_lines("volts"), target, replace)
        return
    from netcheck.bench.asked import USUAL_METER, meter_of, with_line
    from netcheck.bench.voltage_chart import voltage_chart

    chosen = meter_of(meter) if meter is not None else USUAL_METER
    chassis = one_set(ctx, file)
    chassis = chassis if line is None else with_line(chassis, line)
    chart = voltage_chart(chassis, chosen, supposed, band=not no_band)
    if form == "json":
        from netcheck.output.charts_machine import volts_document

        write([volts_document(chart)], target, replace, [file or ""])
    else:
        from netcheck.output.charts import volt_lines

        write(volt_lines(chart), target, replace, [file or ""])
    if not chart.solved:
        ctx.exit(NOT_READ)


@click.command(short_help="Compute the resistance chart of a set, power off.")
@click.argument("file", required=False, metavar="FILE")
@_supposing
@output_options
@click.pass_context
def ohms(
    ctx: click.Context,
    file: str | None,
    supposed: Sequence[str],
    form: str,
    target: str | None,
    replace: bool,
    schema: bool,
) -> None:
    """Compute what an ohmmeter reads in the set in FILE (- for standard input), power off.

    Exit status: 2 if the set was not read or not solved (then no figure is told), else 0.
    """
    if schema:
        write(schema_lines("ohms"), target, replace)
        return
    from netcheck.bench.resistance_chart import resistance_chart

    chart = resistance_chart(one_set(ctx, file), supposed)
    if form == "json":
        from netcheck.output.charts_machine import ohms_document

        write([ohms_document(chart)], target, replace, [file or ""])
    else:
        from netcheck.output.charts_ohms import ohm_lines

        write(ohm_lines(chart), target, replace, [file or ""])
    if not chart.solved:
        ctx.exit(NOT_READ)
