"""Several files in one input: a line `=== name` before each, so that a mutation may move between them."""

MARK = b"=== "


def packed(files: dict[str, bytes]) -> bytes:
    """Return files as one input."""
    return b"\n".join(MARK + name.encode() + b"\n" + data for name, data in files.items())


def unpacked(data: bytes, most: int = 16) -> list[tuple[str, bytes]]:
    """Return the files of an input by name, as they stand; what comes before the first mark is lost."""
    found = []
    for piece in (b"\n" + data).split(b"\n" + MARK)[1 : most + 1]:
        name, _, content = piece.partition(b"\n")
        found.append((name.decode("utf-8", "replace").strip(), content))
    return found
