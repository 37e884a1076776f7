"""The promises that every calculator keeps, shown on displacement: methods, faces, caching, pinning, refusals."""

import csv
import io
from typing import Any

import pytest

from service.reference.dataset import Library
from tests.client import Client

QUESTION = {"cylinders": 4, "bore": "86 mm", "stroke": {"value": 73, "unit": "mm"}}
ADDRESS = "/v1/displacement?cylinders=4&bore=86mm&stroke=73mm"


def _errors(client: Client, document: Any) -> list[dict[str, Any]]:
    refused = client.post("/v1/displacement", document)
    assert refused.status_code == 422
    assert refused.headers["content-type"] == "application/problem+json"
    errors: list[dict[str, Any]] = refused.json()["errors"]
    return errors


def test_get_post_and_query_give_one_answer(client: Client) -> None:
    posted = client.post("/v1/displacement", QUESTION).json()
    assert client.get(ADDRESS).json() == posted
    assert client.request("QUERY", "/v1/displacement", json=QUESTION).json() == posted
    assert posted["result"]["displacement"]["value"] == pytest.approx(1696.2, abs=0.05)  # worked by hand: π/4·8.6²·7.3·4


def test_head_is_get_without_the_body(client: Client) -> None:
    got, head = client.get(ADDRESS), client.request("HEAD", ADDRESS)
    assert (head.status_code, head.content) == (200, b"")
    differing = {"x-request-id"}
    assert {k: v for k, v in head.headers.items() if k not in differing} == {
        k: v for k, v in got.headers.items() if k not in differing
    }


@pytest.mark.parametrize("method", ["PUT", "PATCH", "DELETE", "TRACE", "FOO"])
def test_other_methods_are_refused_with_a_true_allow(client: Client, method: str) -> None:
    refused = client.request(method, "/v1/displacement")
    assert refused.status_code == 405
    for allowed in refused.headers["allow"].split(", "):
        assert client.request(allowed, "/v1/displacement", json=QUESTION).status_code != 405


def test_an_unchanged_answer_is_304(client: Client) -> None:
    first = client.get(ADDRESS)
    again = client.get(ADDRESS, headers={"If-None-Match": first.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")
    assert again.headers["etag"] == first.headers["etag"]
    assert first.headers["etag"].startswith('W/"')
    other = client.get(ADDRESS + "&units=us", headers={"If-None-Match": first.headers["etag"]})
    assert other.status_code == 200


def test_pinning_names_the_version_and_caches_longer(client: Client, library: Library) -> None:
    for version in library.versions:
        pinned = client.get(f"{ADDRESS}&dataset={version}")
        assert pinned.headers["dataset-version"] == version
        assert pinned.json()["dataset"] == {"version": version, "sha256": library.get(version).sha256}
        assert "max-age=86400" in pinned.headers["cache-control"]
    unpinned = client.get(ADDRESS)
    assert unpinned.json()["dataset"]["version"] == library.newest.version
    assert "max-age=300" in unpinned.headers["cache-control"]


@pytest.mark.parametrize("version", ["2019.1", "../2026.12", "2026.12%00", "newest", ""])
def test_an_unknown_version_is_404_and_names_the_held_ones(client: Client, version: str, library: Library) -> None:
    refused = client.get(f"{ADDRESS}&dataset={version}")
    assert refused.status_code == 404
    assert refused.json()["held"] == list(library.versions)


@pytest.mark.parametrize(
    ("accept", "expected"),
    [
        ("text/csv", "text/csv; charset=utf-8; header=present"),
        ("text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8", "text/html; charset=utf-8"),
        ("text/plain;q=0.3, text/html;q=0.2", "text/plain; charset=utf-8"),
        ("application/json;q=0.1, */*;q=0", "application/json"),
        ("*/*", "application/json"),
        ("text/*", "text/csv; charset=utf-8; header=present"),
    ],
)
def test_accept_chooses_the_face(client: Client, accept: str, expected: str) -> None:
    """Preference and specificity by RFC 9110, 12.5.1."""
    assert client.get(ADDRESS, headers={"Accept": accept}).headers["content-type"] == expected


def test_what_cannot_be_shown_so_is_406(client: Client) -> None:
    for answer in (client.get(ADDRESS, headers={"Accept": "image/png"}), client.get(ADDRESS + "&format=docx")):
        assert answer.status_code == 406
        assert "text/csv" in answer.json()["detail"]


def test_every_face_has_the_same_digits(client: Client) -> None:
    texts = [v["text"] for v in client.get(ADDRESS).json()["result"].values() if isinstance(v, dict)]
    for face in ("csv", "html", "text"):
        page = client.get(f"{ADDRESS}&format={face}").text
        assert [text for text in texts if text not in page] == []


def test_cors_is_open_on_every_status(client: Client) -> None:
    answers = [
        client.get(ADDRESS),
        client.get("/v1/displacement"),
        client.get("/nowhere"),
        client.request("DELETE", "/v1/displacement"),
        client.request("POST", "/v1/displacement", content=b"{", headers={"Content-Type": "application/json"}),
        client.request("POST", "/v1/displacement", content=b"x"),
        client.get(ADDRESS, headers={"If-None-Match": client.get(ADDRESS).headers["etag"]}),
    ]
    assert [answer.status_code for answer in answers] == [200, 422, 404, 405, 400, 415, 304]
    assert {answer.headers["access-control-allow-origin"] for answer in answers} == {"*"}


def test_every_fault_is_named_at_once_in_the_callers_words(client: Client) -> None:
    errors = _errors(client, {"cylinders": 4.5, "bore": 3.5, "strok": "73 mm", "displacement": "3 lbf*ft"})
    assert {(e["pointer"], e["code"]) for e in errors} == {
        ("/cylinders", "not-a-number"),
        ("/bore", "unit-missing"),
        ("/strok", "unknown-name"),
        ("/displacement", "unit-mismatch"),
    }
    near = next(e for e in errors if e["pointer"] == "/strok")
    assert near["did_you_mean"] == "stroke"


def test_an_inch_typed_as_mm_is_refused_with_the_inch_offered(client: Client) -> None:
    (error,) = _errors(client, {"cylinders": 4, "bore": "3.386 mm", "stroke": "73 mm"})
    assert (error["code"], error["did_you_mean"]) == ("out-of-range", "3.386 in")


def test_a_legal_but_unlikely_value_is_computed_and_asked_about(client: Client) -> None:
    answer = client.get("/v1/displacement?cylinders=4&bore=40mm&stroke=73mm")
    assert answer.status_code == 200
    (finding,) = answer.json()["findings"]
    assert (finding["severity"], finding["fields"]) == ("ask", ["bore"])


def test_nothing_of_the_input_is_echoed_in_a_refusal(client: Client) -> None:
    marker = "sesame-7f3a"
    for document in ({"cylinders": 4, "bore": f"{marker} mm"}, {marker + "!": 1}, {"cylinders": marker}, [marker]):
        assert marker + "!" not in client.post("/v1/displacement", document).text
    assert marker not in client.post("/v1/displacement", {"cylinders": 4, "bore": f"{marker} mm"}).text


def test_the_query_takes_each_known_name_once(client: Client) -> None:
    repeated = client.get(ADDRESS + "&bore=87mm")
    unknown = client.get(ADDRESS.replace("stroke", "strok"))
    assert repeated.json()["errors"][0] == {"parameter": "bore", "code": "repeated", "detail": "Send each name once."}
    assert unknown.json()["errors"][0]["did_you_mean"] == "stroke"
    assert client.get(ADDRESS + "&units=imperial").json()["errors"][0]["allowed"] == ["metric", "us"]
    assert client.get(ADDRESS + "&units=us&units=us").status_code == 422


def test_a_body_and_a_question_in_the_address_do_not_mix(client: Client) -> None:
    assert client.post("/v1/displacement?bore=86mm", QUESTION).status_code == 422


def test_us_units_change_every_quantity(client: Client) -> None:
    result = client.get(ADDRESS + "&units=us").json()["result"]
    assert result["displacement"]["unit"] == "in3"
    assert result["displacement"]["value"] == pytest.approx(1696.171 / 16.387064, rel=1e-6)  # NIST SP 811: 1 in³
    assert result["displacement"]["text"] == "103.5 in³ (1696.2 cm³)"


def test_the_answer_under_two_versions(client: Client, library: Library) -> None:
    older = library.versions[0]
    answer = client.get(f"{ADDRESS}&compare_dataset={older}").json()
    assert answer["compared"]["dataset"]["version"] == older
    assert answer["compared"]["same"] is True  # geometry rests on no fact
    assert client.get(f"{ADDRESS}&compare_dataset=1999.1").status_code == 404


def test_inputs_are_echoed_as_understood_in_si(client: Client) -> None:
    inputs = client.get("/v1/displacement?cylinders=1&bore=2 7/8 in&stroke=2.75in").json()["inputs"]
    assert inputs["bore"] == {"given": {"value": 2.875, "unit": "in"}, "si": {"value": 0.073025, "unit": "m"}}


def test_an_unknown_name_does_not_hide_the_other_faults(client: Client) -> None:
    """Every fault of an address at once, as of a body: unknown name, missing field, missing unit, unit of another kind."""
    errors = client.get("/v1/displacement?bore=3.5&stroke=73 lbf*ft&strok=1").json()["errors"]
    assert [(error["parameter"], error["code"]) for error in errors] == [
        ("strok", "unknown-name"),
        ("cylinders", "missing"),
        ("bore", "unit-missing"),
        ("stroke", "unit-mismatch"),
    ]
    assert errors[1]["example"] == 4


def test_pages_for_people_tell_what_was_assumed_and_why_something_was_not_checked(client: Client) -> None:
    address = "/v1/compression?bore=86mm&stroke=73mm&chamber_volume=52cc&deck_clearance=1.2mm"
    answer = client.get(address).json()
    for face in ("text", "html"):
        page = client.get(f"{address}&format={face}").text
        assert "Assumed, because it was not given" in page
        assert all(entry["reason"] in page for entry in answer["assumptions"])
        assert all(entry["why"] in page for entry in answer["unchecked"] if "why" in entry)
        assert "levers, deck 0.1 mm more" in page


def test_a_comparison_is_part_of_the_question_and_comes_as_json_alone(client: Client) -> None:
    """The link asks for it again, and no other form leaves it out in silence."""
    answer = client.get("/v1/displacement?cylinders=4&bore=86mm&stroke=73mm&compare_dataset=2026.11")
    assert "compare_dataset=2026.11" in answer.json()["links"]["self"]
    for version in ("2026.11", "2099.1"):
        refused = client.get(f"/v1/displacement?cylinders=4&bore=86mm&stroke=73mm&compare_dataset={version}&format=csv")
        assert refused.status_code == 422
        assert [(e["parameter"], e["code"]) for e in refused.json()["errors"]] == [("compare_dataset", "json-only")]


def test_the_location_of_a_posted_answer_has_its_very_body(client: Client) -> None:
    for face in ("json", "csv", "html", "text"):
        posted = client.post(f"/v1/displacement?format={face}", {"cylinders": 4, "bore": "86 mm", "stroke": "73 mm"})
        assert client.get(posted.headers["content-location"]).content == posted.content


def test_an_empty_accept_asks_for_nothing_special(client: Client) -> None:
    answer = client.get("/v1/displacement?cylinders=4&bore=86mm&stroke=73mm", headers={"Accept": ""})
    assert (answer.status_code, answer.headers["content-type"]) == (200, "application/json")


def test_csv_has_the_digits_of_json(client: Client) -> None:
    """Twelve significant digits, the same on every machine; a number is never marked as a formula."""
    cylinders = [{"chamber_volume": f"{52 + k / 7:.3f} cc", "deck_clearance": "1.2 mm"} for k in range(4)]
    question = {"bore": "86 mm", "stroke": "73 mm", "chamber_volume": "52 cc", "deck_clearance": "1.2 mm"}
    result = client.post("/v1/compression", {**question, "per_cylinder": cylinders}).json()["result"]
    rows = list(
        csv.DictReader(io.StringIO(client.post("/v1/compression?format=csv", {**question, "per_cylinder": cylinders}).text))
    )
    ratios = [cylinder["compression_ratio"] for cylinder in result["per_cylinder"]["cylinders"]]
    assert [float(row["compression_ratio"]) for row in rows] == ratios
    figures = client.post("/v1/compression?format=csv", question).text
    assert "'-0" not in figures
