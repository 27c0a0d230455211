"""Text that a spreadsheet would take for a formula: the one place that knows it."""

RISKY = ("=", "+", "-", "@", "\t", "\r", "\n")
"""Signs at the beginning of a cell that a spreadsheet may take for a formula."""


def guarded(text: str) -> str:
    """Return the text of a CSV cell, with an apostrophe before it where a spreadsheet might run it."""
    return f"'{text}" if text.startswith(RISKY) else text
