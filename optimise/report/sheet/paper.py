"""The sheet as a PDF, by WeasyPrint."""

from collections.abc import Callable
from typing import Any

Printer = Callable[[str], bytes]


class NoPrinterError(RuntimeError):
    """The library that makes PDFs is missing, or what it needs of the system is."""


def printer() -> Printer:
    """Return what makes a PDF of a page. Raises `NoPrinterError`."""
    try:
        import weasyprint
    except ImportError:
        raise NoPrinterError("a PDF takes WeasyPrint: pip install 'rushlight[pdf]'.") from None
    except OSError as error:
        # It finds the libraries of Pango when it is imported.
        reason = str(error).splitlines()[0][:120] if str(error) else type(error).__name__
        raise NoPrinterError(
            f"WeasyPrint is there, but not what it needs of the system (Pango): {reason}. Install Pango, or print the "
            "page from a browser."
        ) from None

    def refused(url: str, *_: Any, **__: Any) -> Any:
        raise ValueError(f"the sheet asks for nothing, not even {url[:80]}")

    def pressed(page: str) -> bytes:
        # A fixed identifier, so that the same page gives the same file.
        made: bytes = weasyprint.HTML(string=page, url_fetcher=refused).write_pdf(pdf_identifier=b"rushlight")
        return made

    return pressed
