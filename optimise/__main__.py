"""Starts the command: `python -m optimise` is `rushlight`."""

import sys
from typing import NoReturn


def run() -> None:
    """Load the command and run it; Ctrl-C while it loads ends it as it does later."""
    try:
        from optimise.cli import main
    except KeyboardInterrupt:
        _end("Stopped before there was an answer.")
    except (ImportError, MemoryError, SystemError) as error:
        _end(f"Stopped: rushlight cannot be loaded: {type(error).__name__}: {error}. Is all it needs installed?")
    main(prog_name="rushlight")


def _end(text: str) -> NoReturn:
    print(text, file=sys.stderr)
    sys.exit(4)


if __name__ == "__main__":
    run()
