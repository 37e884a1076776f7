"""The motion of the piston over 720° as CSV: one row a crank angle, the unit of each column in its heading."""

from typing import cast

from service.answers.asking import Asked
from service.answers.piston_motion import TABLE_POINTS, motion_columns
from service.answers.piston_motion_request import PistonMotionRequest
from service.faces.csv_face import encode
from service.quantities import UnitSystem, series_json


def write(asked: Asked, system: UnitSystem) -> bytes:
    """The table, with as many rows as were asked for, else one a degree."""
    request = cast("PistonMotionRequest", asked.request)
    columns = {
        name: series_json(series, system) for name, series in motion_columns(request, request.points or TABLE_POINTS).items()
    }
    heading = [f"{name} [{column['unit']}]" for name, column in columns.items()]
    return encode([heading, *zip(*(column["values"] for column in columns.values()), strict=True)])
