"""Photometric files as text, and a second reader of them. All fixtures are invented: no such product exists."""

import re
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

HEADS = {
    1986: "A bare lamp on a plate\nInvented for the tests\n",
    1991: "IESNA91\n[TEST] invented\n[MANUFAC] nobody\n",
    1995: "IESNA:LM-63-1995\n[TEST] invented\n[MANUFAC] nobody\n[MORE] and no one\n",
    2002: "IESNA:LM-63-2002\n[TEST] 1\n[TESTLAB] none\n[ISSUEDATE] 1 Jan 2031\n[MANUFAC] invented\n",
    2019: "IES:LM-63-2019\n[TEST] 1\n[TESTLAB] none\n[ISSUEDATE] 1 Jan 2031\n[MANUFAC] invented\n",
}
"""Lines before TILT= of each edition."""


def text_of(
    vertical: Sequence[float],
    horizontal: Sequence[float],
    candela: NDArray[np.float64],
    *,
    edition: int = 2002,
    tilt: str = "NONE",
    lamps: str = "1 1000 1",
    kind: int = 1,
    size: str = "2 0 0 0",
    factors: str = "1 1 10",
    wrap: int = 7,
) -> str:
    """Return a file; `size` is units, width, length and height, `wrap` the numbers on a line."""
    numbers = [*(f"{v:.10g}" for v in [*vertical, *horizontal]), *(f"{v:.10g}" for v in candela.ravel())]
    lines = [" ".join(numbers[i : i + wrap]) for i in range(0, len(numbers), wrap)]
    counts = f"{lamps} {len(vertical)} {len(horizontal)} {kind} {size}"
    return HEADS[edition] + f"TILT={tilt}\n{counts}\n{factors}\n" + "\n".join(lines) + "\n"


def second_reading(text: str) -> dict[str, NDArray[np.float64]]:
    """Read a sound file another way: all numbers behind TILT= in one go, cut up by their counts."""
    head, said, body = re.split(r"TILT=(\w+)", text, maxsplit=1)
    numbers = np.array(re.findall(r"[^\s,]+", body), dtype=float)
    if said == "INCLUDE":
        numbers = numbers[2 + 2 * int(numbers[1]) :]
    _, _, factor, v, h, _, units, *size = numbers[:10]
    ballast, second, watts = numbers[10:13]
    old = not re.match(r"IES(NA)?:LM-63-(2002|2019)", head)
    sizes = [13, 13 + int(v), 13 + int(v) + int(h)]
    vertical, horizontal, candela = np.split(numbers, sizes)[1:]
    return {
        "vertical": vertical,
        "horizontal": horizontal,
        "candela": candela.reshape(int(h), int(v)) * factor * ballast * (second if old else 1.0),
        "opening": np.array(size) * (0.3048 if units == 1 else 1.0),
        "watts": watts,
    }
