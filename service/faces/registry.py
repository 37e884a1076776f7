"""Which faces each topic has: JSON, CSV, HTML and plain text for all, and the drawings and cards of some."""

from collections.abc import Callable, Mapping
from typing import TypeAlias

from service.answers.asking import Asked
from service.faces import csv_face, html_face, text_face
from service.quantities import UnitSystem

Face: TypeAlias = Callable[[Asked, UnitSystem], bytes]

GENERAL: Mapping[str, Face] = {"csv": csv_face.write, "html": html_face.write, "text": text_face.write}

# A topic's own drawing or card, by topic and face; it stands before the general one.
SPECIAL: Mapping[tuple[str, str], Face] = {}


def faces_of(topic: str) -> dict[str, Face]:
    """The faces of a topic besides JSON, by the name that ``?format=`` takes."""
    special = {face: write for (name, face), write in SPECIAL.items() if name == topic}
    return {**GENERAL, **special}
