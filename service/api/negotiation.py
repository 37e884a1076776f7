"""Which face of an answer the caller wants: ``?format=`` first, then the ``Accept`` header."""

from collections.abc import Iterable

from service.api.refusal import Refusal

MEDIA = {
    "json": "application/json",
    "csv": "text/csv",
    "svg": "image/svg+xml",
    "html": "text/html",
    "text": "text/plain",
}
CONTENT_TYPES = {
    "json": b"application/json",
    "csv": b"text/csv; charset=utf-8; header=present",
    "svg": b"image/svg+xml; charset=utf-8",
    "html": b"text/html; charset=utf-8",
    "text": b"text/plain; charset=utf-8",
}


def face_for(format_name: str | None, accept: bytes | None, offered: Iterable[str]) -> str:
    """The name of the face (a key of ``MEDIA``) among those offered, the first of which is the default.

    Raises:
        Refusal: 406 when none of them will do.
    """
    faces = tuple(offered)
    if format_name is not None:
        name = {"txt": "text"}.get(format_name, format_name)
        if name in faces:
            return name
        raise _no_such_form(faces)
    if accept is None or accept == b"*/*" or (accept == b"application/json" and faces[0] == "json"):
        return faces[0]
    return _by_accept(accept.decode("latin-1"), faces)


def _by_accept(accept: str, faces: tuple[str, ...]) -> str:
    """The offered face that the Accept header likes best; the more specific range wins (RFC 9110, 12.5.1)."""
    ranges: list[tuple[str, float]] = []
    for part in accept.split(",")[:40]:
        media, *parameters = (piece.strip().lower() for piece in part.split(";"))
        ranges.append((media, _quality(parameters)))
    best, best_quality = "", 0.0
    for face in faces:
        matching = [(_specificity(media, MEDIA[face]), quality) for media, quality in ranges]
        specificity, quality = max(matching, key=lambda pair: pair[0], default=(0, 0.0))
        if specificity > 0 and quality > best_quality:
            best, best_quality = face, quality
    if not best:
        raise _no_such_form(faces)
    return best


def _quality(parameters: list[str]) -> float:
    for parameter in parameters:
        if parameter.startswith("q="):
            try:
                return min(1.0, max(0.0, float(parameter[2:6])))
            except ValueError:
                return 0.0
    return 1.0


def _specificity(media: str, offered: str) -> int:
    """3 for the type itself, 2 for ``text/*``, 1 for ``*/*``, 0 for none."""
    if media == offered:
        return 3
    if media == offered.split("/")[0] + "/*":
        return 2
    return 1 if media == "*/*" else 0


def _no_such_form(faces: tuple[str, ...]) -> Refusal:
    return Refusal("not-acceptable", f"This answer comes as {', '.join(MEDIA[face] for face in faces)}.")
