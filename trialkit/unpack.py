"""A bundle from somebody else, unpacked where it can do no harm."""

import re
import stat
import tempfile
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import click

__all__ = ["BundleError", "UnpackLimits", "open_bundle"]

CHUNK = 1 << 20
PACKED = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)

# Characters that no portable file name holds; ":" also names a drive or a hidden stream.
_FORBIDDEN = re.compile(r'[\x00-\x1f\x7f<>:"|?*\\]')
# Names that stand for devices on one system or another, whatever follows the first point.
_DEVICE = re.compile(r"(con|prn|aux|nul|com[0-9]|lpt[0-9])(\..*)?", re.IGNORECASE)


class BundleError(click.ClickException):
    """A bundle that was not opened; the message says why, in words for its reader."""


@dataclass(frozen=True)
class UnpackLimits:
    """How large a bundle may grow while it is unpacked.

    Attributes
    ----------
    files : int
        Number of files.
    total_mb : float
        Size of all files together, in millions of bytes.
    ratio : float
        How many times larger than its packed form a file may be. Readings and drawings as text
        shrink to a twentieth at best; a file that shrinks a thousandfold was made to do damage.
    """

    files: int = 1000
    total_mb: float = 300.0
    ratio: float = 200.0


@contextmanager
def open_bundle(path: str | Path, *, limits: UnpackLimits | None = None) -> Iterator[Path]:
    """A temporary folder with the files of a bundle; it is gone when the block ends.

    Every name is checked before the first byte is written, and sizes are counted while unpacking
    rather than taken from what the archive says of itself. Nothing in a bundle is ever run.

    Parameters
    ----------
    path : str or pathlib.Path
        The zip.
    limits : UnpackLimits, optional
        How large it may grow.

    Yields
    ------
    pathlib.Path
        The folder.

    Raises
    ------
    BundleError
        If this is no zip, is damaged or encrypted, has names that lead out of the folder, holds
        links or two files of one name, or grows beyond the limits.

    Examples
    --------
    >>> import tempfile
    >>> folder = tempfile.TemporaryDirectory()
    >>> path = Path(folder.name, "small.zip")
    >>> with zipfile.ZipFile(path, "w") as archive:
    ...     archive.writestr("trial/mixes.csv", "mix,name")
    >>> with open_bundle(path) as unpacked:
    ...     print((unpacked / "trial" / "mixes.csv").read_text())
    mix,name
    >>> folder.cleanup()
    """
    limits = UnpackLimits() if limits is None else limits
    path = Path(path)
    # resolve(): on some systems the temporary folder is itself reached through a link.
    with tempfile.TemporaryDirectory(prefix="trialkit-") as made:
        target = Path(made).resolve()
        with _archive(path) as archive:
            members = _checked_members(path, archive, limits)
            _unpack(path, archive, members, target, limits)
        yield target


@contextmanager
def _archive(path: Path) -> Iterator[zipfile.ZipFile]:
    if not path.is_file():
        what = "is a folder; give the zip itself" if path.is_dir() else "is not there"
        raise BundleError(f"{path} {what}.")
    try:
        with zipfile.ZipFile(path) as archive:
            yield archive
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, ValueError) as error:
        raise BundleError(
            f"{path.name} is not a sound zip ({error}). Fix: fetch the bundle again."
        ) from error
    except OSError as error:
        raise BundleError(f"{path.name} could not be unpacked: {error.strerror}.") from error


def _checked_members(
    path: Path, archive: zipfile.ZipFile, limits: UnpackLimits
) -> list[zipfile.ZipInfo]:
    """The files to unpack, once all names are known to be harmless."""
    listed = archive.infolist()
    if len(listed) > limits.files:
        raise BundleError(
            f"{path.name} holds {len(listed)} files, more than the {limits.files} that a bundle "
            "may have; it was not unpacked."
        )
    files = []
    for member in listed:
        reason = _reason_against(member)
        if reason:
            raise BundleError(
                f"{path.name} was not unpacked: it holds {_shown(member.orig_filename)}, {reason}."
            )
        if not member.is_dir():
            files.append(member)
    _refuse_doubles(path, files)
    return files


def _reason_against(member: zipfile.ZipInfo) -> str:
    """Why a member is not unpacked, "" when nothing speaks against it."""
    name = member.orig_filename
    kind = stat.S_IFMT(member.external_attr >> 16)
    parts = name.removesuffix("/").split("/")
    reasons = (
        (name.startswith(("/", "\\")) or name[1:2] == ":", "a name that leads out of the bundle"),
        (".." in re.split(r"[/\\]", name), "a name that leads out of the bundle"),
        (kind == stat.S_IFLNK, "a link to another place"),
        (kind not in (0, stat.S_IFREG, stat.S_IFDIR), "which is no ordinary file"),
        (bool(member.flag_bits & 0x1), "which is encrypted"),
        (member.compress_type not in PACKED, "which is packed in an unusual way"),
        (bool(_FORBIDDEN.search(name)), "a name with characters that no file should have"),
        (len(name) > 200 or len(parts) > 8, "a name too long or too deep"),
        (any(_odd_part(part) for part in parts), "a name that some systems read otherwise"),
    )
    return next((words for holds, words in reasons if holds), "")


def _odd_part(part: str) -> bool:
    """Whether a step of a name is empty, a point, a device, or ends in what Windows drops."""
    return part in ("", ".") or part[-1] in ". " or bool(_DEVICE.fullmatch(part))


def _refuse_doubles(path: Path, files: list[zipfile.ZipInfo]) -> None:
    """Refuse two files of one name: which of them is read would depend on the tool."""
    seen: set[str] = set()
    folders = {
        "/".join(parts[:depth]).casefold()
        for parts in (member.filename.split("/") for member in files)
        for depth in range(1, len(parts))
    }
    for member in files:
        # Some disks take capitals and small letters as one.
        name = member.filename.casefold()
        if name in seen or name in folders:
            raise BundleError(
                f"{path.name} was not unpacked: it holds {_shown(member.filename)} twice."
            )
        seen.add(name)


def _unpack(
    path: Path,
    archive: zipfile.ZipFile,
    members: list[zipfile.ZipInfo],
    target: Path,
    limits: UnpackLimits,
) -> None:
    left = int(limits.total_mb * 1e6)
    for member in members:
        destination = target.joinpath(*member.filename.split("/"))
        # The names were checked; this would catch a hole in the check.
        assert target in destination.parents
        destination.parent.mkdir(parents=True, exist_ok=True)
        # One chunk may always be read: the ratio of a small file says nothing.
        own = max(CHUNK, int(member.compress_size * limits.ratio))
        size = _copy(archive, member, destination, min(left, own))
        if size > min(left, own):
            raise BundleError(_too_large(path, member, size > left, limits))
        left -= size


def _copy(archive: zipfile.ZipFile, member: zipfile.ZipInfo, destination: Path, most: int) -> int:
    """Bytes written; stops at the first chunk beyond `most`."""
    size = 0
    with archive.open(member) as packed, destination.open("xb") as file:
        while size <= most and (chunk := packed.read(CHUNK)):
            size += len(chunk)
            file.write(chunk)
    return size


def _too_large(path: Path, member: zipfile.ZipInfo, total: bool, limits: UnpackLimits) -> str:
    if total:
        grew = f"its files grow beyond {limits.total_mb:g} MB"
    else:
        grew = f"{_shown(member.filename)} grows more than {limits.ratio:g} times when unpacked"
    return f"{path.name} was not unpacked: {grew}, which no bundle of a trial does."


def _shown(name: str) -> str:
    """A name as it can be printed on a terminal."""
    shortened = name if len(name) <= 80 else name[:77] + "..."
    return '"' + "".join(c if c.isprintable() else f"\\x{ord(c):02x}" for c in shortened) + '"'
