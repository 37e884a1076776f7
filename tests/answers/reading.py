"""What the tests read out of an answer: its findings, gaps and assumptions by name, its figures in SI."""

import math
from typing import Any

from service.answers.asking import ask
from service.answers.envelope import Answer
from service.answers.topic import Topic
from service.errors import Contradiction, MissingInput, OutsideValidity
from service.quantities import Measure, shown
from service.reference.dataset import Dataset


def findings(answer: Answer) -> dict[str, str]:
    """The severity of each finding by its code, in the order in which they stand; nothing is found twice in one field."""
    told = [(finding.rule.code, finding.fields) for finding in answer.findings]
    assert len(set(told)) == len(told), f"a finding stands twice: {told}"
    return {finding.rule.code: finding.severity for finding in answer.findings}


def unchecked(answer: Answer) -> dict[str, list[str]]:
    """The inputs that each check would have needed, by the name of the check."""
    return {entry["check"]: entry["needs"] for entry in answer.unchecked}


def assumed(answer: Answer) -> set[str]:
    """The fields that the answer supplied itself."""
    return {entry["field"] for entry in answer.assumptions}


def si(figure: Any) -> float:
    """The value of a figure with a unit, in SI."""
    assert isinstance(figure, Measure)
    return figure.si


def finite(tree: Any) -> bool:
    """Whether every number of a written result is finite."""
    if isinstance(tree, dict):
        return all(finite(value) for value in tree.values())
    if isinstance(tree, list):
        return all(finite(value) for value in tree)
    return not isinstance(tree, float) or math.isfinite(tree)


def answered_in_finite_numbers_or_refused_by_field(topic: Topic, question: dict[str, Any], dataset: Dataset) -> bool:
    """Whether a legal question has an answer that fits its model in finite numbers, or a refusal that names its fields."""
    try:
        result = shown(ask(topic, question, dataset).answer.result)
    except (OutsideValidity, Contradiction, MissingInput) as refusal:
        named = refusal.fields if isinstance(refusal, Contradiction) else (refusal.field,)
        return all(field.split("/")[0] in topic.request.model_fields for field in named)
    topic.result.model_validate(result)
    return finite(result)
