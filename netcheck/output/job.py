"""The job sheet and the note for the chassis, for people and for programs.

Belongs here: boxes, the card's size, JSON. Does not belong here: what they say (bench/).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from netcheck.bench.chassis_note import ChassisNote
from netcheck.bench.jobsheet import JobSheet
from netcheck.output.charts import assumed_lines, caution_lines, heading
from netcheck.output.columns import clipped, visible, width, wrapped
from netcheck.output.machine import assumed_fact, document

__all__ = ["CARD_COLUMNS", "CARD_LINES", "job_document", "job_lines", "note_document", "note_lines"]

# A6 (148 x 105 mm, ISO 216) at 12 characters to the inch and 6 lines, with a margin.
CARD_COLUMNS: Final = 60
CARD_LINES: Final = 22
_OPEN_LINES: Final = 4
_CARD_CAUTION: Final = (
    "LETHAL VOLTAGES INSIDE. Capacitors hold their charge with the plug out: discharge and"
    " measure. Guidance, no clearance; local codes and licensed practice come first."
)


def job_lines(sheet: JobSheet) -> Iterator[str]:
    """Yield the job sheet as text of at most 78 columns, [x] for what the text says is done."""
    yield from heading("JOB SHEET", sheet.title, sheet.file)
    if sheet.solved is False:
        yield from wrapped(
            "The voltages of this set are not solved: see `netcheck volts` for what is missing."
        )
    for number, section in enumerate(sheet.sections, start=1):
        yield ""
        yield f"{number}. {section.title}"
        for item in section.items:
            yield from wrapped(item.text, first="   [x] " if item.done else "   [ ] ")
    yield from assumed_lines(sheet.assumed)
    yield from caution_lines()


def job_document(sheet: JobSheet) -> str:
    """Return the JSON document of a job sheet."""
    return document(
        {
            "file": sheet.file,
            "title": sheet.title,
            "solved": sheet.solved,
            "stages": [
                {
                    "title": section.title,
                    "items": [
                        {"text": item.text, "done": item.done, "parts": list(item.refs)}
                        for item in section.items
                    ],
                }
                for section in sheet.sections
            ],
            "assumed": [assumed_fact(each) for each in sheet.assumed],
        }
    )


def note_lines(note: ChassisNote) -> Iterator[str]:
    """Yield the card: sides of at most 60 columns and 22 lines, cautions on the first.

    What does not fit on the first side goes to further ones.
    """
    head = list(_card_head(note))
    caution = list(wrapped(_CARD_CAUTION, columns=CARD_COLUMNS))
    body = [line for key, text in note.lines for line in _entry(key, text)]
    room = CARD_LINES - len(head) - len(caution) - 2
    first, rest = body[:room], body[room:]
    yield from _side([*head, "", *first, "", *caution])
    while rest:
        again = f"{clipped(note.title or note.file, CARD_COLUMNS - 12)} (continued)"
        yield from _side([again, "", *rest[: CARD_LINES - 2]])
        rest = rest[CARD_LINES - 2 :]


def _card_head(note: ChassisNote) -> Iterator[str]:
    yield clipped(note.title or note.file, CARD_COLUMNS)
    by, date = note.by or "_" * 22, note.date or "_" * 14
    yield clipped(f"worked on by {by}  date {date}", CARD_COLUMNS)
    for point in note.open_points:
        lines = wrapped(point, columns=CARD_COLUMNS - 6)
        yield from (f"OPEN  {each}" for each in lines[:_OPEN_LINES])
        if len(lines) > _OPEN_LINES:
            yield "OPEN  and more"


def _entry(key: str, text: str) -> Iterator[str]:
    yield from wrapped(text, first=f"{visible(key):<11}", columns=CARD_COLUMNS)


def _side(lines: list[str]) -> Iterator[str]:
    edge = f"+{'-' * (CARD_COLUMNS + 2)}+"
    yield edge
    for line in lines:
        yield f"| {line}{' ' * (CARD_COLUMNS - width(line))} |"
    yield edge


def note_document(note: ChassisNote) -> str:
    """Return the JSON document of a note."""
    return document(
        {
            "file": note.file,
            "title": note.title,
            "by": note.by,
            "date": note.date,
            "lines": [{"about": key, "text": text} for key, text in note.lines],
            "open": list(note.open_points),
        }
    )
