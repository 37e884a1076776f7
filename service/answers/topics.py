"""The one list of topics: a new calculator is entered here, and the API, its documentation and the sheet pick it up."""

from collections.abc import Mapping

from service.answers import displacement
from service.answers.topic import Topic

TOPICS: tuple[Topic, ...] = (displacement.TOPIC,)

BY_NAME: Mapping[str, Topic] = {topic.name: topic for topic in TOPICS}
BY_PATH: Mapping[str, Topic] = {topic.path: topic for topic in TOPICS}
