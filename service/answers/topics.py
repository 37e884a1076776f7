"""The one list of topics: a new calculator is entered here, and the API, its documentation and the sheet pick it up."""

from collections.abc import Mapping

from service.answers import (
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
)
from service.answers.topic import Topic

TOPICS: tuple[Topic, ...] = (
    displacement.TOPIC,
    compression.TOPIC,
    combinations.TOPIC,
    lash.TOPIC,
    piston_motion.TOPIC,
    induction.TOPIC,
    power_correction.TOPIC,
    oil.TOPIC,
    ignition.TOPIC,
    cylinder_check.TOPIC,
    clearance.TOPIC,
    shims.TOPIC,
    torque.TOPIC,
)

BY_NAME: Mapping[str, Topic] = {topic.name: topic for topic in TOPICS}
BY_PATH: Mapping[str, Topic] = {topic.path: topic for topic in TOPICS}
