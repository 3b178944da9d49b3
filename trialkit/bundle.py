"""One zip of a trial that a third person can read, check and compute again."""

import hashlib
import json
import re
import shutil
import tempfile
import zipfile
from dataclasses import asdict
from importlib import metadata
from pathlib import Path

from trialkit.datapackage import slug, write_datapackage
from trialkit.planning.seal import NONCE_FILE, SEALED_FILE
from trialkit.publish import MANIFEST, publish_trial, write_manifest
from trialkit.records.read import read_trial
from trialkit.records.trial import Author, Trial
from trialkit.unpack import BundleError, UnpackLimits, open_bundle

__all__ = ["INPUTS", "REPORT", "BundleError", "UnpackLimits", "bundle_trial", "open_bundle"]

INPUTS, REPORT = "trial", "report"
CITATION, VERSIONS, README = "CITATION.cff", "versions.txt", "README.txt"

# What a seal needs to be checked; the nonce stays away while the trial is blind, because with it
# the key of a small trial could be found by trying.
SEAL_FILES = (SEALED_FILE, NONCE_FILE)

# The earliest date that a zip can hold: the day of packing is no property of a trial.
NO_DATE = (1980, 1, 1, 0, 0, 0)

README_TEXT = """{title}

A side-by-side trial of synthetic sea-salt mixes, with everything needed to compute it again.

trial/                what was declared and read: the inputs
report/               what was computed from them: results.json, report.pdf, the notebook
datapackage.json      every file with its size and SHA-256, every column with unit and meaning
versions.txt          the versions of all libraries that took part
manifest-sha256.txt   the SHA-256 of every file
CITATION.cff          how to cite this

Are these the files as they were packed?   sha256sum -c manifest-sha256.txt
Do the same results come out again?        trialkit verify (the zip)
{blind}"""

BLIND_TEXT = """
The trial is still blind: the key and the results are not in here yet.
"""


def bundle_trial(
    folder: str | Path,
    out: str | Path | None = None,
    *,
    force: bool = False,
    strict: bool = False,
    paper: str = "a4",
) -> Path:
    """Path of the zip with the inputs of a trial and what this kit computes from them.

    Everything is computed afresh from a copy of the inputs, so that nothing stale is packed. The
    same inputs and versions give the same bytes, wherever and whenever: files are stored in fixed
    order, without dates, and not compressed, because two compressors of the same name differ.

    Parameters
    ----------
    folder : str or pathlib.Path
        The trial folder. While it is blind, only the inputs are packed.
    out : str or pathlib.Path, optional
        The zip; by default named after the trial's title, beside its folder's content.
    force : bool
        Replace a zip of this name.
    strict : bool
        Refuse what is otherwise only warned about.
    paper : str
        "a4" or "us-letter".

    Returns
    -------
    pathlib.Path
        The zip.

    Raises
    ------
    TrialDataError
        If the data are refused.
    BundleError
        If the place is taken, or a file changed while it was being packed.

    Examples
    --------
    >>> with tempfile.TemporaryDirectory() as made:
    ...     blind = shutil.copytree("data/demo/single", Path(made, "single"))
    ...     (blind / "key.csv").unlink()
    ...     with zipfile.ZipFile(bundle_trial(blind)) as packed:
    ...         print(packed.namelist()[-3:])
    ['trial/trial.toml', 'trial/vessels.csv', 'versions.txt']
    """
    folder = Path(folder)
    trial = read_trial(folder, strict=strict)
    out = folder / f"{slug(trial.protocol.title)}.zip" if out is None else Path(out)
    if (out.exists() or out.is_symlink()) and not force:
        raise BundleError(f"{out} exists already. Fix: --force replaces it, --out names another.")
    with tempfile.TemporaryDirectory(prefix="trialkit-") as made:
        stage = Path(made)
        _copy_inputs(folder, stage / INPUTS, trial)
        if not trial.blinded:
            publish_trial(stage / INPUTS, stage / REPORT, strict=strict, paper=paper)
            # One manifest for the whole: the report's own would only repeat it.
            (stage / REPORT / MANIFEST).unlink()
        _write_companions(stage, trial)
        _write_zip(stage, out)
    return out


def _copy_inputs(folder: Path, inputs: Path, trial: Trial) -> None:
    """Copy what was read, and only if it is still what was read."""
    inputs.mkdir()
    for file, sha256 in zip(trial.sources["file"], trial.sources["sha256"], strict=True):
        data = (folder / file).read_bytes()
        if hashlib.sha256(data).hexdigest() != sha256:
            raise BundleError(f"{file} changed while it was being packed. Fix: run this again.")
        (inputs / file).parent.mkdir(parents=True, exist_ok=True)
        (inputs / file).write_bytes(data)
    for file in SEAL_FILES:
        path = folder / file
        open_already = file != NONCE_FILE or not trial.blinded
        if open_already and path.is_file() and not path.is_symlink():
            shutil.copyfile(path, inputs / file)


def _write_companions(stage: Path, trial: Trial) -> None:
    """Write the files that describe the others; the manifest last, because it lists them all."""
    blind = BLIND_TEXT if trial.blinded else ""
    _write(stage / README, README_TEXT.format(title=trial.protocol.title, blind=blind))
    _write(stage / CITATION, citation(trial))
    _write(stage / VERSIONS, "".join(f"{line}\n" for line in exact_versions()))
    write_datapackage(stage, trial)
    write_manifest(stage)


def _write(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8", newline="\n")


def _write_zip(stage: Path, out: Path) -> None:
    """Write the zip under another name first: an interruption leaves no half of one."""
    partial = out.with_name(out.name + ".partial")
    try:
        # Made anew ("x"): a link of this name that came with the folder must not be followed.
        partial.unlink(missing_ok=True)
        with zipfile.ZipFile(partial, "x", zipfile.ZIP_STORED) as archive:
            for path in sorted(p for p in stage.rglob("*") if p.is_file()):
                member = zipfile.ZipInfo(path.relative_to(stage).as_posix(), NO_DATE)
                member.create_system = 3  # the same on every system
                member.external_attr = 0o100644 << 16
                archive.writestr(member, path.read_bytes())
        partial.replace(out)
    except OSError as error:
        raise BundleError(f"{out} could not be written: {error.strerror}.") from error
    finally:
        partial.unlink(missing_ok=True)


def citation(trial: Trial) -> str:
    """The text of CITATION.cff: how to cite the trial.

    Authors are the list `authors` of trial.toml; without it, the people of the trial as a body.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned.

    Returns
    -------
    str
        Citation File Format 1.2.0 (Druskat et al. 2021).
    """
    protocol = trial.protocol
    named = protocol.authors or [Author(f"The authors of: {protocol.title}")]
    # Texts in JSON's quotation marks are YAML as well (YAML 1.2, section 1.3).
    lines = [
        "cff-version: 1.2.0",
        'message: "If you use these readings or results, please cite them as below."',
        "type: dataset",
        f"title: {_quoted(protocol.title)}",
        "authors:",
        *(line for author in named for line in _author_lines(author)),
    ]
    if re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9.+-]*", protocol.licence):
        lines.append(f"license: {_quoted(protocol.licence)}")
    return "\n".join(lines) + "\n"


def _author_lines(author: Author) -> list[str]:
    """One author as an item of CITATION.cff: a person, or else an entity."""
    parts = {key.replace("_", "-"): text for key, text in asdict(author).items() if text}
    lines = [f"    {key}: {_quoted(text)}" for key, text in parts.items()]
    return ["  - " + lines[0].lstrip(), *lines[1:]]


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def exact_versions() -> list[str]:
    """The kit and every library that it needs here, each as `name==version`.

    Returns
    -------
    list of str
        Sorted by name, in the form that an installer takes as constraints; the version of Python
        in a comment on top.
    """
    from platform import python_version

    found: dict[str, str] = {}
    waiting = ["trialkit"]
    while waiting:
        name = waiting.pop()
        if name in found:
            continue
        try:
            held = metadata.distribution(name)
        except metadata.PackageNotFoundError:
            continue  # needed elsewhere: on another system, or for an extra
        found[name] = held.version
        waiting += [need for line in held.requires or [] if (need := _needed(line))]
    pins = [f"{name}=={version}" for name, version in sorted(found.items())]
    return [f"# Python {python_version()}", *pins]


def _needed(requirement: str) -> str:
    """The normal name of a required library; "" when only an extra asks for it."""
    if re.search(r";.*\bextra\s*==", requirement):
        return ""
    name = re.match(r"[A-Za-z0-9._-]+", requirement)
    return re.sub(r"[-_.]+", "-", name[0]).lower() if name else ""
