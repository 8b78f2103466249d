"""The replacement list for people, for spreadsheets and for programs.

Belongs here: its order and look as text, CSV and JSON. Does not belong here: what is replaced and
with what (bench/recap.py).
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from typing import Any, Final

from netcheck.bench.fitting import Fit
from netcheck.bench.recap import Kept, Order, Recap, Row
from netcheck.output.charts import assumed_lines, caution_lines, heading
from netcheck.output.columns import clipped, visible, wrapped
from netcheck.output.machine import assumed_fact, document, not_checked_fact
from netcheck.output.numbers import finite

__all__ = ["csv_cell", "recap_csv", "recap_document", "recap_lines"]

_LABEL: Final = 12
_COLUMNS: Final = (
    "reference", "line", "there", "fit", "pieces", "value", "unit", "rating", "rating unit",
    "class", "kind", "connect", "to do", "reasons", "rules",
)  # fmt: skip


def recap_lines(paper: Recap) -> Iterator[str]:
    """Yield the replacement list as text of at most 78 columns."""
    yield from heading("REPLACEMENT LIST", paper.title, paper.file)
    if paper.solved is False:
        yield from wrapped(
            "The voltages of this set are not solved: ratings follow the old parts alone. See"
            " `netcheck volts` for what is missing."
        )
    if not paper.rows:
        yield from wrapped("No finding asks for a part. That is no clearance: see `netcheck lint`.")
    for row in paper.rows:
        if not row.only_suffers:
            yield from _row(row)
    yield from _suffering([row for row in paper.rows if row.only_suffers])
    yield from _order(paper.order)
    yield from _kept("Leave alone", paper.kept)
    yield from _kept("Already renewed", paper.done)
    yield from _not_checked(paper)
    yield from assumed_lines(paper.assumed)
    yield from caution_lines()


def _row(row: Row) -> Iterator[str]:
    yield ""
    role = f", {row.role}" if row.role else ""
    yield from wrapped(f"{row.there}{role} (line {row.line})", first=f"{visible(row.ref):<6}")
    if row.fit is not None:
        also = f" ({row.fit.note})" if row.fit.note else ""
        pieces = f"{row.fit.count} x " if row.fit.count > 1 else ""
        yield from _labelled("fit", f"{pieces}{row.fit.text}{also}")
        yield from _labelled("connect", row.connection)
    yield from _labelled("to do", row.todo)
    if row.fit is not None:
        yield from _labelled("because", "; ".join(row.fit.reasons))


def _suffering(rows: Sequence[Row]) -> Iterator[str]:
    """Parts for which nothing is to be fitted: what troubles them is put right elsewhere."""
    if rows:
        yield ""
        yield "Nothing to fit here: put right at another part, then look at these again"
    for row in rows:
        yield from wrapped(f"{row.ref} {row.there}: {row.todo}", first="  * ")


def _labelled(label: str, text: str) -> Iterator[str]:
    if text:
        yield from wrapped(text, first=f"      {label}".ljust(6 + _LABEL - 3))


def _order(order: Sequence[Order]) -> Iterator[str]:
    yield ""
    yield "To order (and spares)"
    if not order:
        yield "  nothing"
    for each in order:
        spare = f"+ {each.spares}" if each.spares else ""
        said = f"{each.text}: {', '.join(each.refs)}"
        yield from wrapped(said, first=f"  {each.count:>3} {spare:<4} ")


def _kept(title: str, parts: Iterable[Kept]) -> Iterator[str]:
    groups: dict[str, list[str]] = {}
    for each in parts:
        groups.setdefault(each.why, []).append(f"{each.ref} {each.there}".strip())
    if groups:
        yield ""
        yield title
    for why, named in groups.items():
        yield from wrapped(f"{'; '.join(clipped(n, 40) for n in named)}: {why}", first="  * ")


def _not_checked(paper: Recap) -> Iterator[str]:
    if paper.not_checked:
        yield ""
        yield "Not checked, so nothing is said of it here"
    for each in paper.not_checked:
        refs = f" ({', '.join(each.parts)})" if each.parts else ""
        yield from wrapped(f"{each.rule}{refs}: {each.reason}", first="  * ")


# --- CSV


def csv_cell(text: str) -> str:
    """A cell that no spreadsheet takes for a formula, on one line.

    A leading =, +, -, @, tab or return starts a formula in common spreadsheets; an apostrophe
    before it makes it text (OWASP, CSV Injection, from memory).

    >>> csv_cell("=1+1"), csv_cell("C14"), csv_cell("-5 V")
    ("'=1+1", 'C14', "'-5 V")
    """
    plain = visible(" ".join(text.split()))
    return f"'{plain}" if plain[:1] in ("=", "+", "-", "@") else plain


def recap_csv(paper: Recap) -> Iterator[str]:
    """Yield the replacement list as CSV (RFC 4180), a row a part; cautions are in the last rows."""
    yield _csv_line(_COLUMNS)
    for row in paper.rows:
        fit = row.fit
        yield _csv_line(
            (
                row.ref, str(row.line), row.there, fit.text if fit else "",
                str(fit.count) if fit else "", _number(fit.value if fit else None),
                fit.unit if fit else "", _number(fit.rating if fit else None),
                fit.rating_unit if fit else "", fit.mark if fit else "", fit.kind if fit else "",
                row.connection, row.todo, "; ".join(fit.reasons) if fit else "",
                " ".join(row.rules),
            )
        )  # fmt: skip
    for line in caution_lines():
        if line.strip():
            yield _csv_line(("", "", line.strip()))


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:.4g}"


def _csv_line(cells: Iterable[str]) -> str:
    stream = io.StringIO()
    csv.writer(stream, lineterminator="").writerow([csv_cell(each) for each in cells])
    return stream.getvalue()


# --- JSON


def recap_document(paper: Recap) -> str:
    """Return the JSON document of a replacement list."""
    return document(
        {
            "file": paper.file,
            "title": paper.title,
            "solved": paper.solved,
            "parts": [_part(row) for row in paper.rows],
            "order": [
                {
                    "text": each.text,
                    "count": each.count,
                    "spares": each.spares,
                    "parts": list(each.refs),
                    **_bought(each.fit),
                }
                for each in paper.order
            ],
            "keep": [_left(each) for each in paper.kept],
            "renewed": [_left(each) for each in paper.done],
            "not_checked": [not_checked_fact(each) for each in paper.not_checked],
            "assumed": [assumed_fact(each) for each in paper.assumed],
        }
    )


def _part(row: Row) -> dict[str, Any]:
    fit = None
    if row.fit is not None:
        fit = {
            "text": row.fit.text,
            "pieces": row.fit.count,
            **_bought(row.fit),
            "note": row.fit.note,
            "reasons": list(row.fit.reasons),
        }
    return {
        "part": row.ref,
        "line": row.line,
        "there": row.there,
        "role": row.role,
        "harm": row.harm.value,
        "fit": fit,
        "to_do": row.todo,
        "connect": row.connection,
        "rules": list(row.rules),
    }


def _bought(fit: Fit) -> dict[str, Any]:
    return {
        "kind": fit.kind,
        "value": finite(fit.value),
        "unit": fit.unit,
        "rating": finite(fit.rating),
        "rating_unit": fit.rating_unit,
        "class": fit.mark,
    }


def _left(part: Kept) -> dict[str, str]:
    return {"part": part.ref, "there": part.there, "why": part.why}
