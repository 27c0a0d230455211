"""Records of given choices from the demonstration's parts, without a search; pages read as a parser sees them."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from html.parser import HTMLParser
from pathlib import Path

from optimise.model.choice import ChannelChoice, Choice
from optimise.model.exact import evaluate
from optimise.model.kit import evaluate_kit
from optimise.model.kit_search import KitResult
from optimise.model.problem import build_market
from optimise.model.search import Proof, Result
from optimise.parts import Catalogue, read_catalogue
from optimise.report.kit import KitRecord, make_kit_record
from optimise.report.record import Record, make_record
from optimise.scenario import Scenario, read_text_of_scenario
from optimise.studies.tolerances import over_tolerances

ROOT = Path(__file__).parents[2]


def _choice(
    emitter: str,
    channels: Sequence[tuple[str, int, int, float, int]],
    panel: str,
    diffuser: str | None,
    battery: tuple[str, int, int] | None,
    lead: tuple[str, str, str],
    mount: str | None,
) -> Choice:
    code, series, parallel = battery or (None, 0, 0)
    made = tuple(ChannelChoice(*channel) for channel in channels)
    return Choice(emitter, made, panel, diffuser, code, series, parallel, *lead, mount)


BUILDS: dict[str, tuple[str, Choice]] = {
    "battery": (
        "orchard-night",
        _choice(
            "LED-BAR9-5692",
            [("DRV-D12-CCA105-45", 1, 3, 0.35, 1)],
            "PAN-FOAM-50x50",
            "DIF-FILM-HALF",
            ("BAT-LI14-068", 1, 1),
            ("FLEX-2x0.5", "FUSE-B32-3", "CON-DC5"),
            "MNT-HANDLE-2",
        ),
    ),
    "mains": (
        "pottery-studio",
        _choice(
            "LED-BAR9-5692",
            [("DRV-A-CC140-50", 1, 3, 1.4 / 3, 1), ("DRV-A-CCA210-75", 2, 3, 0.45, 2)],
            "PAN-AL-50x50",
            "DIF-FILM-HALF",
            None,
            ("FLEX-3x0.75", "FUSE-P250-3", "CON-AC13"),
            "MNT-YOKE-6",
        ),
    ),
    "pack": (
        "clock-tower",
        _choice(
            "LED-STAR6-3090-60",
            [("DRV-D24-CCA210-100", 5, 2, 0.7, 8)],
            "PAN-AL-60x60",
            None,
            ("BAT-PB12-12", 2, 2),
            ("TWIN-2x10", "FUSE-B32-30", "CON-DC30"),
            "MNT-YOKE-10",
        ),
    ),
    "tubes": (
        "pottery-studio",
        _choice(
            "TUBE-T8-18-930",
            [("BAL-A-4x18", 1, 4, 0.0, 1)],
            "PAN-AL-100x30",
            "DIF-CLOTH-LIGHT",
            None,
            ("FLEX-3x0.75", "FUSE-P250-3", "CON-AC13"),
            "MNT-YOKE-6",
        ),
    ),
    "strips": (
        "pottery-studio",
        _choice(
            "STRIP24-5695",
            [("DRV-A-CV24-60", 1, 6, 0.3, 1)],
            "PAN-AL-60x60",
            None,
            None,
            ("FLEX-3x0.75", "FUSE-P250-3", "CON-AC13"),
            None,
        ),
    ),
}
"""Builds of every kind of supply and emitter; whether they keep the limits of their jobs is no matter here."""


@lru_cache(maxsize=1)
def demonstration() -> Catalogue:
    """Return the demonstration catalogue."""
    return read_catalogue(ROOT / "catalogue")


def job_of(name: str) -> Scenario:
    """Return the job of a build."""
    scenario = BUILDS[name][0]
    text = (ROOT / "scenarios" / f"{scenario}.toml").read_text(encoding="utf-8")
    return read_text_of_scenario(text, scenario)


@lru_cache(maxsize=16)
def record_of(name: str) -> Record:
    """Return the record of a build, as the command makes it."""
    catalogue, scenario = demonstration(), job_of(name)
    choice = BUILDS[name][1]
    best = evaluate(choice, catalogue, scenario)
    result = Result("optimal", best, Proof(1.0, 0.0, 1, 10, 5, 0.5), build_market(catalogue, scenario), "cost")
    spread = over_tolerances(choice, catalogue, scenario, 20, 1)
    record = make_record(result, "cost", "0" * 64, tolerances=spread, stated=catalogue)
    return Record.model_validate_json(record.model_dump_json(by_alias=True))


KIT = """
[[kit]]
name = "key <b>"

[[kit]]
name = "fill"
count = 2

[kit.light]
illuminance = "40 lx"
"""


@lru_cache(maxsize=1)
def kit_record() -> KitRecord:
    """Return the record of a kit of three equal lights under two names, as the command makes it."""
    catalogue, (job, choice) = demonstration(), BUILDS["battery"]
    text = (ROOT / "scenarios" / f"{job}.toml").read_text(encoding="utf-8")
    scenario = read_text_of_scenario(text + KIT, job)
    best = evaluate_kit([choice, choice], catalogue, scenario)
    result = KitResult("optimal", best, Proof(1.0, 0.0, 1, 10, 5, 0.5), catalogue, scenario, "mass")
    record = make_kit_record(result, "0" * 64, stated=catalogue)
    return KitRecord.model_validate_json(record.model_dump_json(by_alias=True))


@dataclass
class Page(HTMLParser):
    """A page as a parser of HTML sees it."""

    tags: list[tuple[str, dict[str, str | None]]] = field(default_factory=list)
    words: list[str] = field(default_factory=list)
    within: list[str] = field(default_factory=list)
    pieces: dict[str, list[str]] = field(default_factory=dict)
    """Text of scripts and style sheets."""

    def __post_init__(self) -> None:
        super().__init__(convert_charrefs=True)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        self.within.append(tag)
        if tag in {"script", "style"}:
            self.pieces.setdefault(tag, []).append("")

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        while self.within and self.within.pop() != tag:
            pass

    def handle_data(self, data: str) -> None:
        inside = self.within[-1] if self.within else ""
        if inside in {"script", "style"}:
            self.pieces[inside][-1] += data
        else:
            self.words.append(data)

    @property
    def text(self) -> str:
        """All that a reader sees, with its spaces as they are."""
        return "".join(self.words)

    def of(self, tag: str) -> list[dict[str, str | None]]:
        """Return the attributes of every tag of a name."""
        return [attributes for name, attributes in self.tags if name == tag]


def read_page(text: str) -> Page:
    """Return a page as a parser sees it."""
    page = Page()
    page.feed(text)
    page.close()
    return page
