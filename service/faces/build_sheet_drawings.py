"""The drawings of the sections inside the build sheet: each one an image of its own, so that no rule leaks into the page."""

import re
from base64 import b64encode
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from html import unescape

from service.answers.asking import Asked
from service.faces import break_in_assessment_svg, break_in_schedule_svg, ignition_svg, torque_svg
from service.faces.build_sheet_view import Section
from service.faces.page import safe
from service.quantities import UnitSystem

FEWEST_FASTENERS = 4  # the order of two or three needs no drawing
# Ink for drawings that take the page's colour when they stand inside it; a drawing's own rules come after and win.
INK = "<style>svg{color:#1b1d1f}@media (prefers-color-scheme:dark){svg{color:#ece8df}}@media print{svg{color:#000}}</style>"
_WORDS = re.compile(r"<title[^>]*>(.*?)</title><desc[^>]*>(.*?)</desc>", re.DOTALL)

_DRAWN: Mapping[str, Callable[[Asked, UnitSystem], bytes]] = {
    "torque": torque_svg.write,
    "ignition": ignition_svg.write,
    "break_in_schedule": break_in_schedule_svg.write,
    "break_in_assessment": break_in_assessment_svg.write,
}


def drawings(sections: Iterable[Section], system: UnitSystem, receipt: str) -> str:
    """The drawings of these sections as figures that carry the sheet's receipt, or an empty text."""
    figures = [_figure(section, system, receipt) for section in sections if _worth_drawing(section)]
    kind = "plates" if len(figures) > 1 else "plate"
    return f"<div class='{kind}'>{''.join(figures)}</div>" if figures else ""


def _worth_drawing(section: Section) -> bool:
    if section.topic == "torque":
        sequence = section.result.get("sequence")
        return sequence is not None and len(sequence["order"]) >= FEWEST_FASTENERS
    if section.topic == "ignition":
        return bool(section.result.get("marks"))
    if section.topic == "break_in_schedule":
        return bool(section.asked.answer.table)
    return section.topic in _DRAWN


def _figure(section: Section, system: UnitSystem, receipt: str) -> str:
    svg = _DRAWN[section.topic](replace(section.asked, receipt=receipt), system).decode()
    start, _, rest = svg.partition(">")
    picture = b64encode(f"{start}>{INK}{rest}".encode()).decode()
    said = ". ".join(unescape(text) for text in _words(svg))
    return (
        f"<figure><figcaption>{safe(_caption(section))}</figcaption>"
        f"<img alt='{safe(said)}' src='data:image/svg+xml;base64,{picture}'></figure>"
    )


def _words(svg: str) -> Iterator[str]:
    match = _WORDS.search(svg)
    return iter(match.groups() if match else ())


def _caption(section: Section) -> str:
    fastener = getattr(section.asked.request, "fastener", None)
    if section.topic == "torque":
        return f"Order of tightening: {fastener.replace('-', ' ') if fastener else section.path}"
    return {"ignition": "Marks on the pulley", "break_in_schedule": "Break-in profile"}.get(section.topic, "Break-in as logged")
