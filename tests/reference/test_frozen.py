"""Released versions, held to the sums with which they were released. A release adds a line; none ever changes."""

from service.reference.dataset import Library

RELEASED = {
    "2026.11": "5b307ce87f3fddff00f4b88cd41f8916c5a9c18b741699b464180402df8a2e0a",
    "2026.12": "e4126ad082a2e4090da7b2387d4703f6b284fd957e456aa9c62868e4da2a70b8",
}


def test_released_versions_have_not_changed(library: Library) -> None:
    assert {version: library.get(version).sha256 for version in library.versions} == RELEASED
