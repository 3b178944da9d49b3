import json
from pathlib import Path

import nbformat
import numpy as np
import pytest

from trialkit.report.run import NotebookFailed, run_notebook


@pytest.fixture
def notebook(tmp_path):
    def write(*sources):
        first = 'name: str = "a"  # a word\ncount: int = 3  # how many\nshare: float = 0.5  # part'
        cells = [nbformat.v4.new_markdown_cell("# A notebook")]
        cells.append(nbformat.v4.new_code_cell(first, metadata={"tags": ["parameters"]}))
        cells += [nbformat.v4.new_code_cell(source) for source in sources]
        for place, cell in enumerate(cells):
            cell["id"] = f"cell-{place}"
        spec = {"name": "python3", "display_name": "Python 3", "language": "python"}
        whole = nbformat.v4.new_notebook(cells=cells, metadata={"kernelspec": spec})
        whole.metadata["language_info"] = {"name": "python"}
        nbformat.write(whole, tmp_path / "small.ipynb")
        return tmp_path / "small.ipynb"

    return write


def results_of(path):
    cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
    return ["".join(o["data"]["text/plain"]) for c in cells for o in c.get("outputs", [])]


def test_runs_in_this_interpreter_whatever_kernels_there_are(
    notebook, tmp_path, monkeypatch, capfd
):
    # A foreign kernel of the same name, which would win by the usual search.
    foreign = tmp_path / "jupyter" / "kernels" / "python3"
    foreign.mkdir(parents=True)
    spec = {"argv": ["/bin/false"], "display_name": "Python 3", "language": "python"}
    (foreign / "kernel.json").write_text(json.dumps(spec), encoding="utf-8")
    monkeypatch.setenv("JUPYTER_PATH", str(tmp_path / "jupyter"))
    # A module of the data folder, which would shadow a real one.
    data = tmp_path / "data"
    data.mkdir()
    (data / "pandas.py").write_text("raise SystemExit('run from the data folder')")
    (data / "here.txt").touch()
    path = notebook(
        "import sys\nimport pandas\nfrom pathlib import Path",
        "sys.executable, name, count, Path('here.txt').exists()",
    )
    given = {"name": "b", "count": 4}
    out = run_notebook(path, tmp_path / "out.ipynb", parameters=given, cwd=data)
    import sys

    assert results_of(out) == [f"({sys.executable!r}, 'b', 4, True)"]
    told = capfd.readouterr()
    assert told.err == "running small.ipynb\n"
    assert told.out == ""


def test_second_run_has_the_same_bytes_and_no_path(notebook, tmp_path):
    path = notebook("name * count")
    given = {"name": "x"}
    one = run_notebook(path, tmp_path / "1.ipynb", parameters=given, cwd=tmp_path)
    two = run_notebook(path, tmp_path / "2.ipynb", parameters=given, cwd=tmp_path)
    assert one.read_bytes() == two.read_bytes()
    assert str(tmp_path) not in one.read_text(encoding="utf-8")


def test_failed_cell_is_named_and_nothing_is_left(notebook, tmp_path):
    path = notebook("1", "{}['key']", "2")
    with pytest.raises(NotebookFailed) as caught:
        run_notebook(path, tmp_path / "o.ipynb", parameters={"count": 1}, cwd=tmp_path)
    assert caught.value.cell == 4
    assert str(caught.value) == "small.ipynb, cell 4: KeyError: 'key'"
    assert [p.name for p in tmp_path.glob("*.ipynb")] == ["small.ipynb"]


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"folder": "x"}, "has no parameter 'folder'; it has name, count, share"),
        ({"count": "3"}, "count must be of type int; got '3', of type str"),
        ({"count": True}, "count must be of type int; got True, of type bool"),
        ({"count": np.int64(3)}, "count must be of type int; got .*, of type int64"),
        ({"name": Path("x")}, "name must be of type str"),
        ({"share": "half"}, "share must be of type float"),
    ],
)
def test_wrong_parameters_are_refused_before_the_run(notebook, tmp_path, given, words):
    with pytest.raises(ValueError, match=words):
        run_notebook(notebook("1"), tmp_path / "o.ipynb", parameters=given, cwd=tmp_path)


def test_whole_number_is_a_float_too(notebook, tmp_path):
    out = run_notebook(
        notebook("share"), tmp_path / "o.ipynb", parameters={"share": 1}, cwd=tmp_path
    )
    assert results_of(out) == ["1"]


def test_copy_shows_another_value_where_the_real_one_is_a_path(notebook, tmp_path):
    given = {"name": str(tmp_path), "count": 7}
    out = run_notebook(
        notebook("count"),
        tmp_path / "o.ipynb",
        parameters=given,
        cwd=tmp_path,
        shown={"name": "the trial folder"},
    )
    text = out.read_text(encoding="utf-8")
    assert str(tmp_path) not in text
    assert r"name = \"the trial folder\"" in text
    assert results_of(out) == ["7"]
