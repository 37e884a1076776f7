"""The one list of topics: a new calculator is entered here, and the API, its documentation and the sheet pick it up."""

from collections.abc import Mapping

from service.answers import (
    break_in_assessment,
    break_in_schedule,
    clearance,
    combinations,
    compression,
    cylinder_check,
    displacement,
    ignition,
    induction,
    lash,
    oil,
    piston_motion,
    power_correction,
    shims,
    torque,
    valve_events,
    valve_order,
    valve_spring,
)
from service.answers.topic import Topic

# In an order in which each finds what it takes from the others; the sheet asks them so.
TOPICS: tuple[Topic, ...] = (
    displacement.TOPIC,
    valve_events.TOPIC,
    compression.TOPIC,
    torque.TOPIC,
    piston_motion.TOPIC,
    induction.TOPIC,
    clearance.TOPIC,
    shims.TOPIC,
    valve_spring.TOPIC,
    lash.TOPIC,
    valve_order.TOPIC,
    oil.TOPIC,
    ignition.TOPIC,
    break_in_schedule.TOPIC,
    break_in_assessment.TOPIC,
    cylinder_check.TOPIC,
    power_correction.TOPIC,
    combinations.TOPIC,
)

BY_NAME: Mapping[str, Topic] = {topic.name: topic for topic in TOPICS}
BY_PATH: Mapping[str, Topic] = {topic.path: topic for topic in TOPICS}
