"""What the README shows is what a newcomer gets: each example's command gives the printed answer."""

import json
import re
import shlex
from itertools import pairwise
from pathlib import Path
from urllib.parse import parse_qsl, urlsplit

import pytest

from service.answers.topics import TOPICS
from tests.client import Client

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
EXAMPLES = re.findall(r"<!-- example -->\n```sh\n(.+?)\n```\n```text\n(.*?)```", README, re.DOTALL)


def _run(client: Client, command: str) -> str:
    """A curl command, as far as the README uses curl: -G, -d, --data-urlencode, --json."""
    words = shlex.split(command)
    address = next(word for word in words if word.startswith("localhost:8000"))
    pairs = [pair for flag, pair in pairwise(words) if flag in ("-d", "--data-urlencode")]
    path = urlsplit("http://" + address)
    parameters = dict(parse_qsl(path.query)) | dict(pair.split("=", 1) for pair in pairs)
    if "--json" in words:
        document = json.loads(words[words.index("--json") + 1])
        return client.post(path.path, document, params=parameters).text
    return client.get(path.path, params=parameters).text


@pytest.mark.parametrize(("command", "printed"), EXAMPLES)
def test_an_example_gives_what_is_printed(command: str, printed: str, client: Client) -> None:
    assert _run(client, command) == printed


def test_there_are_examples_and_every_calculator_is_named() -> None:
    assert len(EXAMPLES) == 3
    assert [topic.path for topic in TOPICS if f"`{topic.path}`" not in README] == []
