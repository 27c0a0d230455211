"""A catalogue into its other form and back: every cell as it was, and the same catalogue."""

import io
from pathlib import Path

import openpyxl
import pytest
from sample_files import TABLES, spoilt, write
from test_workbooks import book_of, same, saved

from optimise.parts import Collector, InputError, read_catalogue
from optimise.parts.convert import convert
from optimise.parts.sheets import MOST_TEXT
from optimise.parts.text import csv_rows, csv_text

ROOT = Path(__file__).parents[2]


def cells(text: str) -> list[tuple[int, list[str] | None]]:
    faults = Collector()
    rows = list(csv_rows(text, "x.csv", faults))
    assert not faults.faults
    # Blank cells at the end of a row say nothing, and a sheet has none.
    return [(number, "\0".join(row or ()).rstrip("\0").split("\0")) for number, row in rows]


def there_and_back(folder: Path, work: Path) -> dict[str, str]:
    content = convert(folder).content
    assert isinstance(content, bytes)
    (work / "book.xlsx").write_bytes(content)
    assert same(read_catalogue(work / "book.xlsx"), read_catalogue(folder))
    back = convert(work / "book.xlsx")
    assert back.lost == ()
    assert isinstance(back.content, dict)
    (work / "back").mkdir()
    for name, text in back.content.items():
        (work / "back" / name).write_bytes(text.encode())
    assert same(read_catalogue(work / "back"), read_catalogue(folder))
    return back.content


def test_the_demonstration_there_and_back_has_every_cell_and_comment(tmp_path: Path) -> None:
    files = there_and_back(ROOT / "catalogue", tmp_path)
    assert set(files) == {path.name for path in (ROOT / "catalogue").glob("*.csv")}
    for name, text in files.items():
        before = (ROOT / "catalogue" / name).read_bytes().decode("utf-8")
        assert cells(text) == cells(before)
    assert sum(text.count("#") for text in files.values()) > 5


def test_odd_cells_there_and_back_are_the_same_bytes(tmp_path: Path) -> None:
    odd = 'PAN,1,1,=1+1,"a,b","x ""y""\nz", lead,+5,\'t,1e5,#N/A,007,TRUE,2030-01-02\n'
    header = "part,width [m],height [m],material,note a,note b,note c,note d,note e,note f,note g,note h,note i,note j"
    text = f'# one, "two\n\n{header},metal,mass [kg]\n' + odd.rstrip("\n") + ",yes,0.50\n   # last\n"
    (tmp_path / "folder").mkdir()
    folder = write(tmp_path / "folder", {**TABLES, "panels": text})
    files = there_and_back(folder, tmp_path)
    assert cells(files["panels.csv"]) == cells(text)
    assert files["panels.csv"].startswith('# one, "two\n')
    book = openpyxl.load_workbook(tmp_path / "book.xlsx")
    assert {cell.data_type for sheet in book for row in sheet.iter_rows() for cell in row} <= {"s", "n"}
    assert all(cell.value is None or isinstance(cell.value, str) for row in book["panels"].iter_rows() for cell in row)


def test_the_same_folder_is_the_same_workbook(tmp_path: Path) -> None:
    folder = write(tmp_path)
    assert convert(folder).content == convert(folder).content


def test_a_workbook_of_numbers_becomes_the_same_catalogue(tmp_path: Path) -> None:
    book = book_of()
    for sheet in book:
        for row in sheet.iter_rows(min_row=2):
            for cell in row[1:]:
                if isinstance(cell.value, str) and cell.value.replace(".", "", 1).isdigit():
                    cell.value = float(cell.value)
    book.create_sheet("note")["A1"].value = "mine"
    book["panels"].insert_rows(1)
    book["panels"]["A1"].value = "# two\nlines"
    path = saved(tmp_path, book)
    made = convert(path)
    assert made.lost == ("the sheet note, which is a note", "1 comment of more than one line in the sheet panels")
    assert isinstance(made.content, dict)
    (tmp_path / "back").mkdir()
    for name, text in made.content.items():
        (tmp_path / "back" / name).write_bytes(text.encode())
    assert same(read_catalogue(tmp_path / "back"), read_catalogue(path))


@pytest.mark.parametrize("cell", ["a\x07b", "_x0041_", '"a\rb"', "x" * (MOST_TEXT + 1)])
def test_a_cell_that_no_workbook_holds_is_told(tmp_path: Path, cell: str) -> None:
    text = spoilt(TABLES["emitters"], "180,,glass", f"180,,{cell}")
    with pytest.raises(InputError) as caught:
        convert(write(tmp_path, {**TABLES, "emitters": text}))
    (fault,) = caught.value.faults
    assert (fault.file, fault.row, fault.column) == ("emitters.csv", 5, "cell 16 of the row")
    assert fault.read in {"32768 signs"} or fault.read.startswith("the sign ")


@pytest.mark.parametrize("row", [["a", "b,c", 'd"e', "f\ng", "h\ri", ""], ["\r", "\n", '"'], ["x"]])
def test_written_rows_are_read_as_they_were(row: list[str]) -> None:
    assert [read for _, read in csv_rows(csv_text([row, row]), "x", Collector(), comments=False)] == [row, row]
    assert io.StringIO(csv_text([row]), newline="").read().endswith("\n")
