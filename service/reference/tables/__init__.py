"""The schema registry: every table of the dataset with its properties, units, ranges, choices and references.

This is the one place that says what the dataset may hold. Ranges are in SI; they catch slips of transcription (an inch read
as a millimetre, a lost decimal point) and are wider than anything the trade meets.
"""

from collections.abc import Mapping
from types import MappingProxyType

from service.reference.schema import Table
from service.reference.tables.engines import ENGINES
from service.reference.tables.fastening import FASTENING
from service.reference.tables.running import RUNNING
from service.reference.tables.substances import SUBSTANCES

TABLES: Mapping[str, Table] = MappingProxyType(FASTENING | SUBSTANCES | ENGINES | RUNNING)
