"""Names in many scripts: literal in drawings, on paper and on the page for browsers."""

import io
import re
import unicodedata
from functools import cache
from itertools import pairwise

import pypdf
import pytest
from fontTools.ttLib import TTFont

from tests.report.invented import invented_results
from tests.report.notebooks import executed
from tests.report.poppler import pdf_text
from trialkit.report import cover, curves, figures, prose, tables
from trialkit.report.direction import isolated, without_marks
from trialkit.report.document import read_document
from trialkit.report.fonts import font_families, is_plain, printable
from trialkit.report.labels import with_own_labels
from trialkit.report.letters import _table, letters_for, letters_of
from trialkit.report.page import document_html
from trialkit.report.render import document_pdf
from trialkit.report.selection import mix_names
from trialkit.report.short_names import signs_of

# "Sea salt", or near it, in the words of each script.
NAMES = {
    "Han": "海盐混合",
    "Kana": "海の塩ブレンド",
    "Hangul": "바다소금",
    "Thai": "เกลือทะเลน้ำเค็ม",
    "Devanagari": "समुद्री नमक क्षेत्र",
    "Arabic": "ملح البحر",
    "Persian": "نمک\u200cدریا",
    "Hebrew": "מלח ים",
    "Emoji": "🧂👩\u200d🔬🇯🇵 ❤\ufe0f 👍🏽",
    "Mixed": "Mix 海盐 🧂 ملح",
    "Vietnamese": "Muối biển",
    "Greek": "Θαλασσινό αλάτι",
    "Cyrillic": "Морская соль",
    "Bengali": "লবণ",
    "Gujarati": "મીઠું",
    "Gurmukhi": "ਲੂਣ",
    "Kannada": "ಉಪ್ಪು",
    "Malayalam": "ഉപ്പ്",
    "Sinhala": "ලුණු",
    "Tamil": "உப்பு",
    "Telugu": "ఉప్పు",
    "Ethiopic": "ጨው",
    "Khmer": "អំបិល",
    "Lao": "ເກືອ",
    "Myanmar": "ဆား",
    "Combining": "Z\u0308al",
}
MIXES = list(NAMES.values())


@cache
def results():
    return invented_results(len(MIXES), 2, names=MIXES)


@pytest.fixture(scope="module")
def document(tmp_path_factory):
    cells = [
        "# Which?",
        cover.answer(results()),
        figures.vessel_figure(results()),
        curves.forest_figure(results()),
        prose.findings(results()),
        tables.times_table(results()),
    ]
    return read_document(executed(cells, tmp_path_factory.mktemp("letters") / "n.ipynb"))


@pytest.fixture(scope="module")
def pdf(document):
    return document_pdf(document)


@pytest.fixture(scope="module")
def reader(pdf):
    return pypdf.PdfReader(io.BytesIO(pdf))


@pytest.fixture(scope="module")
def text(pdf):
    return bare(pdf_text(pdf))


def bare(text):
    return "".join(c for c in text if unicodedata.category(c) not in ("Cf", "Zs", "Cc"))


@pytest.mark.parametrize("name", MIXES, ids=NAMES)
def test_every_letter_has_a_typeface(name):
    assert printable(name) == name
    assert printable(isolated(name)) == isolated(name)


@pytest.mark.parametrize("script", NAMES)
def test_name_stands_in_the_pdf_as_often_as_it_should(script, text):
    # Cover, two drawings, a list, a table. What runs from the right, poppler gives word by word.
    for word in NAMES[script].split():
        signs = [re.escape(bare(sign)) for sign in signs_of(word)]
        # The typesetter writes a sign of Khmer behind each of its shapes.
        pattern = "".join(f"(?:{sign})+" if script == "Khmer" else sign for sign in signs)
        assert len(re.findall(pattern, text)) >= 5, word


def test_no_name_is_spelled_out(reader):
    text = "".join(page.extract_text() for page in reader.pages)
    assert not re.search(r"U\+[0-9A-F]{4}", text)


def test_only_letters_in_use_are_inside(pdf, reader):
    assert len(pdf) < 500_000
    fonts = {
        str(font.get_object()["/BaseFont"]).split("+")[1]
        for page in reader.pages
        for font in page["/Resources"]["/Font"].values()
    }
    assert {f"Trialkit{letters.script.capitalize()}" for letters in _table()} <= fonts
    assert not any("LastResort" in font for font in fonts)


def test_archive_and_access_standards_hold(pdf):
    # The typesetter refuses a page that breaks PDF/UA-1 or PDF/A-2a; here it took it.
    assert b"<pdfuaid:part>1</pdfuaid:part>" in pdf
    assert b"<pdfaid:part>2</pdfaid:part>" in pdf


def test_second_setting_has_the_same_bytes(document, pdf):
    assert document_pdf(document) == pdf


def test_drawing_keeps_its_names_and_lends_them_to_the_typesetter(document):
    for before, after in zip(document["blocks"], with_own_labels(document)["blocks"], strict=True):
        if before["kind"] == "figure":
            words = {label["text"] for label in after["labels"]}
            assert words == {name for name in MIXES if not is_plain(name)}
            assert all(f">{name}</text>" in before["svg"] for name in words)
            assert is_plain(after["svg"])


def test_wide_letters_have_their_room():
    # A sign of East Asia is as wide as high (Unicode Annex 11): the names end at the axis.
    def left(names):
        svg = figures.vessel_figure(invented_results(names=names)).svg
        return min(float(x) for x in re.findall(r'font-size: 8.5px[^>]* x="([\d.]+)"', svg))

    plain = ["A", "B", "C", "D", "E", "F"]
    assert left(["海" * 12, *plain[1:]]) - left(plain) == pytest.approx(12 * 8.5, abs=12)


def test_latin_report_reads_no_further_typeface():
    latin = invented_results()
    families = font_families(repr(prose.findings(latin)) + figures.vessel_figure(latin).svg)
    assert families == ["Source Sans 3"]
    assert letters_for("Ærø – Ωmega ≤ Żółw, Москва") == []


def test_page_for_browsers_holds_the_letters_in_use(document):
    page = document_html(document)
    assert all(name in without_marks(page) for name in MIXES)
    for letters in letters_for("".join(MIXES)):
        assert page.count(f'@font-face {{ font-family: "{letters.family}"') == 1
    assert len(page) < 1_000_000


def test_name_from_the_right_is_isolated_from_its_neighbours():
    names = mix_names(invented_results(names=["ملح", "Alder", "海", "ملح", "Fir", "\u202eYew"]))
    assert names["M01"] == "\u2068ملح\u2069 (M01)"
    assert names["M02"] == "Alder"
    assert names["M03"] == "海"
    assert names["M06"] == "Yew"  # an override would turn the rest of the line


def test_files_bear_names_of_their_own_and_their_licence():
    for letters in _table():
        with TTFont(letters.file, lazy=True) as font:
            assert font["name"].getDebugName(1) == letters.family
            assert font["name"].getDebugName(6) == letters.family.replace(" ", "")
            assert "opyright" in font["name"].getDebugName(0)
            assert "License" in font["name"].getDebugName(13)
            # The bit that forbids embedding (OpenType specification, OS/2 table, fsType).
            assert not font["OS/2"].fsType & 2
        assert (letters.folder.parent / "OFL.txt").exists()


def test_scripts_do_not_share_a_place():
    spans = sorted(span for own in _table().values() for span in own)
    assert all(before[1] < after[0] for before, after in pairwise(spans))
    assert letters_of("A") is None
    assert letters_of("\u0e3f\u0e3f"[0]).script == "thai"
