"""The report in a real browser: what a person on a phone, at a desk and with a printer gets.

The system's Chromium is driven by playwright. In CI it must be there; elsewhere the tests are
skipped with the reason when it is not.
"""

from __future__ import annotations

import io
import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from netcheck import read
from netcheck.bench.dossier import Dossier
from netcheck.output.report import report_lines
from tests.circuit.generated import a_set

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
SETS = ("larkfield-five-as-found", "tansley-console-as-found", "plovermere-three-way-restored")
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")

if CHROMIUM is None and not os.environ.get("CI"):
    pytest.skip("no system Chromium to look at the report with", allow_module_level=True)

# WCAG 2.1, 1.4.3: relative luminance and the ratio of two colours, text against what is behind it.
CONTRASTS = """
() => {
  const rgb = text => (text.match(/[\\d.]+/g) || []).map(Number);
  const channel = v => (v /= 255) <= 0.03928 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
  const light = c => 0.2126 * channel(c[0]) + 0.7152 * channel(c[1]) + 0.0722 * channel(c[2]);
  const behind = node => {
    for (let at = node; at; at = at.parentElement) {
      const colour = rgb(getComputedStyle(at).backgroundColor);
      if (colour.length === 3 || colour[3] === 1) return colour;
    }
    return [255, 255, 255];
  };
  const found = [];
  for (const node of document.querySelectorAll('body *')) {
    if (node.closest('title, style')) continue;
    const own = [...node.childNodes].some(c => c.nodeType === 3 && c.textContent.trim());
    if (!own) continue;
    const style = getComputedStyle(node);
    const svg = node.namespaceURI.endsWith('svg');
    const a = light(rgb(svg ? style.fill : style.color)), b = light(behind(node));
    const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
    if (ratio < 4.5) found.push([node.tagName, node.textContent.trim().slice(0, 40), ratio]);
  }
  return found;
}
"""

OVERLAPS = """
() => {
  const found = [];
  for (const svg of document.querySelectorAll('svg.map[role=img]')) {
    const texts = [...svg.querySelectorAll('text')];
    const boxes = texts.map(t => [t.firstChild.textContent, t.getBBox()]);
    const view = svg.viewBox.baseVal;
    boxes.forEach(([name, a], i) => {
      if (a.x < -0.5 || a.x + a.width > view.width + 0.5) found.push([name, 'outside']);
      for (const [other, b] of boxes.slice(i + 1)) {
        const wide = Math.min(a.x + a.width, b.x + b.width) - Math.max(a.x, b.x);
        const high = Math.min(a.y + a.height, b.y + b.height) - Math.max(a.y, b.y);
        if (wide > 0.5 && high > 2.5) found.push([name, other, wide, high]);
      }
    });
  }
  return found;
}
"""


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    from playwright.sync_api import sync_playwright

    assert CHROMIUM is not None, "CI must have a system Chromium: .ci/run installs it"
    with sync_playwright() as started:
        running = started.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield running
        running.close()


@pytest.fixture(scope="module", params=SETS)
def html(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = EXAMPLES / f"{request.param}.chassis"
    target = tmp_path_factory.mktemp("report") / f"{request.param}.html"
    target.write_text("\n".join(report_lines(Dossier(read(path.read_text(), str(path))))))
    return target


def opened(browser: Browser, html: Path, width: int, **more: Any) -> Page:
    page = browser.new_page(viewport={"width": width, "height": 800}, **more)
    page.goto(html.as_uri())
    return page


def test_no_error_and_no_request(browser: Browser, html: Path) -> None:
    page = browser.new_page()
    said: list[str] = []
    asked: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda fault: said.append(str(fault)))
    page.on("request", lambda request: asked.append(request.url))
    page.goto(html.as_uri())
    page.wait_for_load_state("networkidle")
    assert said == []
    assert asked == [html.as_uri()]
    page.close()


@pytest.mark.parametrize("width", [360, 768, 1280])
def test_no_scrolling_sideways(browser: Browser, html: Path, width: int) -> None:
    page = opened(browser, html, width)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    cut = page.evaluate(
        "() => [...document.querySelectorAll('.card, table, .panel')]"
        ".filter(e => e.scrollWidth > e.clientWidth + 1).map(e => e.className)"
    )
    assert cut == []
    page.close()


def test_the_keyboard_reaches_every_finding(browser: Browser, html: Path) -> None:
    page = opened(browser, html, 1280)
    wanted = set(page.evaluate("() => [...document.querySelectorAll('.finding')].map(e => e.id)"))
    assert wanted
    reached: set[str] = set()
    for _ in range(4 * len(wanted) + 40):
        page.keyboard.press("Tab")
        here = page.evaluate("() => (document.activeElement.closest('.finding') || {}).id || ''")
        reached.add(here)
        if wanted <= reached:
            break
    assert wanted <= reached
    page.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_stands_out_by_four_and_a_half(browser: Browser, html: Path, scheme: Any) -> None:
    page = opened(browser, html, 1280, color_scheme=scheme)
    assert page.evaluate(CONTRASTS) == []
    page.close()


def test_without_script_it_reads_the_same(browser: Browser, html: Path) -> None:
    page = opened(browser, html, 1280, java_script_enabled=False)
    assert page.locator("#findings").inner_text()
    page.close()


def test_print_has_no_blank_page(browser: Browser, html: Path) -> None:
    from pypdf import PdfReader

    page = opened(browser, html, 1280)
    pages = PdfReader(io.BytesIO(page.pdf(format="A4", prefer_css_page_size=True))).pages
    assert len(pages) > 1
    for number, each in enumerate(pages, start=1):
        assert len(each.extract_text().split()) > 3, f"page {number} is as good as empty"
    page.close()


def test_no_label_of_the_map_lies_on_another(browser: Browser, html: Path) -> None:
    page = opened(browser, html, 1280)
    assert page.evaluate(OVERLAPS) == []
    page.close()


@pytest.mark.parametrize("seed", [3, 11, 27])
def test_the_map_of_a_set_of_ninety_parts_is_legible(
    browser: Browser, tmp_path: Path, seed: int
) -> None:
    html = tmp_path / "large.html"
    html.write_text("\n".join(report_lines(Dossier(read(a_set(seed, 90))))))
    for width in (360, 1280):
        page = opened(browser, html, width)
        assert page.evaluate("document.querySelectorAll('svg.map .part').length") >= 90
        assert page.evaluate(OVERLAPS) == []
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        page.close()
