"""A few of the demonstration's parts, so that a case takes a moment; scenarios that vary one of its jobs."""

import csv
from collections.abc import Collection
from pathlib import Path

ROOT = Path(__file__).parents[1]
PARTS = {
    *("LED-STAR6-5590-60", "LED-BAR9-5692", "DRV-D12-CC045-20", "DRV-D12-CCA105-45", "PAN-FOAM-50x50"),
    *("PAN-AL-30x30", "DIF-FILM-HALF", "DIF-PRISM-05", "BAT-LI14-068", "BAT-PB12-07", "FLEX-2x1", "FLEX-2x0.5"),
    *("FUSE-B32-3", "FUSE-B32-5", "CON-DC5", "CON-DC8", "MNT-HANDLE-2"),
}


def write_few_parts(
    folder: Path, dearer: int = 0, *, charges: bool = False, parts: Collection[str] = frozenset(PARTS)
) -> Path:
    """Write a catalogue of a few parts into a folder, each offer dearer by so many cents, and return the folder.

    parts: codes of others instead.
    charges: whether suppliers charge for delivery and ask for least orders, as in the demonstration.
    """
    folder.mkdir(parents=True)
    for path in sorted((ROOT / "catalogue").glob("*.csv")):
        comment, header, *lines = path.read_text(encoding="utf-8").splitlines()
        names = next(csv.reader([header]))
        rows = list(csv.reader(lines))
        if path.stem != "suppliers":
            rows = [row for row in rows if row[names.index("part")] in parts]
        if path.stem == "suppliers" and not charges:
            rows = [[row[0], *("" for _ in row[1:])] for row in rows]
        if path.stem == "offers":
            price = names.index("price [EUR]")
            for row in rows:
                row[price] = (
                    f"{float(row[price]) + dearer / 100:.2f}" if row[price] and float(row[price]) else row[price]
                )
        with (folder / path.name).open("w", newline="", encoding="utf-8") as file:
            file.write(f"{comment}\n")
            csv.writer(file).writerows([names, *rows])
    return folder


def write_job(path: Path, lux: float = 120.0, *, title: str = "", limits: str = "") -> Path:
    """Write the orchard job for another illuminance in lx, with more limits if asked, and return its path."""
    path.parent.mkdir(parents=True, exist_ok=True)
    text = (ROOT / "scenarios" / "orchard-night.toml").read_text(encoding="utf-8")
    text = text.replace('"120 lx"', f'"{lux:g} lx"').replace("[limits]", f"[limits]\n{limits}")
    if title:
        text = text.replace('title = "A night walk through the orchard"', f'title = "{title}"')
    path.write_text(text, encoding="utf-8")
    return path
