"""The guard around the app, driven through ASGI: what holds for every request whatever it asks."""

import asyncio
import hashlib
import json
import re
from collections.abc import Awaitable, Callable
from typing import Any

import httpx
import pytest
from prometheus_client.parser import text_string_to_metric_families

from service.api.guard import Guard, write_line
from service.api.health import Health
from service.api.metrics import Metrics
from service.settings import Settings, WrongSettings, read_settings
from tests.trust.toy_app import create

pytestmark = pytest.mark.filterwarnings("ignore::DeprecationWarning:httpx")

KEY = "a-long-random-key-of-the-shop"


def run(
    talk: Callable[[httpx.AsyncClient], Awaitable[Any]],
    lines: list[bytes] | None = None,
    health: Health | None = None,
    **options: Any,
) -> Any:
    """Talk to the toy app over ASGI and give what the talk gives."""

    async def go() -> Any:
        app = create(Settings(**options), write=(lines if lines is not None else []).append, health=health or Health())
        transport = httpx.ASGITransport(app, raise_app_exceptions=False)
        async with httpx.AsyncClient(transport=transport, base_url="http://bench") as client:
            return await talk(client)

    return asyncio.run(go())


def ask(method: str, path: str, lines: list[bytes] | None = None, health: Health | None = None, **given: Any) -> httpx.Response:
    """One request; options of Settings go by ``settings``."""
    options = given.pop("settings", {})
    response = run(lambda client: client.request(method, path, **given), lines, health, **options)
    assert isinstance(response, httpx.Response)
    return response


EVERY_STATUS: dict[int, tuple[str, str, dict[str, Any]]] = {
    200: ("GET", "/question", {}),
    204: ("OPTIONS", "/question", {}),
    401: ("GET", "/question", {"settings": {"api_key_hashes": ("0" * 64,)}}),
    404: ("GET", "/nothing", {}),
    405: ("DELETE", "/question", {}),
    413: ("POST", "/question", {"content": b"x" * 262_145, "headers": {"content-type": "application/json"}}),
    414: ("GET", "/question?" + "x" * 8000, {}),
    415: ("POST", "/question", {"content": b"{}", "headers": {"content-type": "text/plain"}}),
    431: ("GET", "/question", {"headers": [(f"x-{number}", "1") for number in range(120)]}),
    500: ("GET", "/boom", {}),
}


@pytest.mark.parametrize("status", sorted(EVERY_STATUS))
def test_every_status_is_readable_from_any_site_and_named_by_an_id(status: int) -> None:
    """CORS and the id must stand on refusals and failures too, or a browser reports a CORS error instead."""
    method, path, given = EVERY_STATUS[status]
    response = ask(method, path, **dict(given))
    assert response.status_code == status
    assert response.headers["access-control-allow-origin"] == "*"
    exposed = response.headers["access-control-expose-headers"]
    for name in ("ETag", "Link", "Dataset-Version", "Calculation-Version", "Content-Location", "Retry-After", "RateLimit"):
        assert name in exposed
    assert response.headers["x-content-type-options"] == "nosniff"
    assert response.headers["content-security-policy"].startswith("default-src 'none'")
    assert re.fullmatch(r"[0-9a-f]{16}", response.headers["x-request-id"])
    assert "server" not in response.headers
    if status >= 400 and status not in (404, 405):  # those two are the routes' own answers
        assert response.headers["content-type"] == "application/problem+json"
        assert response.headers["cache-control"] == "no-store"
        assert response.json()["status"] == status


def test_an_unforeseen_failure_tells_an_id_and_nothing_of_the_inside(caplog: pytest.LogCaptureFixture) -> None:
    response = ask("GET", "/boom", headers={"x-request-id": "shop-17"})
    assert response.status_code == 500
    assert response.json()["instance"] == "urn:request:shop-17"
    for word in ("secret", "ZeroDivision", "Traceback", ".py", "toy"):
        assert word not in response.text
    assert "shop-17" in caplog.text
    assert "ZeroDivisionError" in caplog.text


def test_a_failure_in_mid_answer_is_not_dressed_up_as_a_success(caplog: pytest.LogCaptureFixture) -> None:
    """The exception goes on to the server, which cuts the connection: the caller must not take half for whole."""

    async def go() -> None:
        app = create(Settings(), write=lambda _: None, health=Health())
        async with httpx.AsyncClient(transport=httpx.ASGITransport(app), base_url="http://bench") as client:
            await client.get("/half")

    with pytest.raises(ZeroDivisionError):
        asyncio.run(go())
    assert "failed" in caplog.text


@pytest.mark.parametrize("offered", ["shop-17", "a" * 64, "A.b_c-9"])
def test_a_sane_id_of_the_caller_is_kept(offered: str) -> None:
    assert ask("GET", "/question", headers={"x-request-id": offered}).headers["x-request-id"] == offered


@pytest.mark.parametrize("offered", ["", "a" * 65, "<script>", "a b", 'x"y', "é", "a;b"])
def test_any_other_id_is_replaced(offered: str) -> None:
    response = ask("GET", "/question", headers={"x-request-id": offered.encode("latin-1")})
    assert re.fullmatch(r"[0-9a-f]{16}", response.headers["x-request-id"])


@pytest.mark.parametrize("path", ["/question", "/page", "/boom", "/nothing"])
def test_head_is_get_without_the_body(path: str) -> None:
    head, get = ask("HEAD", path), ask("GET", path)
    assert head.status_code == get.status_code
    assert head.content == b""
    own = {"x-request-id", "date"}
    assert {name: value for name, value in head.headers.items() if name not in own} == {
        name: value for name, value in get.headers.items() if name not in own
    }


def test_options_tells_the_methods_and_a_preflight_is_allowed() -> None:
    plain = ask("OPTIONS", "/question")
    assert (plain.status_code, plain.headers["allow"], plain.content) == (204, "GET, HEAD, OPTIONS, POST", b"")
    preflight = ask(
        "OPTIONS",
        "/question",
        headers={"origin": "https://parts.example", "access-control-request-method": "POST"},
    )
    assert preflight.status_code == 204
    assert "POST" in preflight.headers["access-control-allow-methods"]
    assert "QUERY" in preflight.headers["access-control-allow-methods"]
    assert "Content-Type" in preflight.headers["access-control-allow-headers"]
    assert preflight.headers["access-control-max-age"] == "600"
    assert ask("OPTIONS", "/nothing").status_code == 404


@pytest.mark.parametrize("method", ["TRACE", "DELETE", "PUT", "PATCH", "FOO", "CONNECT"])
def test_other_methods_are_answered_with_what_is_allowed(method: str) -> None:
    response = ask(method, "/question")
    assert response.status_code == 405
    assert response.headers["allow"] == "GET, HEAD, OPTIONS, POST"


def test_a_policy_of_the_answer_itself_is_left_alone() -> None:
    assert ask("GET", "/page").headers.get_list("content-security-policy") == ["default-src 'self'"]


def test_the_address_may_have_8000_octets_and_not_one_more() -> None:
    assert ask("GET", "/question?" + "x" * (8000 - len("/question?"))).status_code == 200
    assert ask("GET", "/question?" + "x" * (8001 - len("/question?"))).status_code == 414


def test_a_header_may_have_32_kib() -> None:
    assert ask("GET", "/question", headers={"x-note": "x" * 30_000}).status_code == 200
    assert ask("GET", "/question", headers={"x-note": "x" * 32_768}).status_code == 431


def test_400_at_once_are_64_served_and_the_rest_shed_cleanly() -> None:
    async def talk(client: httpx.AsyncClient) -> tuple[list[httpx.Response], list[httpx.Response]]:
        crowd = await asyncio.gather(*(client.get("/slow?s=0.3") for _ in range(400)))
        after = [await client.get("/question") for _ in range(20)]
        return list(crowd), after

    crowd, after = run(talk)
    assert sorted({response.status_code for response in crowd}) == [200, 503]
    assert sum(response.status_code == 200 for response in crowd) == 64
    for response in crowd:
        if response.status_code == 503:
            assert response.headers["retry-after"] == "1"
            assert response.headers["content-type"] == "application/problem+json"
            assert response.headers["access-control-allow-origin"] == "*"
    assert {response.status_code for response in after} == {200}


def test_health_and_figures_are_answered_while_the_rest_is_shed() -> None:
    async def talk(client: httpx.AsyncClient) -> tuple[int, int, str]:
        crowd = [asyncio.ensure_future(client.get("/slow?s=0.3")) for _ in range(70)]
        await asyncio.sleep(0.1)
        ready, refused = await client.get("/health/ready"), await client.get("/question")
        figures = await client.get("/metrics")
        await asyncio.gather(*crowd)
        return ready.status_code, refused.status_code, figures.text

    ready, refused, figures = run(talk)
    assert (ready, refused) == (200, 503)
    assert "runstand_requests_shed_total 7" in figures


def test_a_request_that_waited_too_long_for_the_processor_is_shed() -> None:
    """The protocol notes when a request came if it found a queue; the guard sheds it if that is too long ago."""
    sent: list[Any] = []

    async def go(received: float) -> None:
        scope = {
            "type": "http",
            "method": "GET",
            "path": "/question",
            "raw_path": b"/question",
            "query_string": b"",
            "headers": [],
            "state": {"received": received},
        }

        async def inner(scope: Any, receive: Any, send: Any) -> None:
            await send({"type": "http.response.start", "status": 200, "headers": []})
            await send({"type": "http.response.body", "body": b""})

        async def receive() -> Any:
            return {"type": "http.request", "body": b""}

        async def send(message: Any) -> None:
            sent.append(message.get("status"))

        await Guard(inner, Settings(longest_wait=0.05), write=lambda _: None)(scope, receive, send)

    import time

    asyncio.run(go(time.monotonic()))
    asyncio.run(go(time.monotonic() - 0.06))
    assert [status for status in sent if status] == [200, 503]


def test_while_draining_readiness_is_false_and_every_answer_closes() -> None:
    health = Health()
    assert ask("GET", "/health/ready", health=health).status_code == 200
    assert "connection" not in ask("GET", "/question", health=health).headers
    health.drain()
    ready = ask("GET", "/health/ready", health=health)
    assert (ready.status_code, ready.json()["reasons"]) == (503, ["stopping"])
    assert ask("GET", "/question", health=health).headers["connection"] == "close"


def test_not_ready_says_why() -> None:
    health = Health(not_ready_because=["the dataset is being verified"])
    assert ask("GET", "/health/ready", health=health).json() == {
        "status": "not ready",
        "reasons": ["the dataset is being verified"],
    }


# Log and figures


def test_one_line_a_request_without_what_the_caller_sent() -> None:
    lines: list[bytes] = []
    ask("GET", "/question?api_key=hunter2", lines, headers={"x-api-key": KEY, "x-request-id": "id-1"})
    ask("GET", "/things/%3Cscript%3E" + "y" * 200, lines)
    ask("GET", '/nothing"%0a{}' + "z" * 200, lines)
    ask("GET", "/boom", lines)
    records = [json.loads(line) for line in lines]
    assert len(records) == 4
    assert all(line.count(b"\n") == 1 and line.endswith(b"\n") and len(line) < 512 for line in lines)
    assert [record["status"] for record in records] == [200, 200, 404, 500]
    assert records[0] | {"at": 0, "ms": 0} == {
        "at": 0,
        "id": "id-1",
        "method": "GET",
        "path": "/question",
        "status": 200,
        "ms": 0,
        "bytes": 12,
    }
    assert all(len(record["path"]) <= 64 for record in records)
    assert b"hunter2" not in b"".join(lines)
    assert KEY.encode() not in b"".join(lines)


def test_a_closed_standard_output_breaks_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    def closed(_: int, __: bytes) -> int:
        raise BrokenPipeError

    monkeypatch.setattr("os.write", closed)
    write_line(b"{}\n")


def test_no_line_where_none_is_wanted() -> None:
    lines: list[bytes] = []
    ask("GET", "/question", lines, settings={"log_requests": False})
    assert lines == []


def test_the_figures_are_prometheus_text_with_a_bounded_number_of_series() -> None:
    """Referee: the parser of prometheus-client. 1,000 junk paths and methods must not make a label each."""

    async def talk(client: httpx.AsyncClient) -> str:
        for number in range(1000):
            await client.request(f"M{number}", f"/junk/{number}")
        await client.post("/question", json={"bore": "86 mm"})
        await client.get("/boom")
        return (await client.get("/metrics")).text

    text: str = run(talk)
    families = {family.name: family for family in text_string_to_metric_families(text)}
    series = [sample for family in families.values() for sample in family.samples]
    assert len(series) < 40
    counted = {
        (sample.labels["method"], sample.labels["status"]): sample.value for sample in families["runstand_requests"].samples
    }
    assert counted[("other", "404")] == 1000
    assert counted[("POST", "200")] == 1
    assert counted[("GET", "500")] == 1
    durations = families["runstand_request_duration_seconds"].samples
    assert [sample.value for sample in durations if sample.name.endswith("_count")] == [1002]
    buckets = [sample.value for sample in durations if sample.name.endswith("_bucket")]
    assert buckets == sorted(buckets)
    assert buckets[-1] == 1002


def test_routes_beyond_two_hundred_share_one_series() -> None:
    metrics = Metrics()
    for number in range(500):
        metrics.observe("GET", f"/v1/{number}", 200, 0.001, 10)
    (family,) = [
        family for family in text_string_to_metric_families(metrics.render().decode()) if family.name == "runstand_requests"
    ]
    assert len(family.samples) == 201
    assert sum(sample.value for sample in family.samples) == 500


# Keys and quotas


def test_keys_are_off_by_default_and_checked_by_their_sum_when_set() -> None:
    sums = (hashlib.sha256(b"another").hexdigest(), hashlib.sha256(KEY.encode()).hexdigest())
    options = {"api_key_hashes": sums}
    assert ask("GET", "/question").status_code == 200
    assert ask("GET", "/question", headers={"x-api-key": KEY}, settings=options).status_code == 200
    for wrong in ({}, {"x-api-key": ""}, {"x-api-key": KEY + "x"}, {"x-api-key": sums[1]}):
        refused = ask("GET", "/question", headers=wrong, settings=options)
        assert refused.status_code == 401
        assert "www-authenticate" in refused.headers
    assert ask("GET", f"/question?api_key={KEY}", settings=options).status_code == 401, "never in the address"
    assert ask("GET", "/health/ready", settings=options).status_code == 200
    preflight = {"origin": "https://parts.example", "access-control-request-method": "GET"}
    assert ask("OPTIONS", "/question", headers=preflight, settings=options).status_code == 204


def test_what_a_key_has_opened_stays_out_of_shared_caches() -> None:
    """A cache that holds a public answer hands it to callers without a key (RFC 9111, 5.2.2.9 and 4.1)."""
    sums = {"api_key_hashes": (hashlib.sha256(KEY.encode()).hexdigest(),)}
    opened = ask("GET", "/kept", headers={"x-api-key": KEY}, settings=sums)
    assert opened.headers["cache-control"] == "private, max-age=300"
    assert opened.headers.get_list("vary") == ["Accept, Accept-Encoding, X-Api-Key"]
    assert ask("GET", "/question", headers={"x-api-key": KEY}, settings=sums).headers["vary"] == "X-Api-Key"
    free = ask("GET", "/kept")
    assert free.headers["cache-control"] == "public, max-age=300"
    assert free.headers["vary"] == "Accept, Accept-Encoding"
    assert "vary" not in ask("GET", "/question").headers


@pytest.mark.parametrize("form", ["{0}", "{0},{1}", " {0} , {1} ", '["{0}", "{1}"]', ""])
def test_sums_are_set_joined_by_commas_or_as_a_list(form: str, monkeypatch: pytest.MonkeyPatch) -> None:
    sums = [hashlib.sha256(key).hexdigest() for key in (b"one", b"two")]
    monkeypatch.setenv("RUNSTAND_API_KEY_HASHES", form.format(*sums))
    assert list(read_settings().api_key_hashes) == sums[: form.count("{")]


@pytest.mark.parametrize("bad", [KEY, "0" * 64 + ",", "0" * 64 + ";" + "0" * 64, "[1", "[[]]"])
def test_a_wrong_sum_is_told_without_repeating_it(bad: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("RUNSTAND_API_KEY_HASHES", bad)
    with pytest.raises(WrongSettings, match="RUNSTAND_API_KEY_HASHES") as told:
        read_settings()
    assert bad not in str(told.value)


@pytest.mark.parametrize("bad", ["", "abc", "G" * 64, "0" * 63, "A" * 64])
def test_a_key_in_clear_is_no_setting(bad: str) -> None:
    with pytest.raises(ValueError, match="api_key_hashes"):
        Settings(api_key_hashes=(bad,))


def test_a_quota_counts_down_and_then_refuses_until_later() -> None:
    async def talk(client: httpx.AsyncClient) -> list[httpx.Response]:
        preflight = {"origin": "https://parts.example", "access-control-request-method": "GET"}
        for _ in range(5):
            await client.options("/question", headers=preflight)
        return [await client.get("/question") for _ in range(4)]

    *served, refused = run(talk, rate_limit="3/minute")
    assert [response.status_code for response in served] == [200, 200, 200]
    assert [re.search(r";r=(\d+);", response.headers["ratelimit"])[1] for response in served] == ["2", "1", "0"]  # type: ignore[index]
    assert served[0].headers["ratelimit-policy"] == '"per-worker";q=3;w=60'
    assert refused.status_code == 429
    assert 1 <= int(refused.headers["retry-after"]) <= 60
    assert refused.headers["access-control-allow-origin"] == "*"
    assert "ratelimit" not in ask("GET", "/question").headers


@pytest.mark.parametrize("bad", ["0/minute", "ten/minute", "10/fortnight", "10", "10/minute; 5/second"])
def test_a_quota_is_written_in_one_way(bad: str) -> None:
    with pytest.raises(ValueError, match="rate_limit"):
        Settings(rate_limit=bad)


def test_ipv6_callers_are_counted_by_their_64() -> None:
    from service.api.rate_limit import caller_of

    assert caller_of(("2001:db8:1:2:aaaa::1", 1)) == caller_of(("2001:db8:1:2:bbbb::2", 2)) == "2001:db8:1:2::"
    assert caller_of(("192.0.2.7", 1)) != caller_of(("192.0.2.8", 1))
    assert caller_of(None) == "unknown"
    assert caller_of(("a unix socket", 0)) == "a unix socket"
