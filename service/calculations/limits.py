"""The refusals that many formulas share, in words for the technician."""

from service.errors import OutsideValidity


def require_positive(**values: float) -> None:
    """Refuse the first value that is not above zero; the keyword is the field that the caller sent.

    Raises:
        OutsideValidity: a value is zero, negative or not a number.
    """
    for field, value in values.items():
        if not value > 0:
            name = field.replace("_", " ")
            raise OutsideValidity(field, f"The {name} must be above zero; send what was measured, with its unit.", "> 0")


def require_not_negative(**values: float) -> None:
    """Refuse the first value below zero; the keyword is the field that the caller sent.

    Raises:
        OutsideValidity: a value is negative or not a number.
    """
    for field, value in values.items():
        if not value >= 0:
            name = field.replace("_", " ")
            raise OutsideValidity(field, f"The {name} cannot be negative; send zero or more, with its unit.", "≥ 0")
