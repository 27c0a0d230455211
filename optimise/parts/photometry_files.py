"""Photometric files of a catalogue: read whole, with the fingerprint of what was read."""

from pathlib import Path

from optimise.parts.faults import Collector
from optimise.parts.photometry import Photometry, read_photometry
from optimise.parts.text import read_data


def read_photometric_file(path: Path, name: str, faults: Collector) -> Photometry | None:
    """Return the table of intensity of a file, or None after adding every fault of it.

    name: what faults call the file.
    """
    data = read_data(path, name, faults)
    return None if data is None else read_photometry(data, name, faults)
