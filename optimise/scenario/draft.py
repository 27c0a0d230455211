"""A first scenario out of what a film-maker can answer: commented text, to be read like any other."""

import re
from dataclasses import dataclass

from optimise.parts.text import toml_text

BRIGHT = 'an illuminance, as "120 lx", or an exposure, as "ISO 800, f/4, 1/50 s" or "ISO 800, f/4, 180 deg, 25 fps"'

_EXPOSURE = (
    ("iso", re.compile(r"iso\s*([0-9.]+)", re.IGNORECASE), "{}"),
    ("f_number", re.compile(r"[ft]\s*/?\s*([0-9.]+)", re.IGNORECASE), "{}"),
    ("shutter_angle", re.compile(r"([0-9.]+)\s*(?:deg|°)", re.IGNORECASE), "{} deg"),
    ("frame_rate", re.compile(r"([0-9.]+)\s*fps", re.IGNORECASE), "{} fps"),
    ("shutter", re.compile(r"((?:[0-9.]+\s*/\s*)?[0-9.]+)\s*s?", re.IGNORECASE), "{} s"),
)


@dataclass(frozen=True)
class Answers:
    """What a job asks, as a person writes it; None where nothing is asked."""

    bright: str = "120 lx"
    distance: str = "2.5 m"
    source: str = "battery"
    runtime: str | None = None
    mains_voltage: str | None = None
    lead_length: str = "2 m"
    budget: str | None = None
    mass: str | None = None
    flying: bool = False
    objective: str = "cost"
    title: str = "My light"


def exposure_of(text: str) -> dict[str, str]:
    """Return the keys of `[light]` that an exposure such as "ISO 800, f/4, 1/50 s" states.

    Raises ValueError where a part of it is not understood, or stands there twice.
    """
    keys: dict[str, str] = {}
    for piece in re.split(r"[,;]", text):
        for name, pattern, shown in _EXPOSURE:
            found = pattern.fullmatch(piece.strip())
            if found is not None and name not in keys:
                keys[name] = shown.format(found[1])
                break
        else:
            raise ValueError(piece.strip() or text)
    return keys


def draft(answers: Answers) -> str:
    """Return the text of a scenario, with a comment at every key and the most useful others commented out.

    What an answer may be is for the reader of scenarios to say. Raises ValueError as `exposure_of` does.
    """
    mains, battery = answers.source != "battery", answers.source != "mains"
    return "\n".join(
        [
            "# A job for rushlight. Quantities are text with a unit. A key behind a # is not asked yet: take the sign",
            "# away to ask it. The README of rushlight lists every key; `rushlight check` says what is wrong with one.",
            f"title = {toml_text(answers.title)}",
            "",
            "[light]",
            *_bright(answers.bright),
            "# From the front of the light to the subject.",
            f"distance = {toml_text(answers.distance)}",
            "# The subject's size, where the light must be even over it: the least over the mean, the edge in stops.",
            '# subject_width = "60 cm"',
            '# subject_height = "60 cm"',
            '# uniformity_min = "70 %"',
            "",
            "[look]",
            "# The colour of the light, and how well it shows colours.",
            '# cct_min = "5000 K"',
            '# cct_max = "6000 K"',
            '# cri_min = "90"',
            "# The shorter side of the lit face: the larger, the softer.",
            '# source_size_min = "30 cm"',
            "# Whether a diffuser must be fitted.",
            "# diffused = true",
            "",
            "[power]",
            "# battery, mains, or any of the two.",
            f"source = {toml_text(answers.source)}",
            *_optional("How long it must run from the battery.", "runtime", answers.runtime, "60 min", shown=battery),
            *_optional("The mains.", "mains_voltage", answers.mains_voltage, "230 V", shown=mains),
            *_optional("The rating of the mains circuit.", "circuit", None, "10 A", shown=mains),
            "# From the supply to the light.",
            f"lead_length = {toml_text(answers.lead_length)}",
            "# How warm the air is.",
            '# ambient = "25 degC"',
            "",
            "[limits]",
            *_optional("The most that all parts may cost.", "budget", answers.budget, "300 EUR"),
            *_optional("The most that everything carried may weigh.", "mass", answers.mass, "5 kg"),
            "# The greatest size of the panel.",
            '# width = "60 cm"',
            '# height = "60 cm"',
            "# Days until it must all be there.",
            '# deadline = "14 day"',
            "",
            "[travel]",
            "# road, or air: as a passenger's baggage, where the rules for batteries hold.",
            f'mode = "{"air" if answers.flying else "road"}"',
            "",
            "[search]",
            "# What to make least: cost, mass or power.",
            f"objective = {toml_text(answers.objective)}",
            "",
        ]
    )


def _bright(bright: str) -> list[str]:
    if re.match(r"\s*iso", bright, re.IGNORECASE):
        keys = exposure_of(bright)
        lines = [f"{name} = {toml_text(value)}" for name, value in keys.items()]
        return [
            "# The exposure that the subject is to have.",
            *lines,
            "# Stops above (+) or below (−) it.",
            "# stops = 0",
        ]
    return [
        "# How bright on the subject. Or the exposure: iso, f_number, shutter.",
        f"illuminance = {toml_text(bright)}",
    ]


def _optional(comment: str, key: str, value: str | None, example: str, *, shown: bool = True) -> list[str]:
    if not shown:
        return []
    line = f"# {key} = {toml_text(example)}" if value is None else f"{key} = {toml_text(value)}"
    return [f"# {comment}", line]
