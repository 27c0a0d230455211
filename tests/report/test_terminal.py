"""What is printed: figures readable, nobody's text taken for markup, nothing half-written."""

import io
from pathlib import Path

import pytest
from rich.console import Console

from optimise.parts import Fault
from optimise.report.table import table_of, whole_words
from optimise.report.terminal import number, plain, print_faults
from optimise.report.whole import write_whole


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (120.6543, "lx", "120.7 lx"),
        (1.05925, "kg", "1.059 kg"),
        (13.2, "degC", "13.2 °C"),
        (0.0, "", "0"),
        (0.000123456, "A", "0.000123 A"),
        (30000.0, "lx", "30000 lx"),
        (100.0, "Wh", "100 Wh"),
        (-10.0, "degC", "-10 °C"),
        (106.8, "EUR", "106.80 EUR"),
        (None, "h", "no limit"),
    ],
)
def test_figures_have_four_digits_and_money_two_decimals(value: float | None, unit: str, text: str) -> None:
    assert number(value, unit, "EUR") == text


def test_text_of_users_is_only_text() -> None:
    assert plain("[bold]a[/bold]\x1b[2J\u202eb\n").plain == "[bold]a[/bold] [2J b "


def test_every_fault_is_printed_with_place_read_allowed_and_mend() -> None:
    console = Console(record=True, width=100)
    faults = (
        Fault("a.csv", 3, "column flux", '"x"', "a number", "Write a number."),
        Fault("b.csv", None, "", "no such file", "the file", ""),
    )
    print_faults(console, faults)
    text = console.export_text()
    for word in (
        "2 things are wrong",
        "a.csv line 3, column flux",
        'read:    "x"',
        "a number",
        "Write a number.",
        "b.csv",
    ):
        assert " ".join(word.split()) in " ".join(text.split())


def test_a_file_is_whole_or_not_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target = tmp_path / "r.json"
    write_whole(target, "old\n")

    def fail(self: Path, other: Path) -> Path:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", fail)
    with pytest.raises(OSError, match="No space"):
        write_whole(target, "new\n")
    assert target.read_text(encoding="utf-8") == "old\n"
    assert [path.name for path in tmp_path.iterdir()] == ["r.json"]


@pytest.mark.parametrize("width", [44, 50, 80])
def test_no_word_of_a_table_is_cut_short(width: int) -> None:
    rows = [("thermal resistance", "PAN-AL-20x20", "0.1839 to 5.135"), ("flux", "DRV-D12-CC045-20", "not known")]
    table = table_of("", ("factor", False), ("of", False), ("95 %", True))
    for row in rows:
        table.add_row(*row)
    console = Console(width=width, record=True, file=io.StringIO())
    console.print(whole_words(table, width))
    told = console.export_text().split()
    assert {word for row in rows for word in " ".join(row).split()} <= set(told)


def test_nothing_of_a_table_is_lost_where_words_do_not_fit() -> None:
    table = table_of("", ("of", False), ("value", True))
    table.add_row("DRV-D12-CC045-20", "12.5")
    console = Console(width=14, record=True, file=io.StringIO())
    console.print(whole_words(table, 14))
    told = console.export_text()
    assert "…" not in told
    assert "12.5" in told
    assert "DRV-D12-CC045-20" in "".join(line[:8].strip() for line in told.splitlines()[1:])
