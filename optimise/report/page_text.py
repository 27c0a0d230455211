"""Text of users on the page: shown as it is, with nothing in it that could act."""

import unicodedata

from markupsafe import Markup, escape

_UNSEEN = {"Cc", "Cs"}
"""Categories of signs that no page may hold, or that would not be seen."""


def clean(value: object) -> object:
    """Return what an expression of a template gives, fit to be written: controls and lone surrogates become a sign."""
    if not isinstance(value, str) or isinstance(value, Markup):
        return value
    return "".join("\ufffd" if c not in "\n\t" and unicodedata.category(c) in _UNSEEN else c for c in value)


def said(value: str) -> Markup:
    """Return text that a user wrote as markup: escaped, and its direction kept to itself."""
    return Markup("<bdi>") + escape(clean(value)) + Markup("</bdi>")


def minus(text: str) -> str:
    """Return a number in words with a minus sign in place of a hyphen before it."""
    return f"−{text[1:]}" if text.startswith("-") else text


def bare(value: str) -> str:
    """Return text for a place that holds no markup: without the signs that turn the direction of writing."""
    return "".join(c for c in str(clean(value)) if unicodedata.bidirectional(c) not in _TURNS and c not in _MARKS)


_TURNS = {"LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI"}
_MARKS = "\u200e\u200f\u061c"
