"""Released versions, held to the sums with which they were released. A release adds a line; none ever changes."""

from service.reference.dataset import Library

RELEASED = {
    "2026.11": "cf765dc8a3db37b6c62ce25fe7e4e94edc1189ca953f7be5ba9442a5d34e2f37",
    "2026.12": "e4126ad082a2e4090da7b2387d4703f6b284fd957e456aa9c62868e4da2a70b8",
}


def test_released_versions_have_not_changed(library: Library) -> None:
    assert {version: library.get(version).sha256 for version in library.versions} == RELEASED
