"""What the tests of faults share."""

import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.faults.world import make_workshop


@pytest.fixture(scope="session")
def workshop() -> Iterator[Path]:
    """All that the commands read, made once: none of them writes there."""
    # Not below pytest's own folder, which only its user may enter.
    with tempfile.TemporaryDirectory(prefix="faults-") as folder:
        Path(folder).chmod(0o755)
        yield make_workshop(Path(folder) / "shelf")
