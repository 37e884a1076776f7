"""Torque over HTTP: shop units, refusals with their place, the faces, and the published cases through the door."""

from typing import Any
from xml.etree import ElementTree as ET

import pytest

from tests.client import Client, faults
from tests.published.cases import published

PATH = "/v1/torque"
CASES = published("torque")
M8: dict[str, Any] = {"thread": "M8x1.25", "property_class": "8.8", "condition": "engine-oil", "torque": "25 N*m"}
CLASSES = {640: "8.8", 940: "10.9", 1100: "12.9"}


@pytest.mark.parametrize("name", [name for name, case in CASES.items() if case["kind"] == "vdi2230"])
def test_published_tables_through_the_door(name: str, client: Client) -> None:
    """VDI 2230 preloads and torques at 90 % of yield, asked with the thread, class and friction of the table."""
    given, expected = CASES[name]["given"], CASES[name]["expected"]
    pitch = given["P"]["value"]
    question = {
        "thread": f"M{given['d']['value']}x{pitch:g}",
        "property_class": CLASSES[given["Rp"]["value"]],
        "condition": "as-received",
        "thread_friction": given["mu"] if isinstance(given["mu"], float) else given["mu"]["value"],
        "utilisation": 0.9,
        "head_diameter": f"{given['dw']['value']} mm",
        "hole_diameter": f"{given['dh']['value']} mm",
    }
    answer = client.post(PATH, question)
    assert answer.status_code == 200, answer.text
    result = answer.json()["result"]
    tolerance = CASES[name]["tolerance"]["rel"]
    assert result["preload"]["nominal"]["value"] == pytest.approx(expected["FM"]["value"] * 1e3, rel=tolerance)
    assert result["torque"]["value"] == pytest.approx(expected["MA"]["value"], rel=tolerance)


@pytest.mark.parametrize("name", ["F98", "F99"])
def test_published_adapters_through_the_door(name: str, client: Client) -> None:
    """A helicopter standard-practices manual: 135 lbf·in through adapters of ±1.5 in on a 10 in wrench."""
    given = CASES[name]["given"]
    question = {
        **M8,
        "torque": f"{given['T_fastener']['value']} in-lb",
        "adapter": {"length": f"{given['E']['value']} in", "wrench_length": f"{given['L']['value']} in"},
    }
    setting = client.post(PATH, question).json()["result"]["wrench_setting"]
    expected = CASES[name]["expected"]["T_wrench"]["value"]
    assert setting["unit"] == "N*m"
    assert setting["value"] / 0.1129848290276167 == pytest.approx(expected, abs=CASES[name]["tolerance"]["abs"])


@pytest.mark.parametrize("spelling", ["14 lbf*ft", "14 ft-lb", "14 lb-ft", "168 in-lb", {"value": 14, "unit": "lbf*ft"}])
def test_shop_spellings_of_one_torque(spelling: Any, client: Client) -> None:
    """14 lbf·ft however it is written is 18.98 N·m (exact factor 1.3558179483)."""
    value = client.post(PATH, {**M8, "torque": spelling}).json()["result"]["torque"]["value"]
    assert value == pytest.approx(14 * 1.3558179483314004, rel=1e-9)


def test_kilogram_force_metres(client: Client) -> None:
    """2.5 kgf·m of an old book are 24.52 N·m (9.80665 N to the kgf)."""
    value = client.post(PATH, {**M8, "torque": "2.5 kgf*m"}).json()["result"]["torque"]["value"]
    assert value == pytest.approx(2.5 * 9.80665)


def test_answers_in_us_units(client: Client) -> None:
    """Rocker-shaft nuts at 14 lbf·ft come back as just that, with the newton metres in brackets."""
    query = {"engine": "air-cooled-flat-four", "fastener": "rocker-shaft-nut", "units": "us"}
    result = client.get(PATH, params=query).json()["result"]
    assert result["torque"] == {"value": 14.0, "unit": "lbf*ft", "text": "14 lbf·ft (19 N·m)"}
    assert result["preload"]["nominal"]["unit"] == "lbf"


def test_the_fields_of_the_contract(client: Client) -> None:
    """Torque, its band, the preload as a band, utilisation, nut factor, wrench setting and sequence are where they belong."""
    question = {**M8, "layout": "circle-4", "adapter": {"length": "50 mm", "wrench_length": "300 mm", "angle": "90 deg"}}
    result = client.post(PATH, question).json()["result"]
    assert set(result["torque_band"]) == set(result["preload"]) == {"low", "nominal", "high"}
    assert isinstance(result["utilisation"], float)
    assert isinstance(result["nut_factor"], float)
    assert result["wrench_setting"]["value"] == pytest.approx(25.0)
    assert result["sequence"]["order"] == [1, 3, 2, 4]


def test_get_and_post_agree(client: Client) -> None:
    """Nested fields joined by a dot ask the same as JSON."""
    posted = client.post(PATH, {**M8, "wrench": {"full_scale": "100 N*m", "months_since_check": 13}}).json()
    query = {**M8, "wrench.full_scale": "100 N*m", "wrench.months_since_check": "13"}
    got = client.get(PATH, params=query).json()
    assert got == posted
    assert "wrench-overdue" in [finding["code"] for finding in got["findings"]]


def test_a_basis_mismatch_says_what_to_do(client: Client) -> None:
    """Code, severity, figures, reason and remedy are all there."""
    question = {**M8, "torque": "34 N*m", "listed_condition": "dry"}
    findings = {finding["code"]: finding for finding in client.post(PATH, question).json()["findings"]}
    mismatch = findings["torque-basis-mismatch"]
    assert mismatch["severity"] == "fix"
    assert "34 N·m" in mismatch["message"]
    assert mismatch["reason"]
    assert mismatch["remedy"]
    assert mismatch["source"] == "vdi-2230-1-2015"


@pytest.mark.parametrize(
    ("change", "pointer", "code", "status"),
    [
        ({"torque": 25}, "/torque", "unit-missing", 422),
        ({"torque": "25 mm"}, "/torque", "unit-mismatch", 422),
        ({"torque": "2500 N*m"}, "/torque", "out-of-range", 422),
        ({"thread_friction": 0.9}, "/thread_friction", "out-of-range", 422),
        ({"thread": "M8x1.26"}, "/thread", "unknown-id", 404),
        ({"property_class": "88"}, "/property_class", "unknown-id", 404),
        ({"condition": "olive-oil"}, "/condition", "unknown-id", 404),
        ({"parts": [{"material": "cheese", "length": "10 mm"}]}, "/parts/0/material", "unknown-id", 404),
        ({"adapter": {"length": "50 mm"}}, "/adapter/wrench_length", "missing", 422),
        ({"layout": "circle-99"}, "/layout", "outside-validity", 422),
        ({"layout": "star-5"}, "/layout", "not-a-text", 422),
        ({"utilisation": 0.7}, "/torque", "contradiction", 422),
        ({"utilisation": 70}, "/utilisation", "out-of-range", 422),
        ({"lubricant": "oil"}, "/lubricant", "unknown-name", 422),
    ],
)
def test_wrong_input_is_told_where_and_why(
    change: dict[str, Any], pointer: str, code: str, status: int, client: Client
) -> None:
    """Each fault has its pointer and its code, and nothing is answered."""
    answer = client.post(PATH, {**M8, **change})
    assert answer.status_code == status
    assert (pointer, code) in faults(answer)


def test_a_near_miss_names_the_nearest_thread(client: Client) -> None:
    """M8 alone is no thread; the nearest ones are named."""
    error = client.post(PATH, {**M8, "thread": "M8"}).json()["errors"][0]
    assert error["did_you_mean"].startswith("M")
    assert error["allowed"]


def test_card_is_well_formed_and_says_the_same_figures(client: Client) -> None:
    """The SVG parses, has title and description, no script, and carries the texts of the JSON."""
    query = {"engine": "air-cooled-flat-four", "fastener": "cylinder-head-nut"}
    answer = client.get(PATH, params=query)
    card = client.get(PATH, params={**query, "format": "svg"})
    assert card.status_code == 200
    assert card.headers["content-type"].startswith("image/svg+xml")
    root = ET.fromstring(card.text)  # noqa: S314 - our own answer
    tags = [element.tag.rsplit("}", 1)[-1] for element in root.iter()]
    assert root.attrib["role"] == "img"
    assert tags.count("title") == tags.count("desc") == 1
    assert "script" not in tags
    assert tags.count("circle") == 8
    words = " ".join(root.itertext())
    result = answer.json()["result"]
    for text in (result["torque"]["text"], result["preload"]["low"]["text"], result["limit"]["preload"]["text"]):
        assert text in words
    assert "3 6 4 5 2 7 1 8" in words


@pytest.mark.parametrize("layout", ["circle-64", "grid-4x10", "row-1", "row-30"])
def test_card_of_any_layout_is_well_formed(layout: str, client: Client) -> None:
    """From one fastener to sixty-four the card parses, and no figure in it is infinite or no number."""
    card = client.get(PATH, params={**M8, "layout": layout, "format": "svg", "units": "us"})
    assert card.status_code == 200, card.text
    ET.fromstring(card.text)  # noqa: S314 - our own answer
    assert "nan" not in card.text
    assert "inf" not in card.text.replace("sans-serif", "")


def test_table_of_passes_as_csv(client: Client) -> None:
    """One row a pass, the unit in the heading, the order as numbers."""
    table = client.get(PATH, params={**M8, "torque": "20 N*m", "layout": "circle-4", "format": "csv"}).text.splitlines()
    assert table[0].startswith("pass,torque [N*m],order")
    assert table[1] == "1,8.0,1 3 2 4"
    assert len(table) == 5


def test_an_older_dataset_still_answers(client: Client) -> None:
    """The earlier version is asked by name; the answer says which one it rests on."""
    versions = client.get("/v1/versions").json()
    older = versions["datasets"][0]
    name = older if isinstance(older, str) else older.get("version") or older["id"]
    answer = client.get(PATH, params={"engine": "air-cooled-flat-four", "fastener": "case-main-stud", "dataset": name})
    assert answer.status_code == 200, answer.text
    assert answer.json()["dataset"]["version"] == name
    assert answer.json()["result"]["torque"]["value"] == pytest.approx(34)


def test_every_unknown_id_is_named_at_once(client: Client) -> None:
    question = {"thread": "M8X1.25", "property_class": "8.9", "condition": "oily", "utilisation": 0.7}
    refused = client.post("/v1/torque", question)
    assert refused.status_code == 404
    named = {error["pointer"]: error.get("did_you_mean") for error in refused.json()["errors"]}
    assert named.keys() == {"/thread", "/property_class", "/condition"}
    assert named["/thread"] == "M8x1.25"
    assert named["/property_class"] in ("8.8", "9.8")
