"""The leads of the distributor cap against firing order and rotation."""

from typing import Any

from service.answers.envelope import Answer, Rule
from service.answers.ignition_request import IgnitionRequest
from service.calculations.lead_order import lead_order

LEADS_OUT_OF_ORDER = Rule(
    code="leads-out-of-order",
    severity="stop",
    stage="pre-start",
    rule="leads read round the cap in the rotor's direction are not the firing order",
    reason="A cylinder would fire on its intake stroke: backfire, fire, bent push rods.",
    remedy="Move the leads named; then check that the rotor points at the first lead when that cylinder fires.",
    source="common-practice",
    evidence="common-practice",
)


def leads(request: IgnitionRequest, found: Answer) -> dict[str, Any] | None:
    """Verdict on the cap, read clockwise from above; ``None`` until order, leads and rotation are known."""
    if request.leads is None or request.firing_order is None or request.rotor_rotation is None:
        needed = [name for name in ("firing_order", "leads", "rotor_rotation") if getattr(request, name) is None]
        found.cannot_check(LEADS_OUT_OF_ORDER.code, needed, "Read the leads clockwise from above.")
        return None
    order = [int(part) for part in request.firing_order.split("-")]
    verdict = lead_order(firing_order=order, leads=request.leads, rotation=request.rotor_rotation)
    found.rests_on(lead_order)
    if not verdict.in_order:
        posts = ", ".join(str(post + 1) for post in verdict.misplaced)
        words = {
            "reversed": "The leads run against the rotor's rotation.",
            "two-swapped": f"The leads of posts {posts} are swapped.",
            "scrambled": f"The leads of posts {posts} are in the wrong place.",
        }
        right = "-".join(str(lead) for lead in verdict.expected)
        found.find(
            LEADS_OUT_OF_ORDER,
            ("leads", "firing_order", "rotor_rotation"),
            f"{words[verdict.fault]} Clockwise from the same post it should be {right}.",
        )
    return {
        "in_order": verdict.in_order,
        "fault": verdict.fault,
        "expected": list(verdict.expected),
        "misplaced": [post + 1 for post in verdict.misplaced],
    }
