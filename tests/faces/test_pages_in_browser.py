"""The pages in a real browser: nothing runs over, nothing is faint, nothing is asked of the outside, at phone and paper width.

Every page is fetched from the app beforehand and served to the browser with the app's own header fields, so that the content
policy holds as it does in service. The browser itself has no way out.
"""

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import httpx
import pytest
from playwright.sync_api import Browser, Page, Route, sync_playwright

from service.api.openapi import document_bytes
from tests.client import Client

pytestmark = pytest.mark.browser

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "service" / "sheet" / "demo_build.json"
ORIGIN = "http://runstand.test"
LONGEST_PRINT = 17  # sheets of paper for the demo's build; one that grows is not hung up any more
PAPER = 794  # CSS pixels of A4's 210 mm
WIDTHS = (360, 768, PAPER)
PAGES = {
    "/sheet": ("/v1/build-sheet?format=html", True),
    "/sheet-us": ("/v1/build-sheet?format=html&units=us", True),
    "/displacement": ("/v1/displacement?cylinders=4&bore=86mm&stroke=73mm&format=html", False),
    "/lash": ("/v1/lash?engine=harrow-r17&pushrod_material=steel&format=html", False),
    "/home": ("/", False),
    "/problem": ("/problems/invalid-input", False),
}

# For every element that holds text of its own: the contrast of its colour with the nearest background that is not clear.
CONTRAST = """() => {
  const parse = text => text.match(/[\\d.]+/g).map(Number);
  const light = ([r, g, b]) => [r, g, b].map(v => v / 255)
    .map(v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4)
    .reduce((sum, v, i) => sum + v * [0.2126, 0.7152, 0.0722][i], 0);
  const ground = node => {
    for (; node; node = node.parentElement) {
      const colour = parse(getComputedStyle(node).backgroundColor);
      if (colour.length < 4 || colour[3] === 1) return colour;
      if (colour[3] > 0) throw new Error("half-clear background");
    }
    throw new Error("no background");
  };
  const found = [];
  for (const node of document.body.querySelectorAll("*")) {
    if (node.closest("svg")) continue;
    const own = [...node.childNodes].some(n => n.nodeType === 3 && n.textContent.trim());
    for (const part of [own || node.tagName === "INPUT" ? null : undefined, "::before"]) {
      if (part === undefined || part && ["none", "normal"].includes(getComputedStyle(node, part).content)) continue;
      const ink = light(parse(getComputedStyle(node, part).color)), paper = light(ground(node));
      const ratio = (Math.max(ink, paper) + 0.05) / (Math.min(ink, paper) + 0.05);
      found.push([ratio, node.tagName + "." + node.className + (part ?? "") + ": " + node.textContent.trim().slice(0, 40)]);
    }
  }
  return found;
}"""

# Every visible element whose right edge lies beyond the window.
OUTSIDE = """() => [...document.body.querySelectorAll("*")].filter(node => {
  const box = node.getBoundingClientRect();
  return box.width > 1 && (box.right > innerWidth + 0.5 || box.left < -0.5) && !node.closest("thead, .wide");
}).map(node => node.tagName + "." + node.className + ": " + node.textContent.trim().slice(0, 40))"""


@pytest.fixture(scope="module")
def served(client: Client) -> dict[str, httpx.Response]:
    """What the app answers, fetched before the browser starts: by the path under which the browser finds it."""
    demo = json.loads(DEMO.read_bytes())
    found = {path: client.post(link, demo) if posted else client.get(link) for path, (link, posted) in PAGES.items()}
    for path in ("/docs", "/openapi.json", "/docs/docs.js", "/docs/swagger-ui-bundle.js", "/docs/swagger-ui.css"):
        found[path] = client.get(path)
    assert [path for path, answer in found.items() if answer.status_code != 200] == []
    return found


@pytest.fixture(scope="module")
def browser(served: dict[str, httpx.Response]) -> Iterator[Browser]:
    """Debian's chromium. It starts after all pages are fetched: its loop and the client's cannot run at once."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path="/usr/bin/chromium", args=["--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"]
        )
        yield browser
        browser.close()


class Visit:
    """A page opened in the browser, with what it complained of and what it asked for elsewhere."""

    def __init__(self, browser: Browser, served: dict[str, httpx.Response], path: str, **options: Any) -> None:
        self.complaints: list[str] = []
        self.elsewhere: list[str] = []
        self.served = served
        self.context = browser.new_context(**options)
        self.page: Page = self.context.new_page()
        self.page.on("console", lambda message: self.complaints.append(message.text) if message.type == "error" else None)
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.route("**/*", self._answer)
        self.page.goto(f"{ORIGIN}{path}", wait_until="load")

    def _answer(self, route: Route) -> None:
        url = route.request.url
        answer = self.served.get(urlsplit(url).path) if url.startswith(f"{ORIGIN}/") else None
        if answer is not None:
            kept = {name: value for name, value in answer.headers.items() if name not in ("content-length", "content-encoding")}
            route.fulfill(status=200, headers=kept, body=answer.content)
        elif url == f"{ORIGIN}/favicon.ico":  # asked by the browser itself, for no page's sake
            route.fulfill(status=204)
        else:
            self.elsewhere.append(url)
            route.abort()

    def __enter__(self) -> "Visit":
        return self

    def __exit__(self, *_: object) -> None:
        self.context.close()


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("path", PAGES)
def test_nothing_runs_over_the_edge(browser: Browser, served: dict[str, httpx.Response], path: str, width: int) -> None:
    with Visit(browser, served, path, viewport={"width": width, "height": 900}) as visit:
        assert visit.page.evaluate("document.documentElement.scrollWidth") <= width
        assert visit.page.evaluate(OUTSIDE) == []
        assert (visit.complaints, visit.elsewhere) == ([], [])


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("path", PAGES)
@pytest.mark.parametrize("width", [360, 1024])
def test_every_text_has_the_contrast_of_wcag_aa(
    browser: Browser, served: dict[str, httpx.Response], path: str, scheme: Any, width: int
) -> None:
    """WCAG 2.2, success criterion 1.4.3: at least 4.5 to 1; the formula of relative luminance is that of its glossary."""
    with Visit(browser, served, path, viewport={"width": width, "height": 900}, color_scheme=scheme) as visit:
        ratios = visit.page.evaluate(CONTRAST)
        assert len(ratios) >= 3
        assert [entry for entry in ratios if entry[0] < 4.5] == []
        ground = visit.page.evaluate("getComputedStyle(document.body).backgroundColor")
        assert (sum(map(int, ground[4:-1].split(","))) < 300) == (scheme == "dark")


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_sheet_prints_whole(browser: Browser, served: dict[str, httpx.Response], paper: str) -> None:
    """On paper nothing is wider than the printed area, heads of tables come again, and ink stands on white."""
    inches = {"A4": 210 / 25.4, "Letter": 8.5}[paper]
    area = round((inches - 26 / 25.4) * 96)  # the margins of the page's own rule: 13 mm to either side
    with Visit(browser, served, "/sheet", viewport={"width": area, "height": 1000}, color_scheme="dark") as visit:
        visit.page.emulate_media(media="print", color_scheme="light")
        assert visit.page.evaluate("document.documentElement.scrollWidth") <= area
        assert visit.page.evaluate(OUTSIDE) == []
        assert visit.page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
        heads = "[...document.querySelectorAll('thead')].map(head => getComputedStyle(head).display)"
        assert set(visit.page.evaluate(heads)) == {"table-header-group"}
        assert [entry for entry in visit.page.evaluate(CONTRAST) if entry[0] < 4.5] == []
        printed = visit.page.pdf(format=paper, prefer_css_page_size=False)
        assert 10 < len(re.findall(rb"/Type\s*/Page\b", printed)) <= LONGEST_PRINT


def test_drawings_of_the_sheet_are_drawn(browser: Browser, served: dict[str, httpx.Response]) -> None:
    with Visit(browser, served, "/sheet", viewport={"width": 360, "height": 900}) as visit:
        sizes = visit.page.evaluate(
            "[...document.images].map(image => [image.complete, image.naturalWidth, image.clientWidth])"
        )
        assert len(sizes) >= 3
        assert all(complete and natural > 0 and shown > 250 for complete, natural, shown in sizes)


def test_boxes_and_blanks_take_ticks_and_words_without_script(browser: Browser, served: dict[str, httpx.Response]) -> None:
    options: dict[str, Any] = {"viewport": {"width": 360, "height": 900}, "java_script_enabled": False}
    with Visit(browser, served, "/sheet", **options) as visit:
        box, blank = visit.page.get_by_label("2.1", exact=True), visit.page.get_by_label("measured 2.1", exact=True)
        box.check()
        blank.fill("52.1")
        assert box.is_checked()
        assert blank.input_value() == "52.1"
        place = box.bounding_box()
        assert place is not None
        assert min(place["width"], place["height"]) >= 24  # WCAG 2.2, 2.5.8: targets of 24 CSS pixels


def test_documentation_shows_every_operation_without_the_internet(browser: Browser, served: dict[str, httpx.Response]) -> None:
    with Visit(browser, served, "/docs", viewport={"width": 1024, "height": 900}) as visit:
        visit.page.wait_for_selector(".opblock", timeout=30_000)
        shown = visit.page.locator(".opblock-summary-path").evaluate_all("all => all.map(one => one.dataset.path)")
        assert (visit.complaints, visit.elsewhere) == ([], [])
    wanted = [
        path
        for path, item in json.loads(document_bytes())["paths"].items()
        for method in item
        if method in ("get", "put", "post", "delete", "options", "head", "patch", "trace")
    ]
    assert len(wanted) > 20
    assert sorted(shown) == sorted(wanted)
