"""What every kind of part has."""

from typing import Any

from optimise.parts import units
from optimise.parts.columns import Row, column

CODE = r"^[^\s,;][^,;\n\r\t]{0,79}$"
IP_CODE = r"^IP([0-6X])([0-9X])$"


def tolerance(figure: str, rule: str = "") -> Any:
    """Declare the column of how far a figure may be off."""
    return column(
        f"How far the {figure} of what is delivered may be below or above what is stated, as a share of it{rule}.",
        units.SHARE,
        blank="not stated: taken as exact, which is said where the worst case is asked for",
        ge=0,
        lt=1,
    )


def whole_milligrams(kilograms: float) -> int:
    """Return a mass in kg as whole milligrams, a half to the even one.

    What floating point leaves beyond a nanogram decides nothing: which way a half goes must not hang on the order in
    which mass, width and height were multiplied, or on the unit that they were written in.
    """
    return round(round(kilograms * 1e6, 3))


class Part(Row):
    """Anything that can be bought, known by its code."""

    part: str = column("The part's code, once in the whole catalogue.", pattern=CODE)

    @property
    def milligrams(self) -> int:
        """Mass of one piece in whole milligrams: masses add exactly."""
        return whole_milligrams(getattr(self, "mass", 0.0))
