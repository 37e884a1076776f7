"""What an answer is made of: result, findings, basis, assumptions and what could not be checked.

An answer module fills an :class:`Answer`; quantities stay :class:`~service.quantities.Measure` in SI until a face writes
them in the caller's units.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, ClassVar, Literal, TypeAlias

from pydantic import BaseModel, ConfigDict

from service.methods import Evidence, method_of
from service.quantities import Measure, Quantity
from service.reference.dataset import Fact
from service.vocabulary import VOCABULARY

if TYPE_CHECKING:
    from service.answers.asking import Asked

CALCULATION = 1
"""Raised whenever a formula or a rounding changes any answer."""

Severity: TypeAlias = Literal["stop", "fix", "caution", "note", "ask"]
Stage: TypeAlias = Literal[
    "combination",
    "measuring",
    "trial-assembly",
    "valve-train",
    "closing-up",
    "pre-start",
    "first-fire",
    "after-run",
    "hand-over",
]
SEVERITIES: tuple[Severity, ...] = ("ask", "stop", "fix", "caution", "note")
"""Slips of the unit come first: while one stands, every other finding may rest on it."""
UNIT_SLIPS = frozenset({"inch-as-mm", "thou-as-mm", "ftlb-as-nm", "psi-as-bar", "unit-suspect"})
"""Codes of the findings that ask about a unit; they come before every other question."""
STAGES: tuple[Stage, ...] = Stage.__args__  # type: ignore[attr-defined]


@dataclass(frozen=True, slots=True)
class Rule:
    """What a good builder would say and when: the catalogue entry behind a finding.

    ``rule`` names the threshold in words, ``reason`` why it matters, ``remedy`` what to do.
    """

    code: str
    severity: Severity
    stage: Stage
    rule: str
    reason: str
    remedy: str
    source: str
    evidence: Evidence

    def __post_init__(self) -> None:
        """Enter the rule into the catalogue."""
        if self.code in RULES:
            raise ValueError(f"two rules are called {self.code}")
        RULES[self.code] = self


RULES: dict[str, Rule] = {}


@dataclass(frozen=True, slots=True)
class Finding:
    """One rule that this question breaks, with the fields and figures of the case."""

    rule: Rule
    severity: Severity
    fields: tuple[str, ...]
    message: str

    def as_dict(self) -> dict[str, Any]:
        """The finding as it is answered."""
        rule = self.rule
        return {
            "code": rule.code,
            "severity": self.severity,
            "stage": rule.stage,
            "fields": list(self.fields),
            "message": self.message,
            "reason": rule.reason,
            "remedy": rule.remedy,
            "source": rule.source,
        }


@dataclass(slots=True)
class Answer:
    """The answer to one question, before any face has written it.

    ``result`` is a tree of dicts and lists whose leaves are measures, numbers and texts. ``table`` is the answer as rows
    where it has such a form (a schedule, a torque list): the first row's keys are the columns. ``parts`` are the questions
    that a sheet is made of.
    """

    result: dict[str, Any]
    findings: list[Finding] = field(default_factory=list)
    basis: dict[tuple[str, str], dict[str, Any]] = field(default_factory=dict)
    assumptions: list[dict[str, Any]] = field(default_factory=list)
    unchecked: list[dict[str, Any]] = field(default_factory=list)
    cautions: list[str] = field(default_factory=list)
    table: list[dict[str, Any]] | None = None
    parts: list["Asked"] = field(default_factory=list)

    def rests_on(self, *functions: Callable[..., Any]) -> None:
        """Cite the methods that these calculations implement."""
        for function in functions:
            entry = method_of(function)
            self.basis[("method", entry.id)] = {
                "kind": "method",
                "id": entry.id,
                "source": entry.source,
                "locator": entry.locator,
                "evidence": entry.evidence,
            }

    def uses(self, *facts: Fact) -> None:
        """Cite facts of the dataset."""
        for fact in facts:
            fact_id = f"{fact.table}/{fact.id}/{fact.property}"
            self.basis[("fact", fact_id)] = {
                "kind": "fact",
                "id": fact_id,
                "source": fact.source,
                "locator": fact.locator,
                "evidence": fact.evidence,
            }

    def find(self, rule: Rule, fields: Iterable[str], message: str, severity: Severity | None = None) -> None:
        """Raise a finding. ``severity`` overrides the rule's own, for a second threshold of the same rule."""
        self.findings.append(Finding(rule, severity or rule.severity, tuple(fields), message))

    def assume(self, field_name: str, value: Any, reason: str, source: str, evidence: Evidence) -> None:
        """Name a value that the service supplied because the caller did not."""
        self.assumptions.append({"field": field_name, "value": value, "reason": reason, "source": source, "evidence": evidence})

    def cannot_check(self, check: str, needs: Iterable[str], why: str = "") -> None:
        """Name a check that was not made and the inputs it needs. A missing input is never a pass.

        ``check`` is the code of the rule that looks, or, where no rule does, an id of lower-case words joined by hyphens;
        then ``why`` says in words what is missed.
        """
        entry: dict[str, Any] = {"check": check, "needs": list(needs)}
        if why:
            entry["why"] = why
        self.unchecked.append(entry)

    def take_in(self, other: "Answer") -> None:
        """Add the findings, basis, assumptions and gaps of a part to this answer."""
        self.findings.extend(other.findings)
        self.basis.update(other.basis)
        self.assumptions.extend(other.assumptions)
        self.unchecked.extend(other.unchecked)


def order_findings(findings: Iterable[Finding]) -> list[Finding]:
    """Findings by severity (slips of the unit first), then stage of the work, then as they were raised; each once."""
    unique = {(f.rule.code, f.fields, f.message): f for f in findings}

    def place(finding: Finding) -> tuple[int, bool, int]:
        rule = finding.rule
        return SEVERITIES.index(finding.severity), rule.code not in UNIT_SLIPS, STAGES.index(rule.stage)

    return sorted(unique.values(), key=place)


def echo(request: BaseModel) -> dict[str, Any]:
    """The inputs as they were understood: every quantity as given and in SI, taken from the parsed values."""
    given = request.model_fields_set
    return {name: echo_value(value) for name, value in request.__dict__.items() if name in given and value is not None}


def echo_value(value: Any) -> Any:
    """One input as understood (see :func:`echo`)."""
    if isinstance(value, Quantity):
        return {
            "given": {"value": value.value, "unit": value.unit},
            "si": {"value": float(f"{value.si:.12g}"), "unit": _SI_CODES[value.dimension]},
        }
    if isinstance(value, BaseModel):
        return echo(value)
    if hasattr(value, "echo"):  # a log tells what was understood of it instead of coming back whole
        return value.echo()
    if isinstance(value, list | tuple):
        return [echo_value(item) for item in value]
    if isinstance(value, Mapping):
        return {str(key): echo_value(item) for key, item in value.items()}
    return value


_SI_CODES = {dimension.name: dimension.si for dimension in VOCABULARY}


class Result(BaseModel):
    """Base of the models that describe results: for the OpenAPI document and as the tests' referee, not for the answer."""

    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)


class Uncertainty(Result):
    """Expanded uncertainty of a value."""

    value: float
    unit: str
    coverage: Literal[2]


class QuantityOut(Result):
    """A quantity of an answer: unrounded value, its unit, and the text as it is read out in a shop."""

    dimension: ClassVar[str] = ""
    value: float
    unit: str
    text: str
    uncertainty: Uncertainty | None = None


class BandOut(Result):
    """A band: the value lies between low and high; nominal is the best single figure."""

    low: QuantityOut
    nominal: QuantityOut
    high: QuantityOut


def band(low: Measure, nominal: Measure, high: Measure) -> dict[str, Measure]:
    """A band of an answer."""
    return {"low": low, "nominal": nominal, "high": high}
