"""The entry workbook is read back by its labels, and nothing odd in it gets in unnamed."""

import io
import re
import shutil
import subprocess
import zipfile
from datetime import datetime, time

import openpyxl
import pytest
from openpyxl.comments import Comment
from openpyxl.styles import Font
from openpyxl.worksheet.formula import ArrayFormula

from tests.records import conftest as base
from trialkit.records.check import check_trial
from trialkit.records.problems import format_problems
from trialkit.records.read import read_trial
from trialkit.records.trial import TrialDataError
from trialkit.records.workbook import write_workbook

VESSELS = ("K01", "K02", "K03", "K04", "K05")


def _columns(page):
    """Row of the headings and column of each heading."""
    head = next(row for row in page.iter_rows() if row[0].value == "planned")
    return head[0].row, {cell.value: cell.column for cell in head if cell.value}


def _fill(path):
    """Type the sound folder's mixing readings into its workbook."""
    book = openpyxl.load_workbook(path)
    readings = {"clarity": base.CLARITY, "haze": base.HAZE}
    for page in book:
        quantity, rater = page["B2"].value, page["B4"].value
        head, columns = _columns(page)
        if quantity not in readings:
            continue
        page["B4"] = rater or "R01"
        for vessel in VESSELS:
            for session in range(5):
                value = readings[quantity][vessel][session]
                if rater == "R02" and vessel != "K05":
                    value -= session % 2
                page.cell(head + 1 + session, columns[vessel], value)
    book.save(path)
    return book


@pytest.fixture
def filled(make_folder):
    """A folder whose readings stand in a workbook, and the workbook's path."""
    folder = make_folder(readings=None)
    path = write_workbook(folder)
    _fill(path)
    return folder, path


def _edit(path, change):
    book = openpyxl.load_workbook(path)
    change(book)
    book.save(path)


def _spot(book, vessel="K01", session=0, title="haze"):
    page = book[title]
    head, columns = _columns(page)
    return page.cell(head + 1 + session, columns[vessel])


def test_the_workbook_gives_the_readings_of_the_csv(filled, tmp_path):
    folder, _ = filled
    mixing = "".join(
        line for line in base.readings_text().splitlines(keepends=True) if ",168," not in line
    )
    other = base.write_folder(tmp_path / "csv", readings=mixing)
    ours = read_trial(folder).readings.drop(columns="row")
    assert ours.equals(read_trial(other).readings.drop(columns="row"))


def test_sheets_are_blind_planned_and_fit_one_landscape_page(make_folder):
    path = write_workbook(make_folder(readings=None))
    book = openpyxl.load_workbook(path)
    assert book.sheetnames == ["clarity R01", "clarity R02", "haze", "residue"]
    orders = set()
    for page in book:
        head, columns = _columns(page)
        shown = [str(cell.value) for row in page.iter_rows() for cell in row if cell.value]
        assert not {"M01", "M02", "Alder", "Birch"} & set(shown)
        assert set(VESSELS) < set(columns)
        planned = [page.cell(row, 1).value for row in range(head + 1, page.max_row + 1)]
        assert planned == [0.5, 1, 2, 4, 8, "day 7"]
        assert page.page_setup.orientation == "landscape"
        assert str(page.page_setup.paperSize) == str(page.PAPERSIZE_A4)
        assert (page.page_setup.fitToWidth, page.page_setup.fitToHeight) == (1, 1)
        assert page.sheet_properties.pageSetUpPr.fitToPage
        assert len(page.data_validations.dataValidation) == 3
        orders.add(tuple(name for name in columns if name in VESSELS))
    assert len(orders) > 1


def test_the_rows_of_a_sheet_fill_its_page(make_folder):
    book = openpyxl.load_workbook(write_workbook(make_folder(readings=None)))
    for page in book:
        head, _ = _columns(page)
        letters = [openpyxl.utils.get_column_letter(c) for c in range(1, page.max_column + 1)]
        across = sum(0.75 * (7 * page.column_dimensions[c].width + 5) for c in letters)
        heights = [page.row_dimensions[r].height for r in range(head, page.max_row + 1)]
        shape = (sum(heights) + 16 * (head - 1)) / across
        assert len(set(heights)) == 1
        assert 0.6 < shape < 0.85, page.title  # the page's own shape is 0.70


def test_an_empty_workbook_is_a_trial_without_readings(make_folder):
    folder = make_folder(readings=None)
    write_workbook(folder)
    problems = check_trial(folder)
    assert "refuse" not in set(problems["level"]), format_problems(problems)
    assert problems["message"].str.contains("no readings yet").any()


def test_the_empty_sheet_of_a_plan_is_no_second_source(filled):
    folder, _ = filled
    (folder / "readings.csv").write_text(
        "vessel,rater,elapsed_h,quantity,value,unit\nK01,R01,0.5,clarity,,lines\n"
    )
    assert not (check_trial(folder)["level"] == "refuse").any()
    assert read_trial(folder).readings["value"].notna().any()


def test_a_printed_blank_beside_the_csv_is_no_second_source(folder):
    write_workbook(folder)
    assert "refuse" not in set(check_trial(folder)["level"])


def test_two_filled_sources_are_refused(filled):
    folder, _ = filled
    (folder / "readings.csv").write_text(base.readings_text())
    assert check_trial(folder)["message"].str.contains("not clear which").any()


def test_an_existing_workbook_is_not_replaced(filled):
    folder, path = filled
    before = path.read_bytes()
    with pytest.raises(FileExistsError, match="may hold readings"):
        write_workbook(folder)
    assert path.read_bytes() == before


def test_moved_rows_and_columns_are_read_by_label(filled):
    folder, path = filled
    good = read_trial(folder).readings.drop(columns="row")

    def move(book):
        page = book["haze"]
        page.insert_rows(1, 3)
        page.insert_cols(4, 2)
        head, columns = _columns(page)
        for column in range(1, page.max_column + 1):
            one, two = page.cell(head + 1, column), page.cell(head + 3, column)
            one.value, two.value = two.value, one.value
        a, b = columns["K01"], columns["K04"]
        for row in range(head, page.max_row + 1):
            one, two = page.cell(row, a), page.cell(row, b)
            one.value, two.value = two.value, one.value

    _edit(path, move)
    assert read_trial(folder).readings.drop(columns="row").equals(good)


def test_a_late_round_is_read_at_its_own_time(filled):
    folder, path = filled

    def late(book):
        page = book["haze"]
        head, columns = _columns(page)
        page.cell(head + 3, columns["read at"], 2.2)

    _edit(path, late)
    readings = read_trial(folder).readings
    assert sorted(readings.query("quantity == 'haze'")["elapsed_h"].unique()) == [0.5, 1, 2.2, 4, 8]


ODD = [
    (True, "refuse", "yes or no"),
    (datetime(2031, 4, 2), "refuse", "date or clock time"),
    (time(12, 30), "refuse", "date or clock time"),
    ("#DIV/0!", "refuse", "error value"),
    ("=1+1", "refuse", "never calculated"),
    ("abc", "refuse", "not a number"),
    ("0,5", "refuse", "a comma stands"),
    (5000, "refuse", "can only lie"),
    (-1, "refuse", "can only lie"),
    (None, "warn", "not read"),
]


@pytest.mark.parametrize(("value", "level", "words"), ODD, ids=[str(case[0]) for case in ODD])
def test_odd_cells_are_named_with_sheet_row_and_vessel(filled, value, level, words):
    folder, path = filled

    def put(book):
        _spot(book).value = value

    _edit(path, put)
    problems = check_trial(folder)
    hit = problems[problems["message"].str.contains(words)]
    assert not hit.empty, format_problems(problems)
    assert hit["level"].iloc[0] == level
    assert hit["file"].iloc[0] == "readings.xlsx sheet haze"
    assert hit["column"].iloc[0] == "K01"


def test_limits_typed_as_text_are_read(filled):
    folder, path = filled

    def put(book):
        _spot(book, session=4).value = "<0.17"

    _edit(path, put)
    row = read_trial(folder).readings.query("vessel == 'K01' and quantity == 'haze'").iloc[-1]
    assert (row["limit"], row["value"]) == ("<", 0.17)


def test_percentages_merged_cells_and_loose_values_are_refused(filled):
    folder, path = filled
    sound = path.read_bytes()

    def percent(book):
        _spot(book).number_format = "0%"

    def merge(book):
        page = book["haze"]
        head, _ = _columns(page)
        page.merge_cells(start_row=head + 1, end_row=head + 2, start_column=4, end_column=4)

    def loose(book):
        page = book["haze"]
        page.cell(page.max_row, page.max_column + 2, 7)

    def twice(book):
        page = book["haze"]
        head, columns = _columns(page)
        page.cell(head, columns["K02"], "K01")

    for change, words in (
        (percent, "percentage"),
        (merge, "merged"),
        (loose, "under no heading"),
        (twice, "two columns"),
    ):
        path.write_bytes(sound)
        _edit(path, change)
        problems = check_trial(folder).query("level == 'refuse'")
        assert problems["message"].str.contains(words).any(), words


def test_a_calculated_formula_is_read_with_a_warning(filled):
    folder, path = filled
    _edit(path, lambda book: setattr(_spot(book), "value", "=20+1"))
    # What a spreadsheet would leave behind: the formula with its last result.
    parts = {}
    with zipfile.ZipFile(path) as archive:
        for name in archive.namelist():
            parts[name] = archive.read(name)
    pattern = re.compile(rb"<f>20\+1</f><v\s*(/>|></v>)")
    parts = {k: pattern.sub(b"<f>20+1</f><v>21</v>", data) for k, data in parts.items()}
    with zipfile.ZipFile(path, "w") as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    trial = read_trial(folder)
    assert trial.problems["message"].str.contains("formula stands").any()
    first = trial.readings.query("vessel == 'K01' and quantity == 'haze'").iloc[0]
    assert first["value"] == 21


def test_a_sheet_without_labels_is_named(filled):
    folder, path = filled
    _edit(path, lambda book: book.create_sheet("scratch").append(["sum", 3]))
    problems = check_trial(folder)
    assert problems["message"].str.contains("no labels of an entry sheet").any()


def test_a_zip_bomb_is_refused_before_it_is_opened(filled):
    folder, path = filled
    with zipfile.ZipFile(path, "a", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/bomb.xml", b"0" * 80_000_000)
    assert path.stat().st_size < 1_000_000
    problems = check_trial(folder)
    assert problems["message"].str.contains("unpacks to 80 MB").any()


def test_a_bomb_that_lies_about_its_size_is_refused(filled):
    folder, path = filled
    data = bytearray()
    with zipfile.ZipFile(path, "a", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/bomb.xml", b"0" * 80_000_000)
    data = path.read_bytes().replace((80_000_000).to_bytes(4, "little"), b"\x10\0\0\0")
    path.write_bytes(data)
    assert "refuse" in set(check_trial(folder)["level"])


@pytest.mark.parametrize(
    "data", [b"", b"PK\x03\x04broken", b"vessel,rater\n", b"\xd0\xcf\x11\xe0" + b"x" * 600]
)
def test_what_is_no_workbook_is_refused_in_words(make_folder, data):
    folder = make_folder(readings=None)
    (folder / "readings.xlsx").write_bytes(data)
    with pytest.raises(TrialDataError, match=r"not an \.xlsx workbook"):
        read_trial(folder)


def test_entities_in_a_workbook_are_refused(filled):
    folder, path = filled
    out = io.BytesIO()
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(out, "w") as new:
        for name in old.namelist():
            data = old.read(name)
            if name == "xl/workbook.xml":
                data = b'<!DOCTYPE x [<!ENTITY a "b">]>' + data
            new.writestr(name, data)
    path.write_bytes(out.getvalue())
    assert check_trial(folder)["message"].str.contains("more than an entry workbook may").any()


def test_round_trip_through_libreoffice(filled, tmp_path):
    office = shutil.which("soffice")
    if office is None:
        pytest.skip("LibreOffice (soffice) is not installed, so its round trip was not tried")
    folder, path = filled
    good = read_trial(folder).readings
    out = tmp_path / "office"
    profile = f"-env:UserInstallation={(tmp_path / 'profile').as_uri()}"
    command = [office, profile, "--headless", "--convert-to", "xlsx", "--outdir", out, path]
    subprocess.run(command, check=True, capture_output=True, timeout=180)
    shutil.copy(out / path.name, path)
    trial = read_trial(folder)
    assert trial.readings.equals(good)
    assert "refuse" not in set(trial.problems["level"])


def test_a_formula_is_read_once_the_spreadsheet_has_calculated_it(filled, tmp_path):
    office = shutil.which("soffice")
    if office is None:
        pytest.skip("LibreOffice (soffice) is not installed, so its formulas were not tried")
    folder, path = filled
    _edit(path, lambda book: setattr(_spot(book), "value", "=20+1.3"))
    assert check_trial(folder)["message"].str.contains("never calculated").any()
    profile = f"-env:UserInstallation={(tmp_path / 'profile').as_uri()}"
    out = tmp_path / "office"
    command = [office, profile, "--headless", "--convert-to", "xlsx", "--outdir", out, path]
    subprocess.run(command, check=True, capture_output=True, timeout=180)
    shutil.copy(out / path.name, path)
    trial = read_trial(folder)
    assert trial.problems["message"].str.contains("a formula stands in the cell").any()
    first = trial.readings.query("vessel == 'K01' and quantity == 'haze'").iloc[0]
    assert first["value"] == 21.3


def test_parts_that_a_spreadsheet_adds_beside_the_cells_are_passed_over(filled):
    # Lists to choose from in a newer form (ECMA-376 part 1, 18.2.7, extLst): the reader leaves
    # them out, and says so in words for programmers.
    folder, path = filled
    good = read_trial(folder).readings
    added = (
        b'<extLst><ext xmlns:x14="http://schemas.microsoft.com/office/spreadsheetml/2009/9/main" '
        b'uri="{CCE6A557-97BC-4b89-ADB6-D9C93CAAB3DF}"/></extLst></worksheet>'
    )
    old, out = zipfile.ZipFile(io.BytesIO(path.read_bytes())), io.BytesIO()
    with zipfile.ZipFile(out, "w") as new:
        for name in old.namelist():
            new.writestr(name, old.read(name).replace(b"</worksheet>", added))
    path.write_bytes(out.getvalue())
    with pytest.warns(UserWarning, match="not supported"):
        openpyxl.load_workbook(path)
    assert read_trial(folder).readings.equals(good)


def _book(change):
    """A change of the whole workbook, sheet by sheet."""
    return lambda book: [change(page) for page in book]


def _labels_below(page):
    for row in range(2, 6):
        for column in (1, 2):
            page.cell(page.max_row + 2 - column, column, page.cell(row, column).value)
            page.cell(row, column).value = None
    page.move_range(f"A{page.max_row - 3}:B{page.max_row}", rows=60)


def _capitals_and_colons(page):
    for row in range(2, 6):
        page.cell(row, 1).value = page.cell(row, 1).value.upper() + " :"
    head, columns = _columns(page)
    page.cell(head, columns["read at"]).value = "Read\nat"


def _small_number(page):
    if page.title == "haze":
        head, columns = _columns(page)
        page.cell(head + 1, columns["K05"]).value = 0.12


@pytest.mark.parametrize(
    "change",
    [
        lambda page: page.insert_cols(2),
        _labels_below,
        _capitals_and_colons,
        lambda page: page.insert_rows(1) or page.cell(1, 1, "unit"),
        lambda page: page.merge_cells("A1:F1"),
        lambda page: page.merge_cells("B2:C2"),
        _small_number,
    ],
)
def test_what_moves_no_reading_changes_none(filled, change):
    folder, path = filled
    good = read_trial(folder).readings.drop(columns="row")
    _edit(path, _book(change))
    trial = read_trial(folder)
    assert trial.readings.drop(columns="row").equals(good)
    assert not trial.problems["message"].str.contains("exponent|passed over").any()


def _unreadable(page):
    head, columns = _columns(page)
    page.cell(head, columns["read at"]).value = None


DAMAGE = [
    (lambda page: page.__setitem__("A2", None), "lost its label quantity"),
    (_unreadable, "lost its headings planned and read at"),
    (lambda page: page.insert_rows(1) or page.append(["unit", "FNU"]), "this label stands twice"),
    (lambda page: page.cell(1_048_576, 3, " "), "reaches to row 1048576"),
]


@pytest.mark.parametrize(("change", "words"), DAMAGE, ids=[case[1] for case in DAMAGE])
def test_an_entry_sheet_that_cannot_be_read_is_refused_and_not_passed_over(filled, change, words):
    folder, path = filled
    _edit(path, lambda book: change(book["haze"]))
    problems = check_trial(folder).query("level == 'refuse'")
    assert problems["message"].str.contains(words).any(), format_problems(problems)


def test_a_workbook_of_other_sheets_is_refused_by_the_check_as_by_the_reader(filled):
    folder, path = filled
    book = openpyxl.Workbook()
    book.active.append(["shopping", 3])
    book.save(path)
    problems = check_trial(folder)
    assert problems["message"].str.contains("no sheet has the labels").any()
    with pytest.raises(TrialDataError, match="no sheet has the labels"):
        read_trial(folder)


def _strike(cell):
    cell.font = Font(strike=True)


def _scale(cell):
    cell.number_format = '0.0,"k"'


def _array(cell):
    cell.parent[cell.coordinate] = ArrayFormula(cell.coordinate, "=SUM(D9:D10)")


MARKS = [
    (_strike, "warn", "struck through", "21.3"),
    (lambda cell: setattr(cell, "comment", Comment("was 12", "Ada")), "note", "comment", "21.3"),
    (_scale, "refuse", "shows thousands", "21.3"),
    (_array, "refuse", "never calculated", "=SUM(D9:D10)"),
    (lambda cell: setattr(cell, "value", 1e300), "refuse", "exponent", "1e+300"),
]


@pytest.mark.parametrize(("mark", "level", "words", "shown"), MARKS, ids=[m[2] for m in MARKS])
def test_what_a_cell_shows_beside_its_number_is_named(filled, mark, level, words, shown):
    folder, path = filled
    _edit(path, lambda book: mark(_spot(book)))
    problems = check_trial(folder)
    hit = problems[problems["message"].str.contains(words)]
    assert hit[["level", "value"]].to_numpy().tolist() == [[level, shown]]


def test_a_format_of_words_and_thousands_marks_is_no_scale(filled):
    folder, path = filled
    good = read_trial(folder).readings
    _edit(path, lambda book: setattr(_spot(book), "number_format", '#,##0.00" NTU, 100%"'))
    assert read_trial(folder).readings.equals(good)


def test_hidden_sheets_and_columns_are_read_with_a_warning(filled):
    folder, path = filled
    good = read_trial(folder).readings
    _edit(path, lambda book: setattr(book["haze"], "sheet_state", "hidden"))
    trial = read_trial(folder)
    assert trial.readings.equals(good)
    assert trial.problems["message"].str.contains("the sheet is hidden").sum() == 1
    letter = openpyxl.utils.get_column_letter(4)
    _edit(path, lambda book: setattr(book["haze"].column_dimensions[letter], "hidden", True))
    assert read_trial(folder).problems["message"].str.contains("hidden columns").sum() == 1


def test_a_sheet_that_stands_twice_names_the_place_of_the_other(filled):
    folder, path = filled
    _edit(path, lambda book: book.copy_worksheet(book["haze"]))
    hit = check_trial(folder).query("level == 'refuse'")
    assert hit["message"].eq("this reading stands twice").all()
    assert (
        hit["fix"]
        .str.fullmatch(r"Keep one of the rows; see row \d+, column K0\d of sheet haze\.")
        .all()
    )


def test_too_many_packed_files_are_named_by_their_number(filled):
    folder, path = filled
    with zipfile.ZipFile(path, "a") as archive:
        for number in range(2500):
            archive.writestr(f"x/{number}", b"")
    problems = check_trial(folder)
    assert problems["message"].str.contains(r"packs 25\d\d files").any()
    assert not problems["message"].str.contains("unpacks to 0 MB").any()


@pytest.mark.parametrize("unit", ["-", "=u", "'u", "mg/L"])
def test_a_unit_comes_back_as_it_was_declared(make_folder, unit):
    declared = f'\n[quantities.ph]\nunit = "{unit}"\nlow = 0\nhigh = 14\n'
    folder = make_folder(readings=None, trial=base.TOML + declared)
    path = write_workbook(folder)
    _fill(path)

    def put(book):
        book["ph"]["B4"] = "R01"
        _spot(book, title="ph").value = 7.5

    _edit(path, put)
    found = read_trial(folder).readings.query("quantity == 'ph'")
    assert (found["unit"].iloc[0], found["value"].iloc[0]) == (unit, 7.5)


def test_more_raters_than_a_list_holds_are_written_without_one(make_folder):
    raters = "rater,name\n" + "".join(f"R{n:02d},Reader {n}\n" for n in range(1, 90))
    book = openpyxl.load_workbook(write_workbook(make_folder(readings=None, raters=raters)))
    rules = [rule for page in book for rule in page.data_validations.dataValidation]
    # A list longer than 255 characters makes some spreadsheets call the file damaged.
    assert max(len(rule.formula1) for rule in rules) <= 255
    assert {rule.type for rule in rules} == {"custom", "decimal"}
