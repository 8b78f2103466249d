"""The report as text: escaped, self-contained, whole, and its links lead somewhere."""

from __future__ import annotations

import re
from functools import cache
from html.parser import HTMLParser
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from netcheck import read
from netcheck.bench.dossier import Dossier
from netcheck.cli import app
from netcheck.output.curves import band_bar, curve
from netcheck.output.report import report_lines

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
SETS = sorted(EXAMPLES.glob("*.chassis"))
VOID = {"meta", "br", "img", "link", "hr", "input"}
NASTY = """set "<script>alert(1)</script>", by "a & b \x1b[2J", note "&quot;</style>"
line none
hold B1 250 V
C1 .05 mfd 400 V paper, "<img src=x onerror=alert(1)>": B1 to CHASSIS
R1 100K 1 W, "\u202egnol": B1 to CHASSIS
"""


def run(*arguments: str, stdin: str | None = None) -> Result:
    return CliRunner().invoke(app, list(arguments), input=stdin)


@cache
def page(path: Path) -> str:
    return "\n".join(report_lines(Dossier(read(path.read_text(), str(path)))))


class Tags(HTMLParser):
    """Collects tags, ids and links, and sees that every tag is closed."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.names: set[str] = set()
        self.ids: list[str] = []
        self.links: list[str] = []
        self.wrong: list[str] = []
        self.outside: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.names.add(tag)
        given = dict(attrs)
        if given.get("id"):
            self.ids.append(str(given["id"]))
        if tag == "a":
            self.links.append(str(given.get("href")))
        self.outside += [str(v) for k, v in attrs if k in ("src", "srcset", "data", "action")]
        self.outside += [k for k, _ in attrs if k.startswith("on")]
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.open.pop()

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open.pop() != tag:
            self.wrong.append(tag)


def parsed(html: str) -> Tags:
    tags = Tags()
    tags.feed(html)
    assert not tags.wrong
    assert not tags.open
    return tags


@pytest.mark.parametrize("path", SETS, ids=lambda path: path.stem)
def test_every_example_is_well_formed_and_its_links_lead_somewhere(path: Path) -> None:
    tags = parsed(page(path))
    assert len(tags.ids) == len(set(tags.ids))
    assert all(link.startswith("#") for link in tags.links)
    assert {link[1:] for link in tags.links} <= set(tags.ids)
    assert not tags.outside
    assert "script" not in tags.names


@pytest.mark.parametrize("path", SETS, ids=lambda path: path.stem)
def test_every_finding_and_line_is_there_and_linked_both_ways(path: Path) -> None:
    dossier = Dossier(read(path.read_text(), str(path)))
    html = page(path)
    for number, found in enumerate(dossier.work.report.findings, start=1):
        assert f'id="F{number}"' in html
        assert f'href="#F{number}"' in html
        assert f'href="#L{found.span.line}"' in html
    lines = path.read_text().rstrip("\n").split("\n")
    assert html.count('<li id="L') == len(lines)


def test_nothing_is_asked_of_a_network() -> None:
    html = page(SETS[0])
    assert not re.search(r"https?://|@import|url\(", html)


def test_what_a_set_says_cannot_act() -> None:
    html = "\n".join(report_lines(Dossier(read(NASTY))))
    tags = parsed(html)
    assert "script" not in tags.names
    assert "img" not in tags.names
    assert "\x1b" not in html
    assert "\u202e" not in html
    assert "&lt;script&gt;" in html


@pytest.mark.parametrize("text", ["", "\n", "C1 what\n", "line 117 V 60 Hz\n", "V1 6V6: plate X\n"])
def test_poor_texts_have_a_report_that_is_no_clearance(text: str) -> None:
    html = "\n".join(report_lines(Dossier(read(text))))
    parsed(html)
    assert "Guidance, not a clearance" in html
    assert "Lethal voltages" in html


def test_a_set_that_is_not_solved_tells_no_volts() -> None:
    text = "line none\nhold B1 250 V\nV1 6V6: plate X, cathode CHASSIS\nR1 ?: B1 to X\n"
    html = "\n".join(report_lines(Dossier(read(text))))
    assert "not solved" in html
    rows = re.findall(r'class="volts"[^>]*>([^<]*)<', html)
    assert rows
    assert set(rows) == {"no DC told"}


def test_the_map_shows_the_solved_volts() -> None:
    path = EXAMPLES / "larkfield-five-restored.chassis"
    point = Dossier(read(path.read_text(), str(path))).work.circuit.operating.point()
    volts = point.volts("KOUT")
    assert volts is not None
    assert f">{float(f'{volts:.3g}'):g} V<" in page(path)


def test_the_command_writes_a_file_once(tmp_path: Path) -> None:
    target = tmp_path / "out.html"
    path = str(EXAMPLES / "marram-portable-restored.chassis")
    assert run("report", path, "-o", str(target)).exit_code == 0
    assert target.read_text().startswith("<!doctype html>")
    again = run("report", path, "-o", str(target))
    assert again.exit_code == 2
    assert "--replace" in again.output
    assert run("report", path, "-o", str(target), "--replace").exit_code == 0


def test_the_command_says_when_a_set_is_not_read() -> None:
    assert run("report", "-", stdin="C1 what\n").exit_code == 2
    assert run("report", "nowhere.chassis").exit_code == 2


# --- curves


def test_a_curve_goes_where_its_axes_say() -> None:
    drawn = curve(
        [("curve", "line", ((1.0, 0.0), (10.0, 5.0), (100.0, 10.0)))],
        "x", "y", ((1.0, "1"), (10.0, "10"), (100.0, "100")), logarithmic=True,
    )  # fmt: skip
    (first, middle, last) = drawn.lines[0].points
    assert first == (drawn.left, drawn.bottom)
    assert last == (drawn.right, drawn.top)
    assert middle[0] == pytest.approx((drawn.left + drawn.right) / 2)
    assert middle[1] == pytest.approx((drawn.top + drawn.bottom) / 2)
    assert [tick.text for tick in drawn.y_ticks] == ["0", "2", "4", "6", "8", "10"]


def test_an_axis_needs_its_bounds() -> None:
    with pytest.raises(ValueError, match="two ticks"):
        curve([], "x", "y", ((1.0, "1"),))


def test_a_band_without_numbers_is_not_drawn() -> None:
    assert band_bar(None, 1.0, 2.0, 0.0, 3.0) is None
    assert band_bar(1.0, 2.0, 3.0, 0.0, 0.0) is None
