"""The build document: what is known of one build, in one piece.

Inputs that several questions share are given once, at the top. What belongs to one question stands under the topic's name,
with that question's own field names. Everything is optional: a sheet is made of whatever is known.
"""

from collections.abc import Mapping
from typing import Annotated, Any

from pydantic import Field, create_model
from pydantic.fields import FieldInfo

from service.answers.inputs import Request, Words
from service.answers.topic import Topic

SHARED_NAMES: tuple[str, ...] = (
    "engine",
    "cylinders",
    "bore",
    "stroke",
    "rod_length",
    "pin_offset",
    "reciprocating_mass",
    "rev_limit",
    "compression_ratio",
    "intake_closing",
    "fuel",
    "altitude",
    "air_temperature",
    "station_pressure",
    "start_temperature",
    "pushrod_material",
    "tappet",
    "spring",
    "rocker_ratio",
    "firing_order",
    "rotation",
    "static_advance",
    "total_advance",
    "pulley_diameter",
    "grade",
)
"""Inputs that mean the same wherever they are asked."""

OTHER_NAMES: Mapping[tuple[str, str], str] = {
    ("induction", "temperature"): "air_temperature",
    ("induction", "pressure"): "station_pressure",
    ("cylinder_check", "pressure"): "station_pressure",
    ("power_correction", "temperature"): "air_temperature",
    ("power_correction", "pressure"): "station_pressure",
}
"""Fields of a topic that are a shared input under another name."""


def shared_name(topic: str, name: str) -> str:
    """The shared input that a topic's field is, or else the field's own name."""
    return OTHER_NAMES.get((topic, name), name)


class Identity(Request):
    """What the sheet is headed with. Free words; they are shown and never interpreted."""

    name: Words | None = None
    engine_number: Words | None = None
    owner: Words | None = None
    builder: Words | None = None
    date: Words | None = None
    remarks: Words | None = None


class Part(Request):
    """A part of the build with where its facts come from."""

    role: Words
    description: Words
    facts: Words | None = None
    source: Words | None = None


class Checks(Request):
    """What was looked at, answered by yes or no. What is not answered is listed as not checked, never as passed."""

    turned_over_by_hand: bool | None = Field(None, description="Turned over twice by hand with nothing touching.")
    rod_clearance_measured: bool | None = Field(
        None, description="Rod to cam, case and barrel skirt measured (1.5 mm or more)."
    )
    rocker_sweep_recorded: bool | None = Field(
        None, description="Rocker sweep at half lift recorded after a change of geometry."
    )
    new_cam: bool | None = Field(None, description="The camshaft is new.")
    used_tappets: bool | None = Field(None, description="Some tappets have run before, or were mixed between lobes.")
    tappets_turn: bool | None = Field(None, description="Every tappet turns when the engine is turned over.")
    oil_filled_with_external: bool | None = Field(
        None, description="The fill counts cooler, filter and lines, and was checked on the stick."
    )
    pressure_seen_on_cranking: bool | None = Field(None, description="The gauge moved on cranking, plugs out, ignition dead.")
    oil_seen_at_rockers: bool | None = Field(None, description="Oil was seen at the farthest rocker.")
    static_timing_recorded: bool | None = Field(None, description="Static timing was set and written down.")
    lash_set_cold: bool | None = Field(None, description="Lash of every valve was set stone cold and written down.")
    pressure_gauge_fitted: bool | None = Field(None, description="A live oil-pressure gauge in sight, not only a lamp.")
    breather_free: bool | None = Field(None, description="Air passes freely through the crankcase breather and its hose.")
    float_bowl_filled: bool | None = Field(None, description="The float bowl was filled by hand.")
    fuel_leak_checked: bool | None = Field(None, description="Fuel lines and clamps were looked at under pressure and are dry.")
    fan_and_shroud_fitted: bool | None = Field(None, description="Fan, belt and complete tinware are fitted.")
    exhaust_led_outside: bool | None = Field(None, description="The exhaust is led outside.")
    carbon_monoxide_alarm: bool | None = Field(None, description="A carbon monoxide alarm is on.")
    extinguisher_in_reach: bool | None = Field(None, description="A class B extinguisher is in reach.")
    magnesium_chips_about: bool | None = Field(None, description="Magnesium swarf lies in the room.")
    class_d_or_sand_in_reach: bool | None = Field(None, description="Class D powder or dry sand is in reach.")
    second_person: bool | None = Field(None, description="A second person is there, who watches gauges and leaks.")
    kill_switch_in_reach: bool | None = Field(None, description="The ignition can be cut from where you stand.")
    log_running: bool | None = Field(None, description="Speed, oil pressure, oil and head temperature are recorded.")
    lash_rechecked_cold: bool | None = Field(None, description="Lash was checked again stone cold after the run.")
    oil_changed_after_run: bool | None = Field(
        None, description="Oil was drained hot after the run and strainer or filter opened."
    )
    bright_flakes_found: bool | None = Field(
        None, description="Bright flakes or needles were found in oil, strainer or magnet."
    )
    head_nuts_rechecked: bool | None = Field(
        None, description="Head nuts were checked where the maker or the rings ask for it."
    )


def document_model(topics: tuple[Topic, ...]) -> type[Request]:
    """The model of the build document over the topics that stand in the sheet."""
    fields: dict[str, Any] = {
        "identity": (Identity | None, None),
        "parts": (Annotated[list[Part], Field(max_length=60)] | None, None),
        "checks": (Checks | None, None),
    }
    for name in SHARED_NAMES:
        annotation = _shared_annotation(name, topics)
        if annotation is not None:
            fields[name] = (annotation, None)
    for topic in topics:
        section = section_model(topic)
        if topic.in_sheet == "once":
            fields[topic.name] = (section | None, None)
        elif topic.in_sheet == "list":
            fields[topic.name] = (Annotated[list[section], Field(max_length=40)] | None, None)  # type: ignore[valid-type]
    return create_model(
        "BuildDocument",
        __base__=Request,
        __doc__="Everything that is known of one build; every field is optional.",
        **fields,
    )


def section_model(topic: Topic) -> type[Request]:
    """The topic's own question with every field optional."""
    fields: dict[str, Any] = {name: (optional(info), None) for name, info in topic.request.model_fields.items()}
    name = "".join(word.capitalize() for word in topic.name.split("_"))
    return create_model(f"{name}Section", __base__=Request, __doc__=f"{topic.title}, as far as it is known.", **fields)


def optional(info: FieldInfo) -> Any:
    """The declared type of a field, ranges included, with None allowed."""
    declared: Any = Annotated[(info.annotation, *info.metadata)] if info.metadata else info.annotation
    return declared | None


def _shared_annotation(name: str, topics: tuple[Topic, ...]) -> Any:
    for topic in topics:
        for own, info in topic.request.model_fields.items():
            if shared_name(topic.name, own) == name:
                return optional(info)
    return None
