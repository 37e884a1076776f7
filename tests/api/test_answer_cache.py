"""Kept answers: the same bytes as fresh ones, bounded, and never a refusal."""

from hypothesis import given
from hypothesis import strategies as st

from service.api.answer_cache import AnswerCache, Kept, Key
from service.app import create_app
from service.settings import Settings
from tests.client import Client

ADDRESS = "/v1/displacement?cylinders=4&bore=86mm&stroke=73mm"


def _key(name: str, body: bytes = b"") -> Key:
    return ("POST", name, b"", b"*/*", body)


@given(st.lists(st.tuples(st.text("abcdef", min_size=1, max_size=2), st.integers(0, 3_000)), max_size=60))
def test_the_room_is_never_exceeded_and_what_is_kept_is_right(questions: list[tuple[str, int]]) -> None:
    cache = AnswerCache(20_000)
    for name, size in questions:
        kept = cache.get(_key(name, b"b" * size))
        if kept is None:
            cache.keep(_key(name, b"b" * size), Kept((), name.encode() + b"x" * size))
        else:
            assert kept.body == name.encode() + b"x" * size
        assert 0 <= cache.octets <= 20_000


def test_without_room_nothing_is_kept() -> None:
    cache = AnswerCache(0)
    cache.keep(_key("a"), Kept((), b"answer"))
    assert cache.get(_key("a")) is None


def test_a_question_asked_again_gets_the_same_bytes_as_from_a_service_that_keeps_none() -> None:
    keeping, fresh = (Client(create_app(Settings(log_requests=False, kept_answers=room))) for room in (8_388_608, 0))
    question = {"cylinders": 4, "bore": "86 mm", "stroke": "73 mm"}
    for accept in ("application/json", "text/csv", "text/html"):
        first, again, other = (c.get(ADDRESS, headers={"Accept": accept}) for c in (keeping, keeping, fresh))
        assert first.content == again.content == other.content
        assert first.headers["etag"] == again.headers["etag"] == other.headers["etag"]
    assert keeping.post("/v1/displacement", question).content == fresh.post("/v1/displacement", question).content
    assert keeping.get(ADDRESS, headers={"If-None-Match": first.headers["etag"]}).status_code == 200  # another face's tag
    refusals = [keeping.get(ADDRESS + "&bore=1mm") for _ in range(2)]
    assert [refusal.status_code for refusal in refusals] == [422, 422]
    keeping.close()
    fresh.close()
