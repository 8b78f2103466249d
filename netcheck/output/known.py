"""The file of known findings: today's are kept, and later only what is new or gone is told.

Belongs here: writing, reading and matching that file. Does not belong here: what makes a finding
the same one (findings.py), where the file is put (saving.py), how the result is worded (text.py).

A danger is never known in the sense of "not told": it is listed and counted as long as it is there.
"""

from __future__ import annotations

import json
import os
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from netcheck import __version__
from netcheck.findings import Finding, Harm, NetcheckError
from netcheck.rules._runner import Report
from netcheck.rules._scope import Compared, KnownFinding

__all__ = ["BadKnown", "Known", "KnownSet", "compared", "kept", "known_lines", "read_known"]

SHAPE: Final = 1
_MOST_BYTES: Final = 50_000_000


class BadKnown(NetcheckError, ValueError):
    """A file of known findings that cannot be used; `file` and `fault` say which and why."""

    def __init__(self, file: str, fault: str) -> None:
        super().__init__(f"{file} is no file of known findings: {fault}")
        self.file = file
        self.fault = fault


@dataclass(frozen=True, slots=True)
class KnownSet:
    """One set in the file: its path from the file's folder, its title, what was found."""

    file: str
    title: str
    findings: tuple[KnownFinding, ...]


@dataclass(frozen=True, slots=True)
class Known:
    """A file of known findings as read."""

    file: str
    sets: tuple[KnownSet, ...]

    def like(self, report: Report) -> KnownSet | None:
        """Return the set that a report is about: of its path, else one whose file was renamed.

        Renamed can only be a set whose file is not there any more; it is known by its title, else
        by having at least half of its findings in common.
        """
        path = _path_from(self.file, report.chassis.file)
        same = [each for each in self.sets if each.file == path]
        if same:
            return same[0]
        lost = [each for each in self.sets if not os.path.exists(_path_of(self.file, each.file))]
        titled = [each for each in lost if each.title and each.title == report.chassis.title]
        if titled:
            return titled[0] if len(titled) == 1 else _most_alike(titled, report)
        return _most_alike([each for each in lost if not each.title], report)


def _most_alike(sets: Sequence[KnownSet], report: Report) -> KnownSet | None:
    now = {found.fingerprint for found in report.findings}

    def shared(each: KnownSet) -> float:
        return len({k.fingerprint for k in each.findings} & now) / max(len(each.findings), 1)

    best = max(sets, key=shared, default=None)
    return best if best is not None and shared(best) >= 0.5 else None


def _path_from(known: str, file: str) -> str:
    """The path of a set as seen from the folder of the file of known findings."""
    if file.startswith("<"):
        return file  # standard input has no path
    try:
        path = os.path.relpath(os.path.realpath(file), os.path.dirname(os.path.realpath(known)))
    except ValueError:  # another drive
        path = os.path.abspath(file)
    return path.replace(os.sep, "/")


def _path_of(known: str, path: str) -> str:
    return os.path.join(os.path.dirname(os.path.realpath(known)), path)


def kept(report: Report, target: str) -> dict[str, Any]:
    """Return what the file `target` keeps of a report."""
    return {
        "file": _path_from(target, report.chassis.file),
        "title": report.chassis.title,
        "findings": [
            {
                "fingerprint": found.fingerprint,
                "rule": found.rule,
                "harm": found.harm.value,
                "parts": list(found.parts),
                "message": found.message,
                "accepted": found.accepted is not None,
            }
            for found in report.findings
        ],
    }


def known_lines(sets: Iterable[Mapping[str, Any]]) -> Iterator[str]:
    """Yield the lines of a file of known findings, one a line, so that changes are seen in it."""
    yield f'{{"netcheck": {json.dumps(__version__)}, "shape": {SHAPE}, "known": ['
    rows = list(sets)
    for number, each in enumerate(rows, start=1):
        findings = each["findings"]
        head = json.dumps({key: each[key] for key in ("file", "title")})
        yield f' {head[:-1]}, "findings": ['
        for count, found in enumerate(findings, start=1):
            yield f"  {json.dumps(found)}{',' if count < len(findings) else ''}"
        yield f" ]}}{',' if number < len(rows) else ''}"
    yield "]}"


def read_known(file: str) -> Known:
    """Read a file of known findings.

    Raises:
        BadKnown: it cannot be read, or is of another form.
    """
    try:
        with open(file, encoding="utf-8") as stream:
            text = stream.read(_MOST_BYTES + 1)
    except (OSError, ValueError) as fault:
        said = getattr(fault, "strerror", None) or "it is no text"
        raise BadKnown(file, f"{said.lower()}; --write-known makes one") from fault
    if len(text) > _MOST_BYTES:
        raise BadKnown(file, f"it is larger than {_MOST_BYTES} bytes")
    try:
        whole = json.loads(text)
        if whole["shape"] != SHAPE:
            raise BadKnown(file, f"its shape is {whole['shape']}, and this version reads {SHAPE}")
        return Known(file, tuple(_known_set(each) for each in whole["known"]))
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as fault:
        if isinstance(fault, BadKnown):
            raise
        raise BadKnown(file, "it is not of the form that --write-known writes") from fault


def _known_set(each: Mapping[str, Any]) -> KnownSet:
    findings = tuple(
        KnownFinding(
            fingerprint=str(found["fingerprint"]),
            rule=str(found["rule"]),
            harm=Harm(found["harm"]),
            parts=tuple(str(part) for part in found["parts"]),
            message=str(found["message"]),
            accepted=found["accepted"] is True,
        )
        for found in each["findings"]
    )
    return KnownSet(str(each["file"]), str(each["title"]), findings)


def compared(report: Report, known: Known, ran: Collection[str]) -> Report:
    """Return a report with only what is new and what is a danger; the rest is in its scope.

    Of two equal findings that are known once, the second is new. One that was known as accepted
    is new when it is not accepted any more.

    Args:
        report: what linting gave, not cut at any harm.
        known: the findings that were there before.
        ran: the rules that ran; of others nobody knows whether what they found is gone.
    """
    like = known.like(report)
    left = list(like.findings) if like is not None else []
    new: list[Finding] = []
    again: list[Finding] = []
    dangers: list[Finding] = []
    for found in report.findings:
        if not _take(left, found):
            new.append(found)
        elif found.harm is Harm.SHOCK_NOW:
            new.append(found)
            dangers.append(found)
        else:
            again.append(found)
    silent = {each.rule for each in report.not_checked}
    gone = [k for k in left if report.was_read and k.rule in ran and k.rule not in silent]
    result = Compared(
        file=known.file,
        of=like.file if like is not None else None,
        known=tuple(again),
        dangers=tuple(dangers),
        gone=tuple(gone),
        not_looked_for=tuple(each for each in left if each not in gone),
    )
    return replace(report, findings=tuple(new), scope=replace(report.scope, compared=result))


def _take(left: list[KnownFinding], found: Finding) -> bool:
    """Take one known finding out of those `left` that is this one; whether there was any."""
    for number, each in enumerate(left):
        same = each.fingerprint == found.fingerprint
        if same and (found.accepted is not None or not each.accepted):
            del left[number]
            return True
    return False
