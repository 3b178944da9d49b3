"""Run a notebook to the end in this very interpreter."""

import json
import os
import sys
import tempfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

__all__ = ["Meanwhile", "NotebookFailed", "run_notebook"]

# What the notebook format holds of a parameter's type, as Python checks it.
_TYPES = {
    "str": (str,),
    "int": (int,),
    "float": (int, float),
    "bool": (bool,),
    "list": (list,),
    "dict": (dict,),
}


class NotebookFailed(RuntimeError):  # noqa: N818 - it says what happened to the notebook
    """
    A cell of a notebook ended in an error.

    Attributes
    ----------
    cell : int
        Number of the cell, the first is 1.
    name : str
        Class of the error in the notebook.
    message : str
        What the error said.
    """

    def __init__(self, notebook: str, cell: int, name: str, message: str) -> None:
        super().__init__(f"{notebook}, cell {cell}: {name}: {message}")
        self.cell = cell
        self.name = name
        self.message = message


@dataclass(frozen=True)
class Meanwhile:
    """
    What is done while a kernel starts, which takes as long as a good part of a run.

    Attributes
    ----------
    here : callable or None
        Called in this process before the first cell. What it raises ends the run.
    there : tuple of str
        Modules that the kernel imports before the first cell asks for them.
    """

    here: Callable[[], Any] | None = None
    there: tuple[str, ...] = ()


_NOTHING = Meanwhile()


def run_notebook(
    notebook: str | Path,
    out: str | Path,
    *,
    parameters: Mapping[str, Any],
    cwd: str | Path,
    shown: Mapping[str, Any] | None = None,
    meanwhile: Meanwhile = _NOTHING,
) -> Path:
    """
    Path of the executed copy of a notebook.

    The kernel is this interpreter, whatever kernels the machine has registered under the same
    name, and imports nothing from the folder that it works in. The copy bears no time and no
    path: a second run gives the same bytes.

    Parameters
    ----------
    notebook : str or Path
    out : str or Path
        Where the executed copy goes; nothing is left there after a failure.
    parameters : mapping of str to str, int, float, bool, None, list or dict
        Values for names in the cell tagged ``parameters``.
    cwd : str or Path
        Folder that the cells work in.
    shown : mapping, optional
        For some parameters, what the copy shows in place of the value: a path of this machine
        belongs in no file that is published, and would differ elsewhere.
    meanwhile : Meanwhile, optional
        What is done while the kernel starts.

    Returns
    -------
    Path

    Raises
    ------
    ValueError
        For a parameter that the notebook doesn't have, or a value of another type.
    NotebookFailed
        When a cell ends in an error.
    """
    notebook, out = Path(notebook), Path(out)
    with tempfile.TemporaryDirectory() as scratch, _environment(scratch):
        # The kernel first: it takes longer to start than anything here takes to get ready for it.
        from .kernel import started_kernel

        with started_kernel(str(cwd), _imports(meanwhile.there)) as kernel:
            _import_runner()
            _check_parameters(notebook, parameters)
            if meanwhile.here:
                meanwhile.here()
            with _progress(notebook) as tell:
                executed = _execute(notebook, dict(parameters), kernel, tell)
    out.write_text(_clean_text(executed, shown or {}), encoding="utf-8", newline="\n")
    return out


def _imports(modules: tuple[str, ...]) -> str:
    """A line that imports modules, leaves no name behind and shows nothing."""
    return f"any(map(__import__, {modules!r})) and None" if modules else ""


def _import_runner() -> None:
    """Import what runs notebooks, without a grammar that would be compiled for most of a second."""
    # jsonschema takes this optional module for checking international web addresses wherever
    # JupyterLab brought it along. No notebook of ours holds one.
    absent = "rfc3987_syntax"
    if absent in sys.modules or "jsonschema" in sys.modules:
        return
    sys.modules[absent] = None
    try:
        import papermill  # noqa: F401 - imported for what it imports
    finally:
        del sys.modules[absent]


def _check_parameters(notebook: Path, parameters: Mapping[str, Any]) -> None:
    from papermill import inspect_notebook

    known = inspect_notebook(str(notebook))
    for name, value in parameters.items():
        if name not in known:
            raise ValueError(
                f"{notebook.name} has no parameter {name!r}; it has {', '.join(known) or 'none'}."
            )
        wanted = known[name]["inferred_type_name"]
        if not _fits(value, wanted):
            kind = type(value).__name__
            raise ValueError(f"{name} must be of type {wanted}; got {value!r}, of type {kind}.")


def _fits(value: Any, wanted: str) -> bool:
    """Whether a value is plain enough to be written into a cell, and of the declared type."""
    base, _, rest = wanted.partition("|")
    if rest or wanted == "None":
        return any(_fits(value, part.strip()) for part in (base, rest) if part) or value is None
    plain = type(value) in (str, int, float, bool, list, dict)
    allowed = _TYPES.get(base.split("[")[0].strip(), (object,))
    # True is an int to Python, not to a reader.
    mixed_up = isinstance(value, bool) and bool not in allowed and object not in allowed
    return plain and isinstance(value, allowed) and not mixed_up


def _execute(notebook: Path, parameters: dict[str, Any], kernel: Any, tell: Any) -> Any:
    from papermill import execute_notebook
    from papermill.exceptions import PapermillExecutionError

    try:
        return execute_notebook(
            str(notebook.resolve()),
            None,  # written once, by us, when what differs from run to run is out of it
            parameters=parameters,
            kernel_name="python3",
            km=kernel,
            language="python",
            progress_bar=False,
            request_save_on_cell_execute=False,
            on_cell_start=tell,
            record_timing=False,
        )
    except PapermillExecutionError as error:
        cell = _source_cell(notebook, error.cell_index, bool(parameters))
        raise NotebookFailed(notebook.name, cell, error.ename, error.evalue) from error


def _source_cell(notebook: Path, index: int, injected: bool) -> int:
    """Number of a cell in the notebook as its author knows it."""
    cells = json.loads(notebook.read_text(encoding="utf-8"))["cells"]
    tags = [cell.get("metadata", {}).get("tags", []) for cell in cells]
    # The given parameters run in a cell of their own right after the one with the defaults.
    before = injected and any("parameters" in found for found in tags[:index])
    return index + (0 if before else 1)


@contextmanager
def _environment(scratch: str) -> Iterator[None]:
    """Keep a user's own start-up files, history and drawing settings out of the kernel."""
    wanted = {
        "IPYTHONDIR": scratch,
        "MPLBACKEND": "svg",
        "MATPLOTLIBRC": str(Path(scratch) / "matplotlibrc"),
        "PYDEVD_DISABLE_FILE_VALIDATION": "1",
        "PYTHONHASHSEED": "0",
    }
    Path(wanted["MATPLOTLIBRC"]).touch()
    before = {name: os.environ.get(name) for name in wanted}
    os.environ.update(wanted)
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value


@contextmanager
def _progress(notebook: Path) -> Iterator[Any]:
    """A line on the standard error stream, rewritten in place where it is a terminal."""
    live = sys.stderr.isatty()
    if not live:
        print(f"running {notebook.name}", file=sys.stderr, flush=True)

    def tell(cell: Any, cell_index: int) -> None:
        if live:
            text = f"\rrunning {notebook.name}: cell {cell_index + 1}\x1b[K"
            print(text, end="", file=sys.stderr, flush=True)

    try:
        yield tell
    finally:
        if live:
            print("\r\x1b[K", end="", file=sys.stderr, flush=True)


def _clean_text(notebook: Any, shown: Mapping[str, Any]) -> str:
    """The notebook's JSON without what differs from run to run."""
    import nbformat

    notebook.metadata.pop("papermill", None)
    for cell in notebook.cells:
        cell.metadata.pop("papermill", None)
        cell.metadata.pop("execution", None)
        if "injected-parameters" in cell.metadata.get("tags", []):
            cell["id"] = "injected-parameters"
            cell["source"] = "\n".join(_shown(line, shown) for line in cell["source"].split("\n"))
    return nbformat.writes(notebook)


def _shown(line: str, shown: Mapping[str, Any]) -> str:
    name = line.partition(" = ")[0]
    return f"{name} = {json.dumps(shown[name], ensure_ascii=False)}" if name in shown else line
