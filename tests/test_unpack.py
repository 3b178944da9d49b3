"""Bundles made to do harm are refused in words, and leave nothing behind."""

import re
import stat
import zipfile

import pytest

from trialkit.unpack import BundleError, UnpackLimits, open_bundle


def make_zip(path, *members, packed=zipfile.ZIP_DEFLATED):
    with zipfile.ZipFile(path, "w", packed) as archive:
        for name, data in members:
            archive.writestr(name, data)
    return path


def refusal(path, **options):
    with pytest.raises(BundleError) as caught, open_bundle(path, **options):
        pytest.fail("the bundle was opened")
    return caught.value.message


def test_files_come_out_as_they_went_in_and_the_folder_goes(tmp_path):
    path = make_zip(tmp_path / "a.zip", ("trial/readings.csv", "vessel\n"), ("CITATION.cff", "x"))
    with open_bundle(path) as folder:
        found = {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()}
        assert found == {"trial/readings.csv", "CITATION.cff"}
        assert (folder / "trial" / "readings.csv").read_text() == "vessel\n"
    assert not folder.exists()


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("../evil.txt", "leads out"),
        ("trial/../../evil.txt", "leads out"),
        ("/etc/evil", "leads out"),
        ("C:/evil", "leads out"),
        ("C:evil", "leads out"),
        ("..\\evil", "leads out"),
        ("\\\\host\\share\\evil", "leads out"),
        ("trial\\readings.csv", "characters"),
        ("readings.csv:hidden", "characters"),
        ("trial/a\x07b", "characters"),
        ("trial/./x", "read otherwise"),
        ("trial//x", "read otherwise"),
        ("trial/nul.csv", "read otherwise"),
        ("trial/readings.csv.", "read otherwise"),
        ("a/" * 9 + "x", "too deep"),
        ("x" * 201, "too long"),
    ],
)
def test_a_name_that_is_not_plain_is_refused(tmp_path, name, words):
    path = make_zip(tmp_path / "a.zip", ("harmless.txt", "x"), (name, "y"))
    before = sorted(tmp_path.rglob("*"))
    assert words in refusal(path)
    assert sorted(tmp_path.rglob("*")) == before


def test_a_link_is_refused(tmp_path):
    link = zipfile.ZipInfo("trial/readings.csv")
    link.external_attr = (stat.S_IFLNK | 0o777) << 16
    assert "link" in refusal(make_zip(tmp_path / "a.zip", (link, "/etc/passwd")))


def test_a_pipe_is_refused(tmp_path):
    pipe = zipfile.ZipInfo("trial/readings.csv")
    pipe.external_attr = (stat.S_IFIFO | 0o644) << 16
    assert "no ordinary file" in refusal(make_zip(tmp_path / "a.zip", (pipe, "")))


@pytest.mark.filterwarnings("ignore:Duplicate name:UserWarning")
@pytest.mark.parametrize("second", ["trial/key.csv", "Trial/KEY.csv", "trial/key.csv/x"])
def test_two_files_in_one_place_are_refused(tmp_path, second):
    path = make_zip(tmp_path / "a.zip", ("trial/key.csv", "a"), (second, "b"))
    assert "twice" in refusal(path)


def test_too_many_files_are_refused(tmp_path):
    path = make_zip(tmp_path / "a.zip", *((f"{i}.txt", "") for i in range(1001)))
    assert "1001 files" in refusal(path)


def test_a_file_that_grows_a_thousandfold_is_refused(tmp_path):
    path = make_zip(tmp_path / "a.zip", ("zeros", bytes(50_000_000)))
    assert path.stat().st_size < 100_000
    assert "grows more than 200 times" in refusal(path)


def test_the_total_is_counted_over_all_files(tmp_path):
    path = make_zip(tmp_path / "a.zip", *((f"{i}", bytes(400_000)) for i in range(3)))
    assert "beyond 1 MB" in refusal(path, limits=UnpackLimits(total_mb=1.0))
    with open_bundle(path, limits=UnpackLimits(total_mb=1.2)) as folder:
        assert len(list(folder.iterdir())) == 3


def test_a_size_that_the_archive_lies_about_is_counted(tmp_path):
    path = make_zip(tmp_path / "a.zip", ("zeros", bytes(50_000_000)))
    data = bytearray(path.read_bytes())
    # The size unpacked stands 22 bytes into the local header and 24 into the central entry
    # (PKWARE APPNOTE 6.3, sections 4.3.7 and 4.3.12).
    for mark, offset in ((b"PK\x03\x04", 22), (b"PK\x01\x02", 24)):
        at = data.index(mark) + offset
        data[at : at + 4] = (10).to_bytes(4, "little")
    path.write_bytes(data)
    assert re.search("not a sound zip|grows more", refusal(path))


def test_an_encrypted_file_is_refused(tmp_path):
    path = make_zip(tmp_path / "a.zip", ("x", "y"))
    data = bytearray(path.read_bytes())
    data[data.index(b"PK\x03\x04") + 6] |= 1
    data[data.index(b"PK\x01\x02") + 8] |= 1
    path.write_bytes(data)
    assert "encrypted" in refusal(path)


def test_an_unusual_packing_is_refused(tmp_path):
    path = make_zip(tmp_path / "a.zip", ("x", "y"), packed=zipfile.ZIP_LZMA)
    assert "unusual" in refusal(path)


def contents(path):
    """Bytes of the files, or the words of the refusal."""
    try:
        with open_bundle(path) as folder:
            return [p.read_bytes() for p in folder.rglob("*") if p.is_file()]
    except BundleError as error:
        return error.message


def test_damage_is_said_not_raised(tmp_path):
    path = make_zip(tmp_path / "a.zip", ("x", "some text " * 500))
    sound = path.read_bytes()
    outcomes = []
    for at in range(0, len(sound), 3):
        damaged = bytearray(sound)
        damaged[at] ^= 0x5A
        path.write_bytes(damaged)
        outcomes.append(contents(path))
    # What opens holds the same text, whatever else of the archive was hit: a bit that turns the
    # only file into a folder leaves none.
    opened = [found for found in outcomes if isinstance(found, list)]
    assert all(found in ([b"some text " * 500], []) for found in opened)
    assert len(opened) < len(outcomes) / 2


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda p: p.write_text("vessel,mix\n"), "not a sound zip"),
        (lambda p: p.write_bytes(b""), "not a sound zip"),
        (lambda p: p.mkdir(), "is a folder"),
        (lambda p: None, "is not there"),
    ],
)
def test_what_is_no_zip_is_named(tmp_path, make, words):
    path = tmp_path / "a.zip"
    make(path)
    assert words in refusal(path)
