"""Whether a bundle's results come out again from its inputs, by this kit's own analysis."""

import hashlib
import re
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

import pandas as pd

from trialkit.analysis.results import Results, read_results
from trialkit.bundle import INPUTS, REPORT
from trialkit.compare import TOLERANCE, compare_results, version_changes
from trialkit.planning.blocks import Told
from trialkit.planning.seal_check import check_seal
from trialkit.publish import MANIFEST, NOTEBOOK, publish_trial
from trialkit.records.read import read_trial
from trialkit.report.printing import print_number
from trialkit.unpack import BundleError, open_bundle

__all__ = ["Verification", "verify_bundle"]

SAME, OTHER, CHANGED, BLIND = (
    "same inputs, same results",
    "same inputs, other results",
    "inputs changed",
    "same inputs, still blind",
)

_MANIFEST_LINE = re.compile(r"([0-9a-f]{64}) [ *](\S.*)")


@dataclass(frozen=True)
class Verification(Told):
    """What came of computing a bundle again.

    Attributes
    ----------
    status : str
        "same inputs, same results", "same inputs, other results", "inputs changed", or
        "same inputs, still blind" when there are no results yet.
    changed : pandas.DataFrame
        One row a file that is not as it was packed: `file`, `change` ("changed", "missing",
        "added").
    differences : pandas.DataFrame
        One row a number or word that came out otherwise: `table`, `row` (which mix, term, …),
        `column`, `bundled`, `here`, `apart` (relative difference; inf where no number can say).
    versions : list of str
        Libraries whose version differs between then and here.
    report_same : bool or None
        Whether report.pdf came out byte for byte; None when it was not made again.
    seal : str
        Whether what was declared, and the key, are still the sealed ones; "" when not looked at.
    """

    status: str
    changed: pd.DataFrame
    differences: pd.DataFrame
    versions: list[str] = field(default_factory=list)
    report_same: bool | None = None
    seal: str = ""

    @property
    def exit_code(self) -> int:
        """0 when every file is as packed and the same results came out (or none yet), else 1."""
        return 0 if self.status in (SAME, BLIND) and self.changed.empty else 1

    def __str__(self) -> str:
        """The finding with its details, as a terminal shows it."""
        lines = [self._sentence()]
        if len(self.changed) and self.status != CHANGED:
            lines.append("But these files of the bundle are not as they were packed:")
        lines += [f"  {row.file}: {row.change}" for row in self.changed.itertuples()]
        lines += _difference_lines(self.differences)
        if self.versions:
            lines.append(f"Other versions here: {'; '.join(self.versions)}.")
        if self.report_same is not None:
            how = "byte for byte" if self.report_same else "with other bytes"
            lines.append(f"report.pdf came out {how}.")
        if self.seal:
            lines.append(self.seal)
        return "\n".join(lines)

    def _sentence(self) -> str:
        agree = f"numbers agree within {TOLERANCE:g} of their size"
        sentences = {
            SAME: f"Same inputs, same results: all {agree}.",
            OTHER: f"Same inputs, other results: not all {agree}.",
            CHANGED: "Inputs changed since the bundle was made.",
            BLIND: "Same inputs; the trial is still blind, so there are no results yet.",
        }
        return sentences[self.status]


def verify_bundle(path: str | Path) -> Verification:
    """The finding about a bundle: whether inputs are as packed and the same results come out.

    Only this kit's own notebook and analysis run. Of the bundle, data are read and results
    compared; a notebook or program in it is never run. Numbers count as the same when they agree
    within one millionth of their size: results.json holds ten digits, and another processor or
    version of a numerical library may move the last few.

    Parameters
    ----------
    path : str or pathlib.Path
        The zip that `bundle_trial` wrote.

    Returns
    -------
    Verification
        Prints as sentences; `.exit_code` is 0 when all is the same.

    Raises
    ------
    BundleError
        If the zip is unsafe, damaged, or no bundle of a trial.
    TrialDataError
        If the inputs are refused by this version of the kit.
    """
    with open_bundle(path) as folder:
        changed = _changed_files(folder)
        if changed["file"].str.startswith(f"{INPUTS}/").any():
            return Verification(CHANGED, changed, compare_results(None, None))
        trial = read_trial(folder / INPUTS)
        if trial.blinded:
            return Verification(BLIND, changed, compare_results(None, None))
        return _compute_again(folder, changed)


def _compute_again(folder: Path, changed: pd.DataFrame) -> Verification:
    bundled, hashes = _bundled_results(folder)
    inputs = _inputs_not_in_results(folder, hashes)
    if len(inputs):
        return Verification(CHANGED, inputs, compare_results(None, None))
    seal = _seal_sentence(folder / INPUTS)
    with tempfile.TemporaryDirectory(prefix="trialkit-") as made:
        # Beside a copy of the inputs, as when it was packed: paths in the report are the same.
        stage = Path(made)
        (folder / INPUTS).rename(stage / INPUTS)
        publish_trial(stage / INPUTS, stage / REPORT)
        here = read_results(stage / REPORT)
        differences = compare_results(bundled, here)
        report_same = _report_same(folder / REPORT / "report.pdf", stage / REPORT)
    status = OTHER if len(differences) else SAME
    versions = version_changes(bundled, here)
    return Verification(status, changed, differences, versions, report_same, seal)


def _bundled_results(folder: Path) -> tuple[Results, dict[str, str]]:
    """The bundled results, and the SHA-256 of each input that they were computed from."""
    try:
        results = read_results(folder / REPORT / "results.json")
        return results, {row["file"]: row["sha256"] for row in results.meta["inputs"]}
    except (OSError, ValueError, LookupError, TypeError, AttributeError, RecursionError) as error:
        raise BundleError(
            f"{REPORT}/results.json in the bundle cannot be read ({type(error).__name__}), so "
            "there is nothing to compare with."
        ) from error


def _changed_files(folder: Path) -> pd.DataFrame:
    """Files that are not as the manifest says."""
    listed = _manifest(folder / MANIFEST)
    found = {
        p.relative_to(folder).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest()
        for p in folder.rglob("*")
        if p.is_file() and p != folder / MANIFEST
    }
    rows = [(name, "missing") for name in listed.keys() - found.keys()]
    rows += [(name, "added") for name in found.keys() - listed.keys()]
    rows += [(n, "changed") for n in listed.keys() & found.keys() if listed[n] != found[n]]
    return pd.DataFrame(sorted(rows), columns=["file", "change"]).astype("str")


def _manifest(path: Path) -> dict[str, str]:
    """SHA-256 by file name."""
    if not path.is_file():
        raise BundleError(f"This is no bundle of a trial: it holds no {MANIFEST}.")
    lines = path.read_text(encoding="utf-8", errors="replace").splitlines()
    matches = [_MANIFEST_LINE.fullmatch(line) for line in lines if line.strip()]
    if not matches or None in matches:
        raise BundleError(f"{MANIFEST} in the bundle is damaged: it is no list of SHA-256 sums.")
    return {match[2]: match[1] for match in matches}


def _inputs_not_in_results(folder: Path, then: dict[str, str]) -> pd.DataFrame:
    """Inputs other than those that the bundled results were computed from."""
    now = read_trial(folder / INPUTS).sources
    here = dict(zip(now["file"], now["sha256"], strict=True))
    rows = [
        (f"{INPUTS}/{name}", "not what the results were computed from")
        for name in sorted(then.keys() | here.keys())
        if then.get(name) != here.get(name)
    ]
    return pd.DataFrame(rows, columns=["file", "change"]).astype("str")


def _seal_sentence(inputs: Path) -> str:
    try:
        return check_seal(inputs).sentence
    except (OSError, ValueError, LookupError):
        return "Declared before the first reading: can't be told, the seal is damaged."


def _report_same(bundled: Path, here: Path) -> bool:
    """Whether the report came out byte for byte, on one paper or the other."""
    from trialkit.report.render import PAPERS, render_report

    if not bundled.is_file():
        return False
    then = bundled.read_bytes()
    for paper in PAPERS:
        render_report(here / NOTEBOOK, here, paper=paper, html=False)
        if (here / "report.pdf").read_bytes() == then:
            return True
    return False


def _difference_lines(differences: pd.DataFrame, most: int = 20) -> list[str]:
    lines = [
        f"  {': '.join(filter(None, (row.table, row.row, row.column)))}: "
        f"{row.bundled or 'nothing'} in the bundle, {row.here or 'nothing'} here"
        + (f" ({print_number(100 * row.apart)}% apart)" if row.apart < float("inf") else "")
        for row in differences.head(most).itertuples()
    ]
    if len(differences) > most:
        lines.append(f"  and {len(differences) - most} more")
    return lines
