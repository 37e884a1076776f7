"""DEVELOPERS.md tells the truth about settings, names and the floors."""

import re
from pathlib import Path

from service.answers.topics import TOPICS
from service.settings import Settings

ROOT = Path(__file__).parents[2]
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_every_setting_is_documented_with_its_meaning() -> None:
    for name, field in Settings.model_fields.items():
        assert field.description
        assert f"| `RUNSTAND_{name.upper()}` |" in GUIDE
        assert field.description in GUIDE


def test_no_setting_is_documented_that_does_not_exist() -> None:
    named = {name.lower() for name in re.findall(r"`RUNSTAND_([A-Z_]+)`", GUIDE)}
    assert named <= set(Settings.model_fields)


def test_the_names_of_the_nomenclature_are_the_fields_of_the_questions() -> None:
    """A field in the nomenclature table is the name in the JSON of some topic; what it is not called is nowhere a field."""
    fields = {name for topic in TOPICS for model in (topic.request, topic.result) for name in model.model_fields}
    rows = re.findall(r"^\| ([^|]+) \| `([a-z_…]+)` \| [^|]+ \| [^|]+ \| ([^|]+) \|$", GUIDE, re.MULTILINE)
    assert len(rows) > 12
    for _, name, avoided in rows:
        assert name.endswith("…") or name in fields, name
        assert avoided.strip().replace(" ", "_") not in fields


def test_the_directories_of_the_map_exist() -> None:
    for folder in re.findall(r"`(service/[a-z_/]+)`", GUIDE):
        assert (ROOT / folder).exists(), folder
