"""The faces of the build sheet: the same digits everywhere, every stage and line of work, and texts that stay texts."""

import csv
import io
import json
import re
from collections.abc import Iterator
from dataclasses import replace
from html import unescape
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from service.answers.asking import Asked, ask
from service.answers.envelope import RULES
from service.faces import json_face
from service.faces.build_sheet_gaps import ranges
from service.faces.labels import NAMES, label
from service.faces.registry import faces_of
from service.quantities import UnitSystem
from service.reference.dataset import Dataset
from service.sheet import sheet

DEMO = Path(__file__).parents[2] / "service" / "sheet" / "demo_build.json"
FACES = faces_of("build_sheet")
SYSTEMS: tuple[UnitSystem, ...] = ("metric", "us")
HOSTILE = "</title><script>alert('x')</script><img src=x onerror=\"y\"> & 'so' on"


@pytest.fixture(scope="module")
def demo() -> dict[str, Any]:
    document: dict[str, Any] = json.loads(DEMO.read_bytes())
    return document


@pytest.fixture(scope="module")
def asked(demo: dict[str, Any], dataset: Dataset) -> Asked:
    return ask(sheet.TOPIC, demo, dataset)


class Reader(HTMLParser):
    """What a reader of the page sees: the words, and the tags with their attributes."""

    VOID = frozenset({"meta", "br", "img", "input"})

    def __init__(self, page: bytes) -> None:
        super().__init__()
        self.texts: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.feed(page.decode())
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Keep the tag, and that it is open."""
        self.tags.append((tag, dict(attrs)))
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        """The innermost open tag is the one that is closed."""
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        """Keep what is read; style is not."""
        if self.open and self.open[-1] != "style":
            self.texts.append(data)

    @property
    def words(self) -> str:
        """All that is read, with single spaces."""
        return " ".join(" ".join(self.texts).split())


def result_of(asked: Asked, system: UnitSystem) -> dict[str, Any]:
    """The result as the JSON face answers it."""
    result: dict[str, Any] = json.loads(json_face.write(asked, system))["result"]
    return result


def quantities_of(tree: Any) -> Iterator[dict[str, Any]]:
    """Every written quantity of a tree."""
    if isinstance(tree, dict) and "text" in tree and "unit" in tree:
        yield tree
    elif isinstance(tree, dict | list):
        for inner in tree.values() if isinstance(tree, dict) else tree:
            yield from quantities_of(inner)


def input_in_words(path: str) -> str:
    """An input as the sheet names it: its own label, or that which it has under its topic."""
    name = re.sub(r"\.\d+", "", path)
    own = name.partition(".")[2] or name
    return label(name if name in NAMES else own)


def squeezed(text: bytes) -> str:
    return " ".join(text.decode().split())


@pytest.mark.parametrize("system", SYSTEMS)
def test_every_line_of_work_and_every_stage_is_in_page_and_text(asked: Asked, system: UnitSystem) -> None:
    result = result_of(asked, system)
    page, text = Reader(FACES["html"](asked, system)).words, squeezed(FACES["text"](asked, system))
    assert len(result["work"]) > 80  # the demo has work in every stage but the first
    for line in result["work"]:
        task, words = (" ".join(line[name].split()) for name in ("task", "words"))
        for face in (page, text):
            assert task in face
            assert words in face
            assert "value" not in line or line["value"]["text"] in face
    for stage in result["stages"]:
        assert stage["title"] in page
        assert stage["title"].upper() in text
        for caution in stage["cautions"]:
            assert caution in page
            assert caution in text


@pytest.mark.parametrize("system", SYSTEMS)
def test_no_face_shows_a_figure_that_the_json_does_not_have(asked: Asked, system: UnitSystem) -> None:
    """Every figure of length, torque, force or pressure is one that the JSON reads out, or a rule's threshold."""
    answer = json.loads(json_face.write(asked, system))
    known = json.dumps(answer, ensure_ascii=False) + " ".join(rule.rule for rule in RULES.values())
    figure = re.compile(r"-?\d+(?:\.\d+)? (?:mm|in|N·m|lbf·ft|N|lbf|kPa|psi|cm³|in³|L)(?= \(|\))")
    for face in (Reader(FACES["html"](asked, system)).words, squeezed(FACES["text"](asked, system))):
        shown = set(figure.findall(face))
        assert len(shown) > 100
        assert [text for text in shown if text not in known] == []


@pytest.mark.parametrize("system", SYSTEMS)
def test_torque_list_has_the_same_digits_in_csv_page_text_and_json(asked: Asked, system: UnitSystem) -> None:
    torques = result_of(asked, system)["sections"]["torque"]
    unit = torques[0]["torque"]["unit"]
    rows = list(csv.DictReader(io.StringIO(FACES["csv"](asked, system).decode())))
    page, text = Reader(FACES["html"](asked, system)).words, squeezed(FACES["text"](asked, system))
    assert len(rows) == len(torques) > 10
    for row, torque in zip(rows, torques, strict=True):
        assert float(row[f"wrench setting [{unit}]"]) == torque["wrench_setting"]["value"]
        assert row["wrench setting as read out"] == torque["wrench_setting"]["text"]
        passes = [step["torque"] for step in torque.get("sequence", {"passes": []})["passes"]] or [torque["torque"]]
        assert [row[f"pass {number} [{unit}]"] for number in range(1, len(passes) + 1)] == [str(p["value"]) for p in passes]
        assert all(one["text"] in face for one in passes for face in (page, text))
        for end in ("low", "nominal", "high"):
            force = torque["preload"][end]
            assert float(row[f"preload {end} [{force['unit']}]"]) == force["value"]
        for end in ("low", "high"):
            assert torque["preload"][end]["text"] in page
            assert torque["preload"][end]["text"] in text
        assert row["answer_id"] == asked.answer_id
    assert rows[0]["thread"] == "M12x1.5"  # the family's case main stud is listed with this thread
    assert rows[0]["condition"] == "engine oil"


def test_without_torques_the_csv_lists_the_work(dataset: Dataset) -> None:
    bare = ask(
        sheet.TOPIC, {"cylinders": 4, "bore": "86 mm", "stroke": "73 mm", "lash": {"pushrod_material": "steel"}}, dataset
    )
    work = result_of(bare, "metric")["work"]
    rows = list(csv.DictReader(io.StringIO(FACES["csv"](bare, "metric").decode())))
    assert [row["task"] for row in rows] == [line["task"] for line in work]
    assert [row["as read out"] for row in rows] == [line["value"]["text"] if "value" in line else "" for line in work]


def test_page_and_text_go_from_the_engine_by_its_findings_and_the_work_to_what_was_given(asked: Asked) -> None:
    """What a person must see first stands first: which engine, how it stands, then the stages, then what was told of it."""
    result = result_of(asked, "metric")
    displacement = result["sections"]["displacement"]["displacement"]["text"]
    ratio = f"compression ratio {result['sections']['compression']['compression_ratio']:.4g}"
    stages = [stage["title"] for stage in result["stages"]]
    for face, titles, given in (
        (Reader(FACES["html"](asked, "metric")).words, stages, "The engine as given"),
        (squeezed(FACES["text"](asked, "metric")), [title.upper() for title in stages], "THE ENGINE AS GIVEN"),
    ):
        engine = f"harrow-r17 · 4 cylinders · bore 86 mm × stroke 73 mm · displacement {displacement} · {ratio}"
        assert engine in face
        work = [
            face.index(f"{number} {title}", face.rindex(asked.answer.findings[-1].message))
            for number, title in enumerate(titles, 1)
        ]
        places = [face.index(engine), face.index(asked.answer.findings[0].message), *work, face.rindex(given)]
        assert places == sorted(places)


@pytest.mark.parametrize(
    ("document", "verdict"),
    [
        ({}, "No rule was broken."),
        ({"engine": "harrow-r17"}, "No stop, and nothing to mend."),
        ({"engine": "harrow-r17", "air_temperature": "-5 degC"}, "No stop. Heed the cautions below."),
        ({"checks": {"bright_flakes_found": True}}, "Stop: not to be run as it stands."),
        (
            {"torque": [{"thread": "M8x1.25"}, {"thread": "M8x1.25", "torque": "20 N*m"}]},
            "Look again at what was given: a figure is in doubt.",
        ),
    ],
)
def test_gravest_finding_is_the_verdict(document: dict[str, Any], verdict: str, dataset: Dataset) -> None:
    partial = ask(sheet.TOPIC, document, dataset)
    assert verdict in Reader(FACES["html"](partial, "metric")).words
    assert verdict.upper() in squeezed(FACES["text"](partial, "metric"))


@pytest.mark.parametrize("system", SYSTEMS)
def test_no_name_of_a_field_is_read_out(asked: Asked, system: UnitSystem) -> None:
    """Neither ``chamber_volume`` nor ``torque.3.parts`` nor a bare name that only the JSON understands."""
    for face in (Reader(FACES["html"](asked, system)).words, squeezed(FACES["text"](asked, system))):
        assert re.findall(r"\b[a-z]+_[a-z_0-9]+\b|\b[a-z]+\.\d+\.[a-z]+|\b[a-z]{4,}\.[a-z]{3,}\b", face) == []
        assert not re.search(r"contributions|levers|per cylinder, |cm3", face)
        assert "clearance volume from deck" in face


def test_findings_come_first_with_reason_remedy_and_source(asked: Asked) -> None:
    page, text = Reader(FACES["html"](asked, "metric")).words, squeezed(FACES["text"](asked, "metric"))
    assert asked.answer.findings
    first_stage = page.index("The combination", page.index("Findings"))
    for finding in asked.answer.findings:
        for words in (finding.message, finding.rule.reason, finding.rule.remedy, finding.rule.source, finding.rule.code):
            assert words in page
            assert words in text
        assert page.index(finding.message) < first_stage
    every = [page.index(finding.message) for finding in asked.answer.findings]
    assert every == sorted(every)


def test_what_is_missing_not_checked_assumed_and_cited_is_told(asked: Asked) -> None:
    page, text = Reader(FACES["html"](asked, "metric")).words, squeezed(FACES["text"](asked, "metric"))
    for entry in result_of(asked, "metric")["missing"]:
        for words in (input_in_words(entry["input"]), *entry["unlocks"]):
            assert words in page
            assert words in text
    for gap in asked.answer.unchecked:
        assert gap["check"].replace("-", " ") in page
        assert gap["check"].replace("-", " ") in text
        for need in gap["needs"]:
            assert input_in_words(need) in page
    for source in {entry["source"] for entry in asked.answer.basis.values()}:
        assert asked.dataset.source(source).title in page
    for assumption in asked.answer.assumptions:
        assert assumption["reason"].rstrip(".") in page
    for words in (asked.answer_id, asked.dataset.sha256, "The maker's manual, local codes and licensed practice come first."):
        assert words in page


@pytest.mark.parametrize(("numbers", "words"), [([3], "3"), ([0, 1, 2, 5, 7, 8], "0–2,5,7–8"), ([], ""), ([4, 2, 3, 3], "2–4")])
def test_runs_of_places_are_drawn_together(numbers: list[int], words: str) -> None:
    assert ranges(numbers) == words


def test_hostile_texts_stay_texts(demo: dict[str, Any], dataset: Dataset) -> None:
    """What a caller writes into the free fields is shown as it is and is never markup (no tag, no attribute, no address)."""
    identity = dict.fromkeys(("name", "engine_number", "owner", "builder", "date", "remarks"), HOSTILE)
    parts = [dict.fromkeys(("role", "description", "facts", "source"), HOSTILE)]
    hostile = ask(sheet.TOPIC, {**demo, "identity": identity, "parts": parts}, dataset)
    hostile = replace(hostile, link="/v1/build-sheet?in=a&format='html'><script>")
    page = FACES["html"](hostile, "metric")
    reader = Reader(page)
    harmless = Reader(FACES["html"](ask(sheet.TOPIC, {**demo, "parts": []}, dataset), "metric"))
    kinds = {tag for tag, _ in reader.tags}
    assert kinds == {tag for tag, _ in harmless.tags}
    assert "script" not in kinds
    assert not [name for _, attributes in reader.tags for name in attributes if name.startswith("on")]
    assert reader.words.count(" ".join(HOSTILE.split())) >= len(identity) + 4
    assert HOSTILE in unescape(page.decode())
    assert b"<script" not in page


def test_page_is_sound_without_script_or_anything_from_outside(asked: Asked) -> None:
    page = FACES["html"](replace(asked, link="/v1/build-sheet?in=abc"), "metric")
    reader = Reader(page)  # every tag is closed in its order, or this has failed
    assert reader.open == []
    tags = dict(reader.tags)
    assert tags["html"]["lang"] == "en"
    assert "width=device-width" in (tags["meta"]["content"] or "")
    sources = [attributes["src"] or "" for tag, attributes in reader.tags if tag == "img"]
    assert len(sources) >= 3  # tightening sequence, pulley marks, break-in profile
    assert all(source.startswith("data:image/svg+xml;base64,") for source in sources)
    assert all((attributes.get("alt") or "") > "" for tag, attributes in reader.tags if tag == "img")
    links = [attributes["href"] or "" for tag, attributes in reader.tags if tag == "a"]
    assert all(link.startswith(("#", "/v1/build-sheet")) for link in links)
    ids = [attributes["id"] for _, attributes in reader.tags if "id" in attributes]
    assert len(ids) == len(set(ids))
    assert {link[1:] for link in links if link.startswith("#")} <= set(ids)
    headings = [int(tag[1]) for tag, _ in reader.tags if re.fullmatch("h[1-6]", tag)]
    assert headings.count(1) == 1
    assert all(later <= earlier + 1 for earlier, later in pairwise(headings))


def test_each_line_has_a_box_and_two_blanks_with_names_of_their_own(asked: Asked) -> None:
    reader = Reader(FACES["html"](asked, "metric"))
    inputs = [attributes for tag, attributes in reader.tags if tag == "input"]
    work = len(asked.answer.result["work"])
    blanks = [attributes["aria-label"] for attributes in inputs if attributes["type"] == "text"]
    assert len(blanks) == 2 * work == len(set(blanks))
    assert sum(attributes["type"] == "checkbox" for attributes in inputs) >= work


@pytest.mark.parametrize("system", SYSTEMS)
def test_text_fits_a_terminal(asked: Asked, system: UnitSystem) -> None:
    lines = FACES["text"](asked, system).decode().split("\n")
    assert max(map(len, lines)) <= 80


@pytest.mark.parametrize(
    "document", [{}, {"bore": "86 mm"}, {"torque": [{"thread": "M8x1.25"}, {"thread": "M8x1.25", "torque": "20 N*m"}]}]
)
def test_partial_builds_have_every_face(document: dict[str, Any], dataset: Dataset) -> None:
    """Also a list whose first question is unanswered: the second keeps its own place."""
    partial = ask(sheet.TOPIC, document, dataset)
    for face in ("html", "text", "csv"):
        for system in SYSTEMS:
            assert FACES[face](partial, system)
    page = Reader(FACES["html"](partial, "metric")).words
    for entry in result_of(partial, "metric")["missing"]:
        assert input_in_words(entry["input"]) in page
    for torque in result_of(partial, "metric")["sections"].get("torque", []):
        assert torque["torque"]["text"] in page


def test_permalink_of_the_page_opens_the_same_sheet(client: Any, demo: dict[str, Any]) -> None:
    page = client.post("/v1/build-sheet?format=html", demo)
    assert page.headers["content-type"].startswith("text/html")
    assert "default-src 'none'" in page.headers["content-security-policy"]
    link = next(a["href"] for tag, a in Reader(page.content).tags if tag == "a" and (a["href"] or "").startswith("/"))
    assert link is not None
    again = client.get(f"{link}&format=html")
    assert again.content == page.content
