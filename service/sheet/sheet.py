"""The build sheet: one document in; sections, order of work, gaps, findings and cautions out."""

from functools import lru_cache
from typing import Any

from service.answers import torque
from service.answers.envelope import STAGES, Answer
from service.answers.inputs import Request
from service.answers.topic import Example, Topic
from service.answers.topics import TOPICS
from service.quantities import Fixed
from service.reference.dataset import Dataset
from service.sheet import work
from service.sheet.cross_check import Build, check_counts
from service.sheet.document import SHARED_NAMES, document_model
from service.sheet.family import check_family, fill_in, name_filled_in, not_asked
from service.sheet.pool import Pool
from service.sheet.result import sheet_result
from service.sheet.rules import CROSS_CHECKS
from service.sheet.sections import Gaps, Section, answer_section, report_refused, take_in, unknown_engine

SHEET_TOPICS: tuple[Topic, ...] = tuple(topic for topic in TOPICS if topic.in_sheet != "never")
BuildDocument = document_model(SHEET_TOPICS)
BuildSheetResult = sheet_result(SHEET_TOPICS)

STAGE_TITLES = {
    "combination": "The combination",
    "measuring": "Measuring",
    "trial-assembly": "Trial assembly",
    "valve-train": "Valve train",
    "closing-up": "Closing up",
    "pre-start": "Before the first start",
    "first-fire": "First fire and break-in",
    "after-run": "After the run",
    "hand-over": "Hand-over",
}


def answer(request: Request, dataset: Dataset) -> Answer:
    """The sheet of whatever is known; it never fails because one section lacks an input."""
    pool = Pool({name: getattr(request, name, None) for name in SHARED_NAMES})
    pool.take_checks(getattr(request, "checks", None))
    taken = fill_in(request, pool, dataset)
    sections: list[tuple[str, Section]] = []
    absent: list[Topic] = []
    for topic in SHEET_TOPICS:
        of_topic = _sections_of(topic, getattr(request, topic.name), pool, dataset)
        sections += of_topic
        if not of_topic:
            absent.append(topic)
    sheet = Answer(result={})
    gaps: Gaps = {}
    for path, section in sections:
        take_in(sheet, section, path, gaps)
    name_filled_in(sheet, taken)
    results = {path: asked.answer.result for path, section in sections for asked in section.asked}
    build = Build(dict(request.__dict__), results)
    no_question = not_asked(build, dataset)
    for check in CROSS_CHECKS:
        if check.rule.code not in no_question:
            check.apply(sheet, build)
    check_counts(sheet, build)
    check_family(sheet, build, dataset)
    report_refused(sheet, (section for _, section in sections))
    sheet.parts = [asked for _, section in sections for asked in section.asked]
    sheet.result = {
        "identity": _identity(request),
        "sections": _sections(sections),
        "stages": _stages(sections),
        "work": work.in_order(sheet.parts),
        "missing": _missing(sections, absent),
        "refused": _refused(sections),
    }
    return sheet


def _sections_of(topic: Topic, own: Any, pool: Pool, dataset: Dataset) -> list[tuple[str, Section]]:
    """The sections of one topic by their places in the document: one, or one for each question of a list."""
    if topic.in_sheet == "once":
        return [(topic.name, answer_section(topic, own, pool, dataset, topic.name))]
    if own is None and topic is torque.TOPIC and (engine := pool.value("engine")) is not None:
        if (refused := unknown_engine(topic, engine, dataset)) is not None:
            return [(topic.name, refused)]
        usual = family_torques(dataset, engine)
        for _, section in usual:
            pool.pass_on(section.asked[0])
        return usual
    places = [f"{topic.name}.{index}" for index in range(len(own or []))]
    return [(place, answer_section(topic, item, pool, dataset, place)) for place, item in zip(places, own or [], strict=True)]


@lru_cache(maxsize=128)
def family_torques(dataset: Dataset, engine: str) -> list[tuple[str, Section]]:
    """The torque of every fastener that an engine's family lists, for a build that names none.

    It depends on nothing else of the build, so it is worked out once for each engine of each dataset.
    """
    names = dict.fromkeys(name for owner in dataset.lineage(engine) for name in dataset.names_of_engine("fasteners", owner))
    sections: list[tuple[str, Section]] = []
    for name in names:
        path = f"torque.{len(sections)}"
        own = torque.TOPIC.request.model_validate({"fastener": name})
        section = answer_section(torque.TOPIC, own, Pool({"engine": engine}), dataset, path)
        for asked in section.asked:
            asked.answer.result = Fixed(asked.answer.result)
            sections.append((path, section))
    return sections


def _identity(request: Request) -> dict[str, str]:
    identity = getattr(request, "identity", None)
    return {name: value for name, value in identity.__dict__.items() if value is not None} if identity else {}


def _sections(sections: list[tuple[str, Section]]) -> dict[str, Any]:
    """Results by topic; a topic that is asked many times has a list."""
    found: dict[str, Any] = {}
    for _, section in sections:
        for asked in section.asked:
            if section.topic.in_sheet == "list":
                found.setdefault(section.topic.name, []).append(asked.answer.result)
            else:
                found[section.topic.name] = asked.answer.result
    return found


def _stages(sections: list[tuple[str, Section]]) -> list[dict[str, Any]]:
    """The stages of the work, each with its sections and its cautions."""
    stages = []
    for stage in STAGES:
        answered = [(path, asked) for path, s in sections if s.topic.stage == stage for asked in s.asked]
        cautions = dict.fromkeys(caution for _, asked in answered for caution in asked.answer.cautions)
        stages.append(
            {
                "stage": stage,
                "title": STAGE_TITLES[stage],
                "sections": [path for path, _ in answered],
                "cautions": list(cautions),
            }
        )
    return stages


def _missing(sections: list[tuple[str, Section]], absent: list[Topic]) -> list[dict[str, Any]]:
    """Each missing input once, with the sections that it would unlock; a list of which nothing is there, by its own name."""
    unlocks: dict[str, list[str]] = {topic.name: [topic.title] for topic in absent}
    for _, section in sections:
        for need in section.needs:
            titles = unlocks.setdefault(need, [])
            if section.topic.title not in titles:
                titles.append(section.topic.title)
    return [{"input": need, "unlocks": titles} for need, titles in unlocks.items()]


def _refused(sections: list[tuple[str, Section]]) -> list[dict[str, Any]]:
    """The sections whose inputs make no sense together, with the reason."""
    return [
        {"section": path, "reason": section.refused[0], "fields": list(section.refused[1])}
        for path, section in sections
        if section.refused
    ]


TOPIC = Topic(
    name="build_sheet",
    path="/v1/build-sheet",
    title="Build sheet",
    summary="Everything that follows from what is known of a build, in the order of the work, with all findings.",
    request=BuildDocument,
    result=BuildSheetResult,
    answer=answer,
    examples=(Example("Only a bore and a stroke", {"cylinders": 4, "bore": "86 mm", "stroke": "73 mm"}),),
    body_limit=2_097_152,  # a build document may carry the log of the break-in as CSV
    longest_text=1_500_000,
    in_sheet="never",
)
