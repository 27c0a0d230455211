"""What holds for all commands, whatever fails about them: output that cannot be written, keys, memory, the disk."""

import codecs
import errno
import io
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, TextIO

import click

from optimise.cli_common import NO_ANSWER

LOOK_ALIKE = {
    "×": "x",
    "≥": ">=",
    "≤": "<=",
    "°": "deg ",
    "²": "2",
    "³": "3",
    "±": "+-",
    "–": "-",
    "—": "-",
    "−": "-",
    "…": "...",
    "Ω": "ohm",
    "µ": "u",
    "μ": "u",
    "·": "*",
    "’": "'",
    "→": "->",
}
"""By sign of ours: what is written in its place where the terminal has no such sign."""


def _replaced(error: UnicodeError) -> tuple[str, int]:
    assert isinstance(error, UnicodeEncodeError)
    told = "".join(LOOK_ALIKE.get(sign, "?") for sign in error.object[error.start : error.end])
    return told, error.end


codecs.register_error("rushlight", _replaced)


class Output(io.RawIOBase):
    """A file descriptor that never fails: the first fault is kept, and all after it is thrown away.

    So a reader that has gone (`| head`), or a full disk, does not keep a command from writing the files asked for.
    """

    def __init__(self, descriptor: int) -> None:
        self.descriptor = descriptor
        self.fault: OSError | None = None

    def writable(self) -> bool:
        """Whether it may be written to: always."""
        return True

    def fileno(self) -> int:
        """Return the descriptor."""
        return self.descriptor

    def isatty(self) -> bool:
        """Whether it is a terminal."""
        return os.isatty(self.descriptor)

    def write(self, data: Any) -> int:
        """Write as much as can be, and say that all was written where there is a fault."""
        if self.fault is None:
            try:
                return os.write(self.descriptor, data)
            except OSError as error:
                self.fault = error
        return len(data)


def _wrapped(stream: TextIO | None, errors: str) -> tuple[TextIO | None, Output | None]:
    """Return a stream in place of one that leads to a file descriptor, and what is below it; others stay."""
    if stream is None:
        return open(os.devnull, "w", encoding="utf-8"), None  # noqa: PTH123 - it is for the whole process
    try:
        descriptor = stream.fileno()
        stream.flush()
    except (OSError, ValueError):
        return stream, None
    below = Output(descriptor)
    made = io.TextIOWrapper(
        io.BufferedWriter(below), encoding=stream.encoding, errors=errors, line_buffering=below.isatty()
    )
    return made, below


@contextmanager
def guarded_output() -> Iterator[Output | None]:
    """Have standard output and error never fail in here, and signs that they have not be told by others."""
    usual = sys.stdout, sys.stderr
    out, told = _wrapped(sys.stdout, "rushlight")
    errors, _ = _wrapped(sys.stderr, "backslashreplace")
    sys.stdout, sys.stderr = out, errors
    try:
        yield told
    finally:
        sys.stdout, sys.stderr = usual
        for stream in (out, errors):
            if stream is not None and stream not in usual:
                stream.close()  # the descriptor below it stays open


def output_failed() -> bool:
    """Whether standard output could not be written, and all that is said from now on is lost."""
    below = getattr(getattr(sys.stdout, "buffer", None), "raw", None)
    return isinstance(below, Output) and below.fault is not None


class Guarded(click.Group):
    """A group of commands that end with a line and a code of ours, not with a traceback, where the world fails."""

    def main(self, *args: Any, **extra: Any) -> Any:
        """Run a command; end with the code for no answer where standard output could not be written."""
        with guarded_output() as out:
            try:
                return super().main(*args, **extra)
            except SystemExit:
                sys.stdout.flush()
                if out is not None and out.fault is not None:
                    # Who closed the pipe has read enough, and knows; anything else must be told.
                    if out.fault.errno != errno.EPIPE:
                        click.echo(f"Standard output was not written: {out.fault.strerror}.", err=True)
                    raise SystemExit(NO_ANSWER) from None
                raise

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command of a context."""
        try:
            return super().invoke(ctx)
        except KeyboardInterrupt:
            click.echo("Stopped before there was an answer.", err=True)
        except MemoryError:
            click.echo("Stopped: there is not enough memory for this.", err=True)
        except (ImportError, SystemError) as error:
            # Modules that one command alone needs are loaded with it; without memory the loader says just this.
            click.echo(f"Stopped: a part of rushlight cannot be loaded: {type(error).__name__}: {error}.", err=True)
        except OSError as error:
            place = "" if error.filename is None else f"{str(error.filename)!r}: "
            click.echo(f"Stopped: {place}{error.strerror or error}.", err=True)
        raise SystemExit(NO_ANSWER)
