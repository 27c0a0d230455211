"""What all pages share: templates that escape by default, and a policy that lets in nothing but a page's own."""

import base64
import hashlib
from functools import lru_cache
from importlib.resources import files

from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from optimise.report.page_text import bare, clean, minus, said
from optimise.report.terminal import number


def policy(style: str, script: str = "") -> str:
    """Return a content security policy that lets in nothing but this very style sheet and, if any, script."""
    scripts = f"script-src '{_hash(script)}'; " if script else ""
    return f"default-src 'none'; style-src '{_hash(style)}'; {scripts}base-uri 'none'; form-action 'none'"


def _hash(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")


@lru_cache(maxsize=16)
def asset(package: str, name: str) -> str:
    """Return the text of a file beside the templates of a package."""
    return files(package).joinpath("templates", name).read_text(encoding="utf-8")


@lru_cache(maxsize=4)
def environment(package: str) -> Environment:
    """Return the templates of a package, with the filters `said`, `bare`, `raw_text`, `f` and `stops`."""
    made = Environment(
        loader=ChoiceLoader([PackageLoader(package), PackageLoader("optimise.report.sheet")]),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=clean,
        keep_trailing_newline=True,
    )
    made.filters["said"] = said
    made.filters["bare"] = bare
    made.filters["raw_text"] = Markup
    made.filters["f"] = _formatted
    made.filters["stops"] = signed
    return made


def _formatted(value: float | None, unit: str = "") -> str:
    return "" if value is None else minus(number(value, unit))


def signed(value: float, digits: int) -> str:
    """Return a number with its sign, none for nothing."""
    text = f"{value:+.{digits}f}".replace("-", "−")
    return text[1:] if not text.strip("+−0.") else text
