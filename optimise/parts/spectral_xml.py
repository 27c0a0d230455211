"""IES TM-27 spectral XML, read without document types, entities of its own, or any other file.

The parser is expat, which comes with Python and tells the line of what it reads. A document type is refused where it
begins, before any declaration in it is read: with it go entity expansion and all ways to another file or address, so
nothing is left for a hardened parser to hold back. Expat is never asked to follow an external reference, and keeps no
tree: what is kept is bounded here.
"""

from dataclasses import dataclass, field
from xml.parsers import expat

from optimise.parts.faults import Collector, Fault, quoted

ROOT = "IESTM27"
"""How the name of the root begins: IESTM2714 is that of TM-27-14, the years behind it are those of the edition."""
QUANTITIES = ("relative", "flux", "intensity", "irradiance", "radiance", "exitance")
"""Spectral quantities of a source; the others are those of a material."""
MAX_DEPTH = 16
MAX_TEXT = 10_000
"""Signs that the text of one element may have."""
MAX_VALUES = 20_001
"""One more than a spectrum may have, so that too many are seen to be so."""

_NEEDED = {"SpectralDistribution", "SpectralQuantity", "SpectralData"}


class _StopError(Exception):
    """Reading cannot go on; the fault is told already."""


def spectral_data(text: str, name: str, faults: Collector) -> list[tuple[int, str, str]]:
    """Return (line, wavelength in nm, value) of every SpectralData element, as text; faults are told by line."""
    reader = _Reader(name, faults)
    try:
        reader.read(text)
    except _StopError:
        return []
    return reader.found


@dataclass
class _Reader:
    name: str
    faults: Collector
    found: list[tuple[int, str, str]] = field(default_factory=list)
    path: list[str] = field(default_factory=list)
    seen: set[str] = field(default_factory=set)
    wavelength: str | None = None
    text: list[str] = field(default_factory=list)
    size: int = 0
    line: int = 0
    """Where the element that is open began."""

    def read(self, text: str) -> None:
        parser = expat.ParserCreate(namespace_separator=" ")
        parser.buffer_text = True
        parser.StartDoctypeDeclHandler = self._doctype
        parser.StartElementHandler = self._start
        parser.EndElementHandler = self._end
        parser.CharacterDataHandler = self._signs
        self.parser = parser
        try:
            # A str is parsed as what it is, whatever encoding the file says of itself.
            parser.Parse(text, True)
        except expat.ExpatError as error:
            why = expat.errors.messages[error.code] if error.code in expat.errors.messages else str(error)
            self._tell(f"broken XML ({why})", "XML that is whole (IES TM-27)", line=error.lineno)
            raise _StopError from None
        for missing in sorted(_NEEDED - self.seen):
            self._tell(f"no element {missing}", f"{missing}, since IES TM-27 requires it", line=None)

    def _tell(self, read: str, allowed: str, mend: str = "", line: int | None = -1) -> None:
        number = self.parser.CurrentLineNumber if line == -1 else line
        self.faults.add(Fault(self.name, number, "", read, allowed, mend))

    def _doctype(self, *_: object) -> None:
        self._tell("a document type (DOCTYPE)", "a file without one", "Take the declaration out: no spectrum needs it.")
        raise _StopError

    def _start(self, tag: str, attributes: dict[str, str]) -> None:
        local = tag.rpartition(" ")[2]
        if not self.path and not local.startswith(ROOT):
            self._tell(f"the root element {quoted(local)}", f"{ROOT}14, or that of another edition of IES TM-27")
            raise _StopError
        self.path.append(local)
        if len(self.path) > MAX_DEPTH:
            self._tell("elements within elements", f"at most {MAX_DEPTH} deep")
            raise _StopError
        self.text, self.size, self.line = [], 0, self.parser.CurrentLineNumber
        if local in _NEEDED:
            self.seen.add(local)
        if self.path[1:] == ["SpectralDistribution"] and "distribution" in self.seen:
            self._tell("a second spectral distribution", "one for a file")
            raise _StopError
        if self.path[1:] == ["SpectralDistribution"]:
            self.seen.add("distribution")
        if local == "SpectralData":
            if self.path[1:] != ["SpectralDistribution", "SpectralData"]:
                self._tell("SpectralData out of its place", "SpectralData within SpectralDistribution alone")
                raise _StopError
            self.wavelength = attributes.get("wavelength")
            if self.wavelength is None:
                self._tell("SpectralData without a wavelength", 'an attribute such as wavelength="450"')

    def _signs(self, signs: str) -> None:
        self.size += len(signs)
        if self.size > MAX_TEXT:
            self._tell("a very long text", f"at most {MAX_TEXT} signs in an element")
            raise _StopError
        self.text.append(signs)

    def _end(self, tag: str) -> None:
        local, text = tag.rpartition(" ")[2], "".join(self.text).strip()
        self.path.pop()
        self.text, self.size = [], 0
        if local == "SpectralData" and self.wavelength is not None and len(self.found) < MAX_VALUES:
            self.found.append((self.line, self.wavelength.strip(), text))
        elif local == "SpectralQuantity" and text.lower() not in QUANTITIES:
            allowed = f"that of a source: {', '.join(QUANTITIES)}"
            self._tell(f"the spectral quantity {quoted(text)}", allowed, line=self.line)
