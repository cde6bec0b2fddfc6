"""Text files: encodings, delimiters, quotes, ragged rows."""

from pathlib import Path

import pytest

from inventory.errors import Refused
from inventory.sheets import Limits
from tests.sheets.build import bad, good, open_sales, outcomes, write_text

TEXT = "year,make,model,ended_on,price\n1962,Corvanë,Café Racer – “Zoë”,2020-06-15,21500\n"


def refusal(path: Path, **options: object) -> Refused:
    with pytest.raises(Refused) as caught:
        outcomes(path, **options)
    assert "\n" not in str(caught.value)
    return caught.value


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
def test_each_encoding_gives_the_same_letters(tmp_path: Path, *, encoding: str) -> None:
    (found,) = outcomes(write_text(tmp_path, text=TEXT.encode(encoding)))
    assert (good(found).sale.make, good(found).sale.model) == ("Corvanë", "Café Racer – “Zoë”")


def test_bad_byte_far_into_the_file_is_seen(tmp_path: Path) -> None:
    line = "1962,Corvane,Meridian,2020-06-15,21500\n"
    text = TEXT.replace("Corvanë", "C").replace("Café Racer – “Zoë”", "M") + line * 60_000
    (tmp_path / "late.csv").write_bytes(text.encode() + "1962,Caf\xe9,M,2020-06-15,1\n".encode("cp1252"))
    assert "Windows-1252" in open_sales(tmp_path / "late.csv").table.described


def test_utf8_in_part_only_is_refused(tmp_path: Path) -> None:
    text = TEXT.encode() + "1962,Corvan\xeb,M,2020-06-15,1\n".encode("cp1252")
    assert refusal(write_text(tmp_path, text=text)).code == "sheet.encoding"


def test_bytes_of_no_known_encoding_are_refused(tmp_path: Path) -> None:
    assert refusal(write_text(tmp_path, text=b"year,make\n\x81\x8d,\xff\n")).code == "sheet.encoding"


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_each_delimiter_and_line_end_is_read(tmp_path: Path, *, delimiter: str, end: str) -> None:
    text = 'year,make,model,ended_on,price\n1962,"Corvane & Sons","Two\nlines",2020-06-15,21500\n'
    (found,) = outcomes(write_text(tmp_path, text=text.replace(",", delimiter).replace("\n", end)))
    assert (good(found).sale.make, good(found).sale.model) == ("Corvane & Sons", "Two lines")


def test_delimiter_is_told_by_known_columns_not_by_frequency(tmp_path: Path) -> None:
    text = 'year;make;model;"notes, remarks, odds, ends, and more";ended_on;price\n1962;C;M;a,b,c,d;2020-06-15;1\n'
    assert "semicolon" in open_sales(write_text(tmp_path, text=text)).table.described


def test_declared_delimiter_line_is_passed_over(tmp_path: Path) -> None:
    text = "sep=;\nyear;make;model;ended_on;price\n1962;C;M;2020-06-15;12000,50\n"
    (found,) = outcomes(write_text(tmp_path, text=text), decimal_mark=",")
    assert (good(found).row, str(good(found).sale.price)) == (3, "12000.50")


def test_quoted_line_breaks_and_blank_rows_keep_row_numbers(tmp_path: Path) -> None:
    text = 'year,make,model,ended_on,price\n\n1962,"A\nB\nC",M,2020-06-15,1\n,,,,\n1963,C,M,2020-06-15,x\n'
    first, second = outcomes(write_text(tmp_path, text=text))
    assert (good(first).row, bad(second).row) == (3, 5)


@pytest.mark.parametrize("row", ["1962,C,M,2020-06-15", "1962,C,M,2020-06-15,1,extra"])
def test_ragged_row_is_rejected_alone(tmp_path: Path, *, row: str) -> None:
    text = f"year,make,model,ended_on,price\n{row}\n1962,C,M,2020-06-15,1\n"
    first, second = outcomes(write_text(tmp_path, text=text))
    assert "the header 5" in bad(first).reason
    assert good(second).row == 3


def test_blank_cells_beyond_the_header_do_no_harm(tmp_path: Path) -> None:
    text = "year,make,model,ended_on,price,,\n1962,C,M,2020-06-15,1,,,,\n"
    assert good(outcomes(write_text(tmp_path, text=text))[0]).row == 2


def test_one_nul_in_a_cell_rejects_its_row_only(tmp_path: Path) -> None:
    text = TEXT.encode() + b"1962,Corv\0ane,M,2020-06-15,1\n" + b"1963,Corvane,M,2020-06-15,1\n" * 20
    found = outcomes(write_text(tmp_path, text=text))
    assert "not text" in bad(found[1]).reason
    assert good(found[2]).row == 4


@pytest.mark.parametrize("tail", ['1962,"C,M,2020-06-15,1\n', '1962,"C,M,2020-06-15,1\n1963,D,M,2020-06-15,1\n'])
def test_quote_never_closed_is_refused_with_its_row(tmp_path: Path, *, tail: str) -> None:
    found = refusal(write_text(tmp_path, text=TEXT + tail))
    assert found.code == "sheet.open_quote"
    assert "row 3" in str(found)


def test_quote_never_closed_in_a_large_file_is_refused(tmp_path: Path) -> None:
    text = TEXT + '1962,"C,M,2020-06-15,1\n' + "1963,D,M,2020-06-15,1\n" * 20_000
    assert refusal(write_text(tmp_path, text=text)).code == "sheet.open_quote"


@pytest.mark.parametrize("text", ["", "\n\n", "\ufeff", " ", "\r\n \t\r\n"])
def test_empty_file_is_refused(tmp_path: Path, *, text: str) -> None:
    assert refusal(write_text(tmp_path, text=text)).code == "sheet.empty"


def test_header_alone_is_a_file_of_no_rows(tmp_path: Path) -> None:
    assert open_sales(write_text(tmp_path, text=TEXT.splitlines()[0])).total == 0


@pytest.mark.parametrize(
    ("limits", "code"),
    [
        (Limits(rows=1), "sheet.too_many_rows"),
        (Limits(columns=4), "sheet.too_many_columns"),
        (Limits(file_bytes=10), "sheet.too_large"),
    ],
)
def test_file_beyond_a_limit_is_refused(tmp_path: Path, *, limits: Limits, code: str) -> None:
    assert refusal(write_text(tmp_path, text=TEXT), limits=limits).code == code


def test_file_that_is_not_there_is_refused(tmp_path: Path) -> None:
    assert refusal(tmp_path / "none.csv").code == "sheet.not_there"
    assert refusal(tmp_path).code == "sheet.not_there"


def test_binary_noise_called_csv_is_refused(tmp_path: Path) -> None:
    assert refusal(write_text(tmp_path, text=bytes(range(32)) * 40)).code == "sheet.not_text"


def test_escaped_formula_cells_are_read_without_the_apostrophe(tmp_path: Path) -> None:
    text = TEXT + "1962,'=A1,'69 Special,2020-06-15,1\n1962,C,M,2020-06-15,'-5\n"
    first, second = outcomes(write_text(tmp_path, text=text))[1:]
    assert (good(first).sale.make, good(first).sale.model) == ("=A1", "'69 Special")
    assert "below zero" in bad(second).reason


def test_line_without_end_is_refused_and_never_cut_into_rows(tmp_path: Path) -> None:
    assert refusal(write_text(tmp_path, text=TEXT + "a," * 600_000)).code == "sheet.long_line"
