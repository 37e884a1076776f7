"""The reference data over HTTP: rows and their links, filters, pages, CSV, versions, changes, sources and refusals."""

import csv
import io
import json
import shutil
import timeit
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest

from service.api.openapi import document
from service.api.reference import Reference
from service.api.reference_filters import chosen
from service.api.reference_rows import Rows, csv_page
from service.app import create_app
from service.reference.dataset import Library
from service.reference.tables import TABLES
from service.settings import Settings
from tests.client import Client

DATA = Path(__file__).parents[2] / "data"
ROW = "/v1/reference/threads/M8x1.25"


def test_a_row_tells_the_printed_value_si_and_where_it_is_from(client: Client) -> None:
    """ISO 898-1, Table 4: 36.6 mm² for M8."""
    answer = client.get(ROW)
    area = answer.json()["properties"]["stress_area"]
    assert (area["value"], area["unit"], area["printed"]) == (36.6, "mm2", "36.6 mm2")
    assert area["si"] == {"value": 36.6e-6, "unit": "m2"}
    assert (area["source"], area["evidence"], area["preferred"]) == ("iso-898-1-2013", "standard", True)
    assert answer.headers["dataset-version"] == answer.json()["dataset"]["version"]


def test_both_facts_are_shown_where_sources_disagree(client: Client) -> None:
    proof = client.get("/v1/reference/property-classes/grade-5").json()["properties"]["proof_stress"]
    assert (proof["printed"], proof["preferred"]) == ("85000 psi", True)
    (other,) = proof["others"]
    assert (other["printed"], other["preferred"]) == ("586 MPa", False)
    assert other["note"]


@pytest.mark.parametrize("written", ["3/8-24%20UNF", "3%2F8-24%20UNF", "3/8-24+UNF"])
def test_a_thread_is_addressed_as_it_is_written(client: Client, written: str) -> None:
    answer = client.get(f"/v1/reference/threads/{written}")
    assert answer.status_code == (404 if "+" in written else 200)
    if answer.status_code == 200:
        assert answer.json()["id"] == "3/8-24 UNF"


def test_every_row_can_be_fetched_by_its_own_link(client: Client, library: Library) -> None:
    for version in library.versions:
        held = library.get(version)
        for table in held.tables:
            for id in (held.ids(table)[0], held.ids(table)[-1]):
                first = client.get(f"/v1/reference/{table}/{id}?dataset={version}")
                assert first.status_code == 200, (table, id)
                again = client.get(first.json()["links"]["self"])
                assert again.content == first.content
                assert again.json()["dataset"] == {"version": version, "sha256": held.sha256}


def test_a_reference_to_another_row_is_a_link(client: Client) -> None:
    nut = client.get("/v1/reference/fasteners/air-cooled-flat-four/rocker-shaft-nut").json()
    thread = client.get(nut["links"]["thread"]).json()
    assert thread["id"] == nut["properties"]["thread"]["value"] == "M8x1.25"
    assert client.get(nut["links"]["condition"]).json()["table"] == "conditions"


def test_a_pinned_row_never_changes_and_says_so(client: Client) -> None:
    loose, pinned = client.get(ROW), client.get(f"{ROW}?dataset=2026.12")
    assert "immutable" in pinned.headers["cache-control"]
    assert "immutable" not in loose.headers["cache-control"]
    assert loose.headers["content-location"] == f"{ROW}?dataset=2026.12"
    assert loose.headers["etag"] == pinned.headers["etag"]
    assert client.get(f"{ROW}?dataset=2026.11").headers["etag"] != pinned.headers["etag"]


def test_an_unchanged_row_is_not_sent_again(client: Client) -> None:
    tag = client.get(ROW).headers["etag"]
    again = client.get(ROW, headers={"if-none-match": f'"other", {tag}'})
    assert (again.status_code, again.content) == (304, b"")
    assert again.headers["etag"] == tag
    assert client.get(ROW, headers={"if-none-match": '"other"'}).status_code == 200


@pytest.mark.parametrize("path", [ROW, "/v1/reference/threads", "/v1/reference", "/v1/sources", "/v1/units", "/v1/datasets"])
def test_head_says_what_get_says(client: Client, path: str) -> None:
    got, head = client.get(path), client.request("HEAD", path)
    assert head.content == b""
    same = ("content-type", "content-length", "etag", "cache-control", "dataset-version", "vary")
    assert {name: head.headers[name] for name in same} == {name: got.headers[name] for name in same}


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH"])
@pytest.mark.parametrize("path", [ROW, "/v1/reference/threads", "/v1/datasets/2026.12/changes", "/v1/findings"])
def test_nothing_can_be_written(client: Client, method: str, path: str) -> None:
    answer = client.request(method, path)
    assert answer.status_code == 405
    assert answer.headers["allow"] == "GET, HEAD, OPTIONS"
    asked = client.request("OPTIONS", path)
    assert (asked.status_code, asked.headers["allow"]) == (204, "GET, HEAD, OPTIONS")


def test_a_table_is_listed_with_its_rows(client: Client, library: Library) -> None:
    answer = client.get("/v1/reference/gauges?limit=500").json()
    facts = [fact for entity in library.newest.entities("gauges") for fact in entity.facts]
    assert answer["count"] == len(answer["rows"]) == len(facts)
    assert [(row["id"], row["property"], row["printed"]) for row in answer["rows"]] == [
        (fact.id, fact.property, fact.printed) for fact in facts
    ]
    assert answer["rows"][0]["links"]["self"] == "/v1/reference/gauges/feeler?dataset=2026.12"


def test_rows_are_filtered_by_column_and_by_property(client: Client) -> None:
    areas = client.get("/v1/reference/threads?form=whitworth&property=stress_area&limit=500").json()
    assert areas["count"] == 17
    assert {row["property"] for row in areas["rows"]} == {"stress_area"}
    assert all(row["id"].endswith(("BSW", "BSF")) for row in areas["rows"])
    others = client.get("/v1/reference/property-classes?preferred=no").json()["rows"]
    assert others
    assert all(row["note"] and not row["preferred"] for row in others)
    assert client.get("/v1/reference/threads?form=iso-metric&series=bsw").json()["count"] == 0
    assert client.get("/v1/reference/threads?id=M8x1.25&source=iso-4014-2011").json()["count"] == 1


def test_csv_holds_the_same_rows(client: Client) -> None:
    """RFC 4180, unit in a column of its own; the digits are those of the JSON."""
    query = "?limit=500&property=crank_temperature"
    rows = client.get(f"/v1/reference/oil-grades{query}").json()["rows"]
    for answer in (
        client.get(f"/v1/reference/oil-grades{query}&format=csv"),
        client.get(f"/v1/reference/oil-grades{query}", headers={"accept": "text/csv"}),
    ):
        assert answer.headers["content-type"].startswith("text/csv; charset=utf-8")
        table = list(csv.DictReader(io.StringIO(answer.text, newline="")))
        assert [(row["id"], float(row["value"]), row["unit"], float(row["si"]), row["si_unit"]) for row in table] == [
            (row["id"], row["value"], row["unit"], row["si"]["value"], row["si"]["unit"]) for row in rows
        ]
        assert {row["dataset"] for row in table} == {"2026.12"}
        assert table[0]["value"] == "-35"  # a number is no formula and carries no mark


def test_a_table_comes_whole_as_csv_and_in_pages_where_a_page_is_asked_for(client: Client) -> None:
    """A spreadsheet has no next page: a hundred rows of four hundred would be taken for all."""
    count = client.get("/v1/reference/threads").json()["count"]
    whole = client.get("/v1/reference/threads?format=csv")
    assert len(whole.text.splitlines()) == count + 1
    assert "link" not in whole.headers
    page = client.get("/v1/reference/threads?format=csv&limit=100")
    assert len(page.text.splitlines()) == 101
    assert 'rel="next"' in page.headers["link"]


def test_csv_keeps_the_printed_digits(client: Client) -> None:
    answer = client.get("/v1/reference/threads?id=M10x1.5&property=stress_area&format=csv").text
    assert "M10x1.5,stress_area,58.0,mm2,5.8e-05,m2," in answer


@pytest.mark.parametrize("form", ["json", "csv"])
def test_pages_join_to_the_whole_table(client: Client, form: str) -> None:
    path, seen = f"/v1/reference/engines?limit=97&format={form}", []
    for _ in range(20):
        answer = client.get(path)
        assert answer.status_code == 200
        if form == "json":
            seen += [(row["id"], row["property"], row["source"]) for row in answer.json()["rows"]]
        else:
            rows = csv.DictReader(io.StringIO(answer.text, newline=""))
            seen += [(row["id"], row["property"], row["source"]) for row in rows]
        if "link" not in answer.headers:
            break
        path = answer.headers["link"].partition(">")[0].removeprefix("<")
        assert form == "csv" or answer.json()["links"]["next"] == path
    whole = client.get("/v1/reference/engines?limit=500").json()
    assert len(seen) == whole["count"] > 400
    assert len(set(seen)) == len(seen)


def test_a_cursor_carries_the_version(client: Client) -> None:
    """Pages never mix versions, though a newer one may have been released between two of them."""
    first = client.get("/v1/reference/threads?dataset=2026.11&limit=5").json()
    cursor = first["links"]["next"].partition("cursor=")[2]
    second = client.get(f"/v1/reference/threads?limit=5&cursor={cursor}")
    assert second.json()["dataset"]["version"] == "2026.11"
    assert client.get(first["links"]["next"]).json()["rows"] == second.json()["rows"]
    mixed = client.get(f"/v1/reference/threads?limit=5&cursor={cursor}&dataset=2026.12")
    assert (mixed.status_code, mixed.json()["errors"][0]["code"]) == (422, "not-a-cursor")
    other = client.get(f"/v1/reference/threads?limit=5&cursor={cursor}&form=unified")
    assert (other.status_code, other.json()["errors"][0]["parameter"]) == (422, "cursor")


@pytest.mark.parametrize("cursor", ["x", "MjAyNi4xMi8yL2", "%00", "....", "MjAyNi4xMi8tMS8x", "ä", "=" * 50, "A" * 199])
def test_a_cursor_of_somebody_elses_making_is_refused(client: Client, cursor: str) -> None:
    answer = client.get("/v1/reference/threads", params={"cursor": cursor})
    assert (answer.status_code, answer.json()["errors"][0]["parameter"]) == (422, "cursor")


def test_links_ask_the_same_again(client: Client) -> None:
    answer = client.get("/v1/reference/threads?form=unified&limit=3")
    assert client.get(answer.json()["links"]["self"]).json() == answer.json()


REFUSED: list[tuple[str, int, str, dict[str, Any]]] = [
    ("/v1/reference/thread", 404, "not-in-dataset", {"did_you_mean": "threads"}),
    ("/v1/reference/threads/M8x1.26", 404, "not-in-dataset", {"did_you_mean": "M8x1.25"}),
    ("/v1/reference/engines/air-cooled-flat-for", 404, "not-in-dataset", {"did_you_mean": "air-cooled-flat-four"}),
    ("/v1/reference/threads?dataset=2026.10", 404, "unknown-dataset", {}),
    ("/v1/reference/threads?dataset=../2026.12", 404, "unknown-dataset", {}),
    ("/v1/datasets/2026.10", 404, "unknown-dataset", {}),
    ("/v1/datasets/2026.12/rows", 404, "not-found", {}),
    ("/v1/datasets/2026.12/changes?since=2026.10", 404, "unknown-dataset", {}),
    ("/v1/datasets/2026.11/changes", 422, "invalid-input", {"parameter": "since", "code": "missing"}),
    ("/v1/sources/callister-2017", 404, "not-in-dataset", {"did_you_mean": "callister-2007"}),
    ("/v1/methods/no-such-thing-at-all", 404, "not-found", {}),
    ("/v1/findings/ratio", 404, "not-found", {}),
    ("/v1/units/mm", 404, "not-found", {}),
    ("/v1/versions/1", 404, "not-found", {}),
    ("/v1/reference/threads?formm=unified", 422, "invalid-input", {"code": "unknown-name", "did_you_mean": "form"}),
    ("/v1/reference/threads?id=M6x1&id=M8x1", 422, "invalid-input", {"parameter": "id", "code": "repeated"}),
    ("/v1/reference/threads?id=", 422, "invalid-input", {"parameter": "id", "code": "too-short"}),
    (f"/v1/reference/threads?id={'x' * 300}", 422, "invalid-input", {"parameter": "id", "code": "too-long"}),
    ("/v1/reference/threads?limit=0", 422, "invalid-input", {"parameter": "limit"}),
    ("/v1/reference/threads?limit=501", 422, "invalid-input", {"parameter": "limit"}),
    ("/v1/reference/threads?limit=0000000010000000", 422, "invalid-input", {"parameter": "limit"}),
    ("/v1/reference/threads?limit=1e2", 422, "invalid-input", {"parameter": "limit"}),
    ("/v1/reference/threads?limit=%D9%A3", 422, "invalid-input", {"parameter": "limit"}),
    ("/v1/reference/threads?evidence=standart", 422, "invalid-input", {"code": "unknown-choice", "did_you_mean": "standard"}),
    ("/v1/reference/threads?form=unifeid", 422, "invalid-input", {"parameter": "form", "did_you_mean": "unified"}),
    ("/v1/reference/threads?property=diametre", 422, "invalid-input", {"parameter": "property", "did_you_mean": "diameter"}),
    ("/v1/reference/threads?unit=mm3", 422, "invalid-input", {"parameter": "unit", "code": "unknown-choice"}),
    ("/v1/reference/threads?preferred=maybe", 422, "invalid-input", {"parameter": "preferred", "allowed": ["yes", "no"]}),
    ("/v1/reference/threads?diameter=eight", 422, "invalid-input", {"parameter": "diameter", "code": "not-a-quantity"}),
    ("/v1/reference/threads?diameter=8 kg", 422, "invalid-input", {"parameter": "diameter", "code": "unit-mismatch"}),
    ("/v1/reference/threads?diameter=8 inh", 422, "invalid-input", {"code": "unit-unknown", "did_you_mean": "in"}),
    ("/v1/reference/engines?cylinders=four", 422, "invalid-input", {"parameter": "cylinders", "code": "not-a-number"}),
    (f"{ROW}?limit=3", 422, "invalid-input", {"code": "unknown-name"}),
    ("/v1/units?dataset=2026.12", 422, "invalid-input", {"code": "unknown-name"}),
    ("/v1/reference/threads?id=%ff", 400, "unreadable", {}),
    ("/v1/reference/threads?id", 400, "unreadable", {}),
    (f"{ROW}?format=csv", 406, "not-acceptable", {}),
    ("/v1/reference/threads?format=svg", 406, "not-acceptable", {}),
]


@pytest.mark.parametrize(("path", "status", "kind", "words"), REFUSED, ids=[path for path, *_ in REFUSED])
def test_what_is_not_held_or_not_understood(client: Client, path: str, status: int, kind: str, words: dict[str, Any]) -> None:
    answer = client.get(path)
    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/problem+json"
    problem = answer.json()
    assert problem["type"] == f"/problems/{kind}"
    entry = problem.get("errors", [problem])[0]
    assert {name: entry[name] for name in words} == words


def test_versions_are_listed_with_their_sums(client: Client, library: Library) -> None:
    answer = client.get("/v1/datasets").json()
    assert answer["newest"] == library.newest.version
    assert [(it["version"], it["status"], it["sha256"]) for it in answer["datasets"]] == [
        (version, "current", library.get(version).sha256) for version in library.versions
    ]
    one = client.get("/v1/datasets/2026.12").json()
    assert set(one["tables"]) == set(TABLES)
    assert one["facts"] == sum(table["facts"] for table in one["tables"].values())
    held = client.get("/v1/versions").json()
    assert {pair["dataset"] for pair in held["pairs"]} == set(library.versions)
    assert held["datasets"] == answer["datasets"]


def test_changes_are_told_row_by_row_with_their_cause(client: Client, library: Library) -> None:
    seen: list[dict[str, Any]] = []
    path = "/v1/datasets/2026.12/changes?since=2026.11&limit=500"
    while path:
        answer = client.get(path).json()
        seen += answer["changes"]
        path = answer["links"].get("next", "")
    assert len(seen) == answer["count"] == len(library.diff("2026.11", "2026.12"))
    assert all(change["cause"] for change in seen)
    (iron,) = [it for it in seen if it["change"] == "changed" and (it["id"], it["property"]) == ("ductile-iron", "expansion")]
    assert (iron["before"]["printed"], iron["after"]["printed"]) == ("10.9 1e-6/K", "11.2 1e-6/K")
    assert "60-40-18" in iron["cause"]
    without = client.get("/v1/datasets/2026.12/changes?limit=1").json()
    assert without["since"] == "2026.11"
    table = client.get("/v1/datasets/2026.12/changes?format=csv&limit=500").text
    assert len(list(csv.DictReader(io.StringIO(table, newline="")))) == 500


def test_the_tables_tell_what_they_may_hold(client: Client) -> None:
    tables = client.get("/v1/reference").json()["tables"]
    assert set(tables) == set(TABLES)
    area = tables["threads"]["properties"]["stress_area"]
    assert (area["kind"], area["units"], area["required"]) == ("dimension", ["mm2", "in2"], True)
    assert tables["fasteners"]["properties"]["thread"]["table"] == "threads"
    assert tables["fasteners"]["ids_begin_with"] == "engines"


def test_a_source_tells_edition_access_reuse_and_what_rests_on_it(client: Client) -> None:
    source = client.get("/v1/sources/iso-898-1-2013").json()
    assert source["number"] == "ISO 898-1:2013"
    assert set(source["custom"]) == {"access", "reuse", "seen"}
    listed = client.get("/v1/sources").json()
    assert listed["count"] == len(listed["sources"]) > 60
    facts = client.get("/v1/reference/threads?source=iso-898-1-2013&limit=1").json()["count"]
    assert source["used_by"]["facts"] >= facts > 20
    assert client.get("/v1/sources?dataset=2026.11").json()["dataset"]["version"] == "2026.11"


def test_every_method_and_finding_has_its_own_address(client: Client) -> None:
    for word, key in (("methods", "id"), ("findings", "code")):
        listed = client.get(f"/v1/{word}").json()
        assert listed["count"] == len(listed[word]) > 10
        for entry in listed[word]:
            one = client.get(entry["link"])
            assert one.status_code == 200
            assert one.json()[key] == entry[key]
            assert client.get(f"/v1/sources/{entry['source']}").status_code == 200


def test_a_method_comes_with_formula_symbols_and_worked_example(client: Client) -> None:
    methods = {entry["id"]: entry for entry in client.get("/v1/methods").json()["methods"]}
    for entry in methods.values():
        assert entry["formula"]
        assert entry["locator"]
        assert entry["example"]["by"]
        json.dumps(entry, allow_nan=False)


def test_units_relate_exactly_to_si(client: Client) -> None:
    """SI Brochure and NIST SP 811: 1 in = 0.0254 m; 1 lbf·ft = 1.355 817 948 331 4 N·m; 0 °F = 255.372 K."""
    dimensions = client.get("/v1/units").json()["dimensions"]
    units = {unit["unit"]: unit for dimension in dimensions.values() for unit in reversed(dimension["units"])}
    assert (units["in"]["factor"], units["in"]["offset"]) == (0.0254, 0.0)
    assert units["lbf*ft"]["factor"] == pytest.approx(1.3558179483314004, rel=1e-15)
    assert units["degF"]["offset"] == pytest.approx(255.37222222222223, rel=1e-15)
    assert "ft-lb" in units["lbf*ft"]["aliases"]


def test_five_hundred_rows_as_csv_at_fifty_thousand_a_second(library: Library) -> None:
    """Filtering, cutting and writing a full page, the best of ten."""
    rows, held = Rows(), library.newest

    def page() -> bytes:
        return csv_page(chosen(rows.lines(held, "engines"), held, "engines", {"preferred": "yes"})[:500])

    assert page().count(b"\r\n") > 450
    assert min(timeit.repeat(page, number=1, repeat=10)) < page().count(b"\r\n") / 50_000


def test_no_answer_calls_a_machine_path_or_leaks_the_query(client: Client) -> None:
    for path, *_ in REFUSED:
        text = client.get(path).text
        assert str(DATA.parent) not in text
        assert "Traceback" not in text
    marked = client.get("/v1/reference/threads", params={"<script>alert(1)</script>": "x", "id": "<b>"})
    assert "<script>" not in marked.text


def test_the_documented_addresses_answer(client: Client) -> None:
    """Every path that the OpenAPI document has for the reference data, with real ids in it."""
    real = {"table": "threads", "id": "M8x1.25", "version": "2026.12"}
    ids = {"sources": "derived", "methods": client.get("/v1/methods").json()["methods"][0]["id"]}
    ids["findings"] = client.get("/v1/findings").json()["findings"][0]["code"]
    found = 0
    for path, operations in document()["paths"].items():
        if "reference" in operations.get("get", {}).get("tags", ()):
            word = path.split("/")[2]
            assert client.get(path.format(**{**real, "id": ids.get(word, real["id"])})).status_code == 200, path
            found += 1
    assert found == 14


@pytest.fixture
def with_a_withdrawn_version(tmp_path: Path, client: Client) -> Iterator[Client]:
    """An app whose older version was taken back."""
    folder = Path(shutil.copytree(DATA, tmp_path / "data"))
    releases = json.loads((folder / "releases.json").read_text("utf-8"))
    releases[0] |= {"status": "withdrawn", "reason": "two rows were read wrongly", "successor": "2026.12"}
    (folder / "releases.json").write_text(json.dumps(releases) + "\n", "utf-8")
    other = type(client)(create_app(Settings(data=folder, log_requests=False)))
    yield other
    other.close()


@pytest.mark.parametrize(
    "path",
    [
        f"{ROW}?dataset=2026.11",
        "/v1/reference/threads?dataset=2026.11",
        "/v1/datasets/2026.11",
        "/v1/datasets/2026.12/changes?since=2026.11",
        "/v1/displacement?bore=86mm&stroke=73mm&cylinders=4&dataset=2026.11",
    ],
)
def test_a_withdrawn_version_is_gone_with_reason_and_successor(with_a_withdrawn_version: Client, path: str) -> None:
    answer = with_a_withdrawn_version.get(path)
    assert answer.status_code == 410
    assert answer.json()["successor"] == "2026.12"
    assert "two rows were read wrongly" in answer.json()["detail"]
    listed = with_a_withdrawn_version.get("/v1/datasets").json()["datasets"]
    assert [it["status"] for it in listed] == ["withdrawn", "current"]
    assert listed[0]["reason"] == "two rows were read wrongly"
    held = with_a_withdrawn_version.get("/v1/versions").json()
    assert (held["datasets"], [pair["dataset"] for pair in held["pairs"]]) == (listed, ["2026.12"])
    assert with_a_withdrawn_version.get(ROW).status_code == 200


def test_what_is_not_known_is_absent_and_never_null(client: Client, library: Library) -> None:
    """A text has no SI value, an added row no state before: the names are left out, in lists, rows and catalogues."""
    held = library.newest
    addresses = ["/v1", "/v1/datasets", f"/v1/datasets/{held.version}", f"/v1/datasets/{held.version}/changes?limit=500"]
    addresses += [f"/v1/{word}" for word in ("reference", "sources", "methods", "units", "findings", "versions")]
    for table in held.tables:
        addresses += [f"/v1/reference/{table}?limit=500", f"/v1/reference/{table}/{quote(held.ids(table)[0])}"]
    for address in addresses:
        assert list(_nulls(client.get(address).json())) == [], address
    family = client.get("/v1/reference/engines/air-cooled-flat-four").json()["properties"]
    assert "si" not in family["firing_order"]
    assert "si" in family["stroke"]


def _nulls(tree: Any, name: str = "") -> Iterator[str]:
    """The names that stand without a value."""
    if tree is None:
        yield name
    for key, value in tree.items() if isinstance(tree, dict) else enumerate(tree) if isinstance(tree, list) else ():
        yield from _nulls(value, f"{name}/{key}")


def test_rows_are_kept_by_the_engine_that_they_are_for(client: Client, library: Library) -> None:
    """A displacement of the family has its family's fasteners; an engine with a list of its own has that, in JSON and CSV."""
    rows = client.get("/v1/reference/fasteners?engine=air-cooled-flat-four&limit=500").json()["rows"]
    ids = [id for id in library.newest.ids("fasteners") if id.startswith("air-cooled-flat-four/")]
    assert list(dict.fromkeys(row["id"] for row in rows)) == ids
    of_one = client.get("/v1/reference/fasteners?engine=air-cooled-flat-four-1600&limit=500")
    assert of_one.json()["rows"] == rows
    table = list(csv.DictReader(io.StringIO(client.get(f"{of_one.json()['links']['self']}&format=csv").text)))
    assert [row["id"] for row in table] == [row["id"] for row in rows]
    few = client.get("/v1/reference/fasteners?engine=air-cooled-flat-four&property=torque&limit=2").json()
    assert [row["property"] for row in few["rows"]] == ["torque", "torque"]
    assert "engine=air-cooled-flat-four" in few["links"]["next"]


@pytest.mark.parametrize("table", ["fasteners", "fits", "lash", "ignition", "oil-facts", "valve-train-parts"])
def test_an_engine_that_is_not_held_names_the_nearest(client: Client, table: str) -> None:
    refused = client.get(f"/v1/reference/{table}?engine=air-cooled-flat-fore")
    (error,) = refused.json()["errors"]
    assert (refused.status_code, error["parameter"], error["code"]) == (404, "engine", "unknown-id")
    assert error["did_you_mean"] == "air-cooled-flat-four"


def test_a_table_that_knows_no_engines_does_not_take_one(client: Client) -> None:
    refused = client.get("/v1/reference/threads?engine=air-cooled-flat-four")
    assert refused.status_code == 422
    assert refused.json()["errors"][0]["code"] == "unknown-name"


@pytest.mark.parametrize(
    ("table", "name", "spellings"),
    [
        ("threads", "diameter", ("8", "8.0", "08", "8 mm", "8mm", "0.8 cm", "0.008 m")),
        ("threads", "diameter", ("3/8", "0.375", "3/8 in", '0.375"', "9.525 mm")),
        ("engines", "cylinders", ("4", "4.0", "04")),
        ("oil-grades", "crank_temperature", ("-35", "-35.0", "-35 degC", "238.15 K", "-31 degF")),
    ],
)
def test_a_number_is_found_however_it_is_written(client: Client, table: str, name: str, spellings: tuple[str, ...]) -> None:
    """8, 8.0 and 8 mm are one diameter; a bare number is that of the printed value, one with a unit is compared in SI."""
    found = [client.get(f"/v1/reference/{table}", params={name: text, "limit": "500"}) for text in spellings]
    assert [answer.status_code for answer in found] == [200] * len(spellings)
    ids = [sorted({row["id"] for row in answer.json()["rows"]}) for answer in found]
    assert ids[0]
    assert ids == [ids[0]] * len(spellings)


def test_a_printed_value_is_found_however_it_is_written(client: Client) -> None:
    """ISO 898-1, Table 4 prints 36.6 mm² for M8, and 5/16 BSF comes out the same; 36.60 and 0.366 cm² are the same."""
    for text in ("36.6", "36.60", "36.6 mm2", "0.366 cm2"):
        rows = client.get("/v1/reference/threads", params={"value": text, "property": "stress_area"}).json()["rows"]
        assert [row["id"] for row in rows] == ["M8x1.25", "5/16-22 BSF"], text
    assert client.get("/v1/reference/threads?value=unified&limit=1").json()["count"] > 10


def test_only_the_two_plain_spellings_of_an_address_are_kept(library: Library) -> None:
    """Every caller could write one address in a thousand ways, and none of them may fill the memory."""
    app = create_app(Settings(log_requests=False))
    (route,) = [it for it in app.front.routes if isinstance(it, Reference)]
    asking = Client(app)
    newest = library.newest.version
    for query in ("", f"?dataset={newest}", "?format=json", "?%66ormat=json", "?f%6Frmat=j%73on", f"?%64ataset={newest}"):
        assert asking.get(ROW + query).status_code == 200
    asking.close()
    assert sorted(query for _, query in route._known) == [b"", f"dataset={newest}".encode()]
