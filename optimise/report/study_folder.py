"""Where a study keeps its records and its table, so that it can go on after a stop."""

import errno
import os
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from pydantic import ValidationError

from optimise.parts import Collector
from optimise.parts.text import read_text
from optimise.report.record import InputsRecord, Record
from optimise.report.results import Row, to_csv, to_parquet
from optimise.report.whole import write_whole


class StudyFolder:
    """A folder with `records/NAME.json`, one for each case answered, `results.csv` and perhaps `results.parquet`."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.records = folder / "records"
        self.csv = folder / "results.csv"
        self.parquet = folder / "results.parquet"

    def refusal(self) -> str:
        """Return why a study may not write there, or ''. Raises OSError where the folder cannot be read."""
        if self.folder.exists() and not self.folder.is_dir():
            return f"{self.folder} is a file"
        if not self.folder.is_dir() or self.records.is_dir():
            return ""
        if any(not path.name.startswith(".") for path in self.folder.iterdir()):
            return f"{self.folder} holds other files: name a new folder, an empty one, or one of an earlier study"
        return ""

    @contextmanager
    def opened(self) -> Iterator[None]:
        """Make the folder and keep other studies out of it; clear away what a killed run left half-written.

        Raises BlockingIOError where another study is at work there, and OSError.
        """
        self.records.mkdir(parents=True, exist_ok=True)
        with _alone_in(self.records):
            for place in (self.folder, self.records):
                for name in ("*.json", "results.csv", "results.parquet"):
                    for half in place.glob(f".{name}.*"):
                        half.unlink(missing_ok=True)
            yield

    def answer(self, name: str, inputs: InputsRecord, objective: str) -> str | None:
        """Return the text of a case's record if it is whole and was made of these inputs; else None."""
        try:
            text = read_text(self.records / f"{name}.json", name, Collector())
            record = None if text is None else Record.model_validate_json(text)
        except ValidationError:
            return None
        if record is None:
            return None
        same = record.inputs == inputs and record.objective == objective and not record.worst_case
        return text if same else None

    def keep(self, name: str, text: str | None) -> None:
        """Write a case's record whole; without one, take away what an earlier run left. Raises OSError."""
        path = self.records / f"{name}.json"
        if text is None:
            path.unlink(missing_ok=True)
        else:
            write_whole(path, text)

    def drop_tables(self) -> None:
        """Take the tables away: while cases are open they would tell of another study. Raises OSError."""
        self.csv.unlink(missing_ok=True)
        self.parquet.unlink(missing_ok=True)

    def write_tables(self, rows: Sequence[Row]) -> list[Path]:
        """Write the tables of rows and return where they are. Raises OSError."""
        write_whole(self.csv, to_csv(rows))
        packed = to_parquet(rows)
        if packed is None:
            self.parquet.unlink(missing_ok=True)
            return [self.csv]
        write_whole(self.parquet, packed)
        return [self.csv, self.parquet]


@contextmanager
def _alone_in(folder: Path) -> Iterator[None]:
    """Hold a folder by a lock that ends with this process, however it ends; where there are no locks, go on without."""
    if sys.platform == "win32":
        yield
        return
    import fcntl

    descriptor = os.open(folder, os.O_RDONLY)
    try:
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            if error.errno == errno.EWOULDBLOCK:
                raise BlockingIOError(error.errno, "another study is at work there", str(folder.parent)) from None
        yield
    finally:
        os.close(descriptor)
