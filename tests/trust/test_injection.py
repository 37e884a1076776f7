"""Texts that want to be more than texts: in pages, drawings, tables, terminals, header fields and problems they stay texts."""

import csv
import io
import json
import re
from html import escape
from html.parser import HTMLParser
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import httpx
import pytest

from service.answers.topics import BY_PATH
from service.faces.registry import faces_of
from tests.client import Client
from tests.trust.fields import Field, text_fields

HOSTILE: list[str] = json.loads((Path(__file__).parent / "hostile_texts.json").read_text(encoding="utf-8"))
CONTROL = (
    "a\r\nSet-Cookie: a=b",
    "a\nb",
    "\x1b[31mred",
    "a\x00b",
    "\x7f",
    "a\tb",
    "\x9b31mred",
    "a\u202eb",
    "a\u2066b",
    "a\u2028b",
)

SHEET = "/v1/build-sheet"
FACES = {
    path: ("json", *sorted(faces_of("build_sheet" if path == SHEET else BY_PATH[path].name))) for path in (SHEET, *BY_PATH)
}


class Tags(HTMLParser):
    """The elements of a page with the names of their attributes."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: set[tuple[str, tuple[str, ...]]] = set()
        self.values: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Keep the element."""
        self.found.add((tag, tuple(sorted(name for name, _ in attrs))))
        self.values += [value or "" for name, value in attrs if name in ("href", "src", "action", "style")]


def check_html(answer: httpx.Response) -> None:
    page = Tags(answer.text)
    names = {tag for tag, _ in page.found}
    assert not names & {
        "script",
        "iframe",
        "object",
        "embed",
        "base",
        "form",
        "input",
        "img",
        "link",
        "template",
        "math",
        "xmp",
    }
    assert not [attributes for _, attributes in page.found if any(name.startswith("on") for name in attributes)]
    assert not [value for value in page.values if re.match(r"\s*(javascript|data|vbscript):|//", value, re.IGNORECASE)]
    assert "default-src 'none'" in answer.headers["content-security-policy"]


def check_svg(answer: httpx.Response) -> None:
    for element in ET.fromstring(answer.content).iter():  # noqa: S314 - our own answer, a few kilobytes
        assert element.tag.rpartition("}")[2] not in {"script", "foreignObject", "use", "image", "animate", "set", "a"}
        assert not [name for name in element.attrib if name.rpartition("}")[2].lower().startswith(("on", "href"))]
    assert "<!ENTITY" not in answer.text


def check_csv(answer: httpx.Response) -> None:
    """A cell that a spreadsheet would run begins with one of these and is no number."""
    for row in csv.reader(io.StringIO(answer.content.decode(), newline="")):
        for cell in row:
            if cell.startswith(("=", "+", "-", "@", "\t", "\r", "\0")):
                float(cell)


def check_text(answer: httpx.Response) -> None:
    assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f\x80-\x9f]", answer.text), "a terminal obeys control characters"


def check_json(answer: httpx.Response) -> None:
    json.loads(answer.content)


CHECKS = {"html": check_html, "svg": check_svg, "csv": check_csv, "text": check_text, "json": check_json}


def check(answer: httpx.Response, face: str) -> None:
    """The face keeps texts texts, and the header holds none of them."""
    assert answer.status_code in (200, 400, 404, 406, 422), answer.text[:300]
    CHECKS[face if answer.status_code == 200 else "json"](answer)
    assert "set-cookie" not in answer.headers
    for name, value in answer.headers.items():
        assert value.isascii()
        assert value.isprintable()
        assert not re.search(r"[<>\"'`{}|\\^]", value) or name in ("etag", "content-security-policy", "accept-query"), (
            name,
            value,
        )


def identity(text: str) -> dict[str, Any]:
    """A build whose every free text is the same."""
    names = ("name", "engine_number", "owner", "builder", "date", "remarks")
    return {
        "cylinders": 4,
        "bore": "86 mm",
        "stroke": "73 mm",
        "identity": dict.fromkeys(names, text),
        "parts": [{"role": text, "description": text, "facts": text, "source": text}],
    }


def test_there_are_eighty_and_more() -> None:
    assert len(set(HOSTILE)) == len(HOSTILE) >= 80


@pytest.mark.parametrize("face", FACES[SHEET])
def test_a_build_sheet_shows_hostile_texts_as_texts(face: str, client: Client) -> None:
    """The sheet repeats names and remarks; a benign sheet of the same build has the very same elements."""
    benign = client.post(f"{SHEET}?format={face}", identity("plain words"))
    for text in HOSTILE:
        answer = client.post(f"{SHEET}?format={face}", identity(text))
        assert answer.status_code == 200, (text, answer.text[:300])
        check(answer, face)
        if face == "html":
            assert escape(text.strip(), quote=False)[:20] in answer.text.replace("&quot;", '"').replace("&#x27;", "'"), text
            assert Tags(answer.text).found == Tags(benign.text).found, text


@pytest.mark.parametrize("text", CONTROL)
def test_control_characters_are_refused(text: str, client: Client) -> None:
    answer = client.post(SHEET, identity(text))
    assert answer.status_code in (400, 422)
    check(answer, "json")


# In every other field a few stand for the many.
FEW = ("<script>alert(1)</script>", "=1+1", "' onmouseover='alert(1)", "a\r\nSet-Cookie: a=b", "../../etc/passwd", "{bore}")


@pytest.mark.parametrize("field", text_fields(), ids=lambda field: field.path + field.pointer)
def test_hostile_texts_in_any_field_break_nothing_and_are_not_repeated_by_refusals(field: Field, client: Client) -> None:
    faces = FACES.get(field.path, ("json",)) if field.path != SHEET else ("json",)
    for text in FEW:
        for face in faces:
            control = f"?format={face}" if face != "json" else ""
            answer = client.request(
                "POST", field.path + control, content=field.body(json.dumps(text)), headers={"content-type": "application/json"}
            )
            if answer.headers["content-type"].startswith("text/csv"):
                check(answer, "csv")
                continue
            check(answer, face)
            if answer.status_code != 200:
                assert text not in answer.json().__repr__(), "a refusal repeats no raw input"


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_texts_in_an_address_are_not_repeated(text: str, client: Client) -> None:
    for params in ({"bore": text}, {text: "86mm"}, {"dataset": text}, {"format": text}, {"units": text}, {"in": text}):
        answer = client.get("/v1/displacement", params={"cylinders": "4", "stroke": "73mm", **params})
        assert answer.status_code in (400, 404, 406, 414, 422), answer.text
        check(answer, "json")
        if len(text) > 6:
            assert text not in answer.json().__repr__()
