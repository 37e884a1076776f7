"""The drawings of the sections inside the build sheet: each one an image of its own, so that no rule leaks into the page."""

import re
from base64 import b64encode
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from functools import lru_cache
from html import unescape

from service.answers.asking import Asked
from service.faces import (
    break_in_assessment_svg,
    break_in_schedule_svg,
    ignition_svg,
    torque_svg,
    valve_events_svg,
    valve_order_svg,
)
from service.faces.build_sheet_view import Section
from service.faces.page import safe
from service.quantities import UnitSystem

FEWEST_FASTENERS = 4  # the order of two or three needs no drawing
# Ink for drawings that take the page's colour when they stand inside it; a drawing's own rules come after and win.
INK = "<style>svg{color:#1b1d1f}@media (prefers-color-scheme:dark){svg{color:#ece8df}}@media print{svg{color:#000}}</style>"
GROUND = "<style>svg{background:none}</style></svg>"  # the page's own ground, which on paper is white
_WORDS = re.compile(r"<title[^>]*>(.*?)</title><desc[^>]*>(.*?)</desc>", re.DOTALL)

_DRAWN: Mapping[str, Callable[[Asked, UnitSystem], bytes]] = {
    "valve_events": valve_events_svg.write,
    "valve_order": valve_order_svg.write,
    "ignition": ignition_svg.write,
    "break_in_schedule": break_in_schedule_svg.write,
    "break_in_assessment": break_in_assessment_svg.write,
}
_CAPTIONS: Mapping[str, str] = {
    "valve_events": "Timing card on the degree wheel",
    "valve_order": "Where to set which valves",
    "ignition": "Marks on the pulley",
    "break_in_schedule": "Break-in profile",
    "break_in_assessment": "Break-in as logged",
}


def drawings(sections: Iterable[Section], system: UnitSystem, receipt: str) -> str:
    """The drawings of these sections as figures that carry the sheet's receipt, or an empty text."""
    patterns: list[str] = []
    figures: list[str] = []
    for section in sections:
        if section.topic == "torque":
            patterns += _pattern(section)
        elif _worth_drawing(section):
            svg = _DRAWN[section.topic](replace(section.asked, receipt=receipt), system).decode()
            figures.append(_figure(_CAPTIONS[section.topic], *_picture(svg)))
    kind = "plates" if len(figures) > 1 else "plate"
    shown = f"<div class='{kind}'>{''.join(figures)}</div>" if figures else ""
    return shown + (f"<div class='plates patterns'>{''.join(patterns)}</div>" if patterns else "")


def _worth_drawing(section: Section) -> bool:
    if section.topic == "ignition":
        return bool(section.result.get("marks"))
    if section.topic == "break_in_schedule":
        return bool(section.asked.answer.table)
    return section.topic in _DRAWN


def _pattern(section: Section) -> list[str]:
    """The order of tightening; passes and preload stand in the torque list."""
    sequence = section.asked.answer.result.get("sequence")
    if sequence is None or len(sequence["order"]) < FEWEST_FASTENERS:
        return []
    return [_figure(f"Order: {section.which}", *_pattern_picture(torque_svg.pattern_alone(sequence)))]


def _figure(caption: str, picture: str, said: str) -> str:
    return (
        f"<figure><figcaption>{safe(caption)}</figcaption><img alt='{said}' src='data:image/svg+xml;base64,{picture}'></figure>"
    )


def _picture(svg: str) -> tuple[str, str]:
    """A drawing as the address of an image, and its title and description as the text in its place."""
    start, _, rest = svg.partition(">")
    match = _WORDS.search(svg)
    said = ". ".join(unescape(text).rstrip(".") for text in match.groups()) if match else ""
    return b64encode(f"{start}>{INK}{rest.removesuffix('</svg>')}{GROUND}".encode()).decode(), safe(said)


_pattern_picture = lru_cache(maxsize=128)(_picture)  # the patterns of an engine family come again in every sheet
