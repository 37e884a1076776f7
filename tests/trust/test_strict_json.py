"""The strict JSON reader: what RFC 8259 allows passes, what workshops' programs send by mistake or malice does not."""

import json
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.api import strict_json
from service.api.strict_json import JsonLimits, UnreadableJson, read_json

NOT_JSON = {
    "nothing": b"",
    "blanks": b" \r\n\t ",
    "NaN": b'{"bore": NaN}',
    "Infinity": b'{"bore": Infinity}',
    "-Infinity": b'{"bore": -Infinity}',
    "1e999": b'{"bore": 1e999}',
    "-1e999": b'{"bore": -1e999}',
    "integer of 400 digits": b"1" * 400,
    "integer of 5,000 digits": b'{"bore": ' + b"1" * 5000 + b"}",
    "leading zero": b'{"bore": 01}',
    "leading zero, negative": b"-01",
    "leading point": b'{"bore": .5}',
    "trailing point": b'{"bore": 1.}',
    "bare exponent": b"1e",
    "bare minus": b"-",
    "hexadecimal": b'{"bore": 0x10}',
    "plus": b'{"bore": +1}',
    "underscore": b'{"bore": 4_0}',
    "arabic digit": '{"bore": ٣}'.encode(),
    "full-width digit": '{"bore": ３}'.encode(),
    "fraction": b'{"bore": 3/8}',
    "quantity without quotes": b'{"bore": 86 mm}',
    "comma as decimal point": b'{"bore": 3,5}',
    "single quotes": b"{'bore': 1}",
    "name without quotes": b"{bore: 1}",
    "trailing comma in an object": b'{"bore": 1,}',
    "trailing comma in a list": b"[1,]",
    "missing comma": b'{"bore": 1 "stroke": 2}',
    "missing colon": b'{"bore" 1}',
    "double colon": b'{"bore":: 1}',
    "half an object": b'{"bore": {"value": 86, "unit',
    "half a list": b"[1, 2",
    "closed wrongly": b'{"bore": [1}',
    "two documents": b'{"bore": 1}{"bore": 2}',
    "rubbish behind": b'{"bore": 1} x',
    "comment": b'{"bore": 1 /* mm */}',
    "line comment": b'{"bore": 1} // mm',
    "True": b'{"bore": True}',
    "None": b"None",
    "undefined": b"undefined",
    "raw line feed in a text": b'{"bore": "86\nmm"}',
    "raw NUL in a text": b'{"bore": "86\x00mm"}',
    "NUL before": b"\x00{}",
    "NUL behind": b"{}\x00",
    "unknown escape": b'"\\x41"',
    "short escape": b'"\\u12"',
    "lone high surrogate": b'{"bore": "\\ud800"}',
    "lone low surrogate": b'{"bore": "\\udc00"}',
    "surrogates swapped": b'"\\udc00\\ud800"',
    "surrogate in a name": b'{"\\ud800": 1}',
    "surrogate as octets": b'"\xed\xa0\x80"',
    "byte order mark": b'\xef\xbb\xbf{"bore": 1}',
    "UTF-16": '{"bore": 1}'.encode("utf-16"),
    "UTF-16 little-endian": '{"bore": 1}'.encode("utf-16-le"),
    "UTF-16 big-endian": '{"bore": 1}'.encode("utf-16-be"),
    "UTF-32": '{"bore": 1}'.encode("utf-32"),
    "latin-1": '{"bore": "Ø 86"}'.encode("latin-1"),
    "overlong slash": b'"\xc0\xaf"',
    "cut UTF-8": b'"\xe2\x82"',
    "beyond Unicode": b'"\xf4\x90\x80\x80"',
    "no-break space between": b'{"bore":\xc2\xa01}',
    "vertical tab between": b'{"bore":\x0b1}',
    "form": b"bore=86mm&stroke=94mm",
    "XML": b"<bore>86</bore>",
    "YAML": b"bore: 86 mm",
    "gzip": b"\x1f\x8b\x08\x00\x00\x00\x00\x00",
    "100,000 open lists": b"[" * 100_000,
    "100,000 open objects": b'{"a":' * 100_000,
}

BEYOND_LIMITS = {
    "33 lists": (b"[" * 33 + b"]" * 33, "/0" * 32),
    "33 objects": (b'{"a":' * 33 + b"1" + b"}" * 33, "/a" * 32),
    "long text": (b'{"note": "' + b"x" * 201 + b'"}', "/note"),
    "long text in a list": (b'{"rows": [1, "' + b"x" * 201 + b'"]}', "/rows/1"),
    "long name": (b'{"' + b"n" * 201 + b'": 1}', "/" + "n" * 64),
    "NUL in a text": (b'{"bore": "86\\u0000mm"}', "/bore"),
    "NUL in a name": (b'{"bo\\u0000re": 1}', "/bo\0re"),
    "slash and tilde in a name": (b'{"a/b~c": "\\u0000"}', "/a~1b~0c"),
    "repeated name": (b'{"bore": 1, "bore": 2}', "/bore"),
    "repeated name, same value": (b'{"bore": 1, "bore": 1}', "/bore"),
    "repeated name inside": (b'{"gasket": {"bore": 1, "bore": 2}}', "/gasket/bore"),
    "repeated name in a list": (b'{"lines": [{"bore": 1}, {"bore": 1, "bore": 2}]}', "/lines/1/bore"),
    "repeated name, once escaped": (b'{"bore": 1, "\\u0062ore": 2}', "/bore"),
    "repeated name, balanced by an escaped colon": (b'{"bore": 1, "bore": "\\u003a"}', "/bore"),
    "repeated name, balanced by an escaped colon in capitals": (b'{"bore": 1, "bore": "\\u003A"}', "/bore"),
    "repeated empty name": (b'{"": 1, "": 2}', "/"),
    "repeated name that vanishes with its parent": (b'{"a": {"b": 1, "b": 2}, "a": 3}', "/a"),
    "repeated long number": (b'{"bore": 1, "bore": 0.' + b"1" * 5000 + b"}", "/bore"),
    "5,001 numbers": (b"[" + b"1," * 5_000 + b"1]", None),
    "257 names": (json.dumps({f"n{number}": 1 for number in range(257)}).encode(), ""),
    "257 names inside": (json.dumps({"a": [{f"n{number}": 1 for number in range(257)}]}).encode(), "/a/0"),
    "5,001 lists": (b"[" + b"[]," * 5_000 + b"1]", None),
}

GOOD = {
    "object": b'{"cylinders": 4, "bore": {"value": 94, "unit": "mm"}}',
    "text quantity": '{"bore": "3 3/8 in", "note": "Ø, ×, °C"}'.encode(),
    "astral character": b'"\\ud83d\\ude00"',
    "escapes": b'"\\"\\\\\\/\\b\\f\\n\\r\\t\\u0041"',
    "colons in texts": b'{"a:b": "12:30:00", "c": [":"]}',
    "escaped colon": b'{"a": "\\u003a"}',
    "escaped backslash before u003": b'{"a": "\\\\u003a"}',
    "blanks around": b' \t\r\n{"a" : 1}\r\n',
    "scalar": b"3.5",
    "null": b"null",
    "booleans": b"[true, false]",
    "small": b"5e-324",
    "large": b"1.7976931348623157e308",
    "minus zero": b"-0.0",
    "empty": b"{}",
    "256 names": json.dumps({f"n{number}": 1 for number in range(256)}).encode(),
    "commas and brackets in texts are no elements": json.dumps(["," * 99 + "[{" * 50] * 2_000).encode(),
    "escaped quotes around them neither": json.dumps([',"\\,"[' * 8] * 1_000).encode(),
    "32 levels": b"[" * 32 + b"]" * 32,
    "200 characters": b'"' + "Ω".encode() * 200 + b'"',
    "same name in different objects": b'[{"a": 1}, {"a": {"a": 2}}]',
    "5,000 elements": b"[" + b"1," * 4_998 + b"1]",
}


@pytest.mark.parametrize("body", NOT_JSON.values(), ids=NOT_JSON.keys())
def test_what_is_not_json_in_utf_8_is_refused_without_an_echo(body: bytes) -> None:
    with pytest.raises(UnreadableJson) as refused:
        read_json(body)
    assert len(refused.value.reason) < 200
    assert "orjson" not in refused.value.reason
    assert refused.value.__cause__ is None


@pytest.mark.parametrize(("body", "pointer"), BEYOND_LIMITS.values(), ids=BEYOND_LIMITS.keys())
def test_what_is_beyond_the_limits_is_refused_with_its_place(body: bytes, pointer: str | None) -> None:
    with pytest.raises(UnreadableJson) as refused:
        read_json(body)
    assert refused.value.pointer == pointer


@pytest.mark.parametrize("body", GOOD.values(), ids=GOOD.keys())
def test_good_json_reads_as_the_standard_library_reads_it(body: bytes) -> None:
    """Referee: json of the standard library."""
    assert read_json(body) == json.loads(body)


def test_a_log_brings_its_own_limits() -> None:
    rows = "time,speed\n" + "".join(f"{second},2000\n" for second in range(20_000))
    body = json.dumps({"log": rows}).encode()
    assert read_json(body, JsonLimits(string=400_000, elements=100_000)) == {"log": rows}
    with pytest.raises(UnreadableJson):
        read_json(body)


_values = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**63), 2**63)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=20),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(
            st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=8), inner, max_size=4
        )
    ),
    max_leaves=20,
)


@settings(max_examples=300, deadline=None, derandomize=True)
@given(_values, st.booleans())
def test_every_document_survives_the_way_in(value: Any, escaped: bool) -> None:
    """Referee: json of the standard library, with and without escapes."""
    text = json.dumps(value, ensure_ascii=escaped)
    assert read_json(text.encode()) == json.loads(text)


@settings(max_examples=500, deadline=None, derandomize=True)
@given(st.binary(max_size=60) | st.text('{}[],:"\\ud8003a1e.-+NaIfty ', max_size=40).map(str.encode))
def test_any_octets_are_read_as_the_standard_library_would_or_refused(body: bytes) -> None:
    """Referee: a strict configuration of json of the standard library."""

    def once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        assert len({name for name, _ in pairs}) == len(pairs)
        return dict(pairs)

    def never(_: str) -> float:
        raise AssertionError

    try:
        found = read_json(body)
    except UnreadableJson:
        return
    assert found == json.loads(body.decode("utf-8"), object_pairs_hook=once, parse_constant=never)


@settings(max_examples=500, deadline=None, derandomize=True)
@given(st.text('"\\a,', max_size=60).map(str.encode) | st.binary(max_size=60))
def test_no_mark_is_left_to_start_from_again(body: bytes) -> None:
    """A text that never ends is taken whole: were a mark left, a body of marks would be read once for each of them."""
    assert b'"' not in strict_json._TEXT.sub(b"", body)
