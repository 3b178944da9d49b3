"""A plan is looked at before it is written, in Python and in its notebook."""

import json
import os
from pathlib import Path

import pytest

from trialkit.planning.preview import preview_plan, read_answers, write_plan
from trialkit.planning.seal_check import check_seal

ROOT = Path(__file__).parents[2]
ANSWERS = ROOT / "data" / "demo" / "answers.toml"


@pytest.fixture(scope="module")
def preview():
    return preview_plan(read_answers(ANSWERS), n_trials=300)


def test_answer_says_what_the_table_says(preview):
    row = preview.power.set_index("vessels_per_mix").loc[4]
    text = str(preview.answer)
    assert text.startswith("**4 vessels of each mix, 15 looks: of 100 such trials, ")
    assert f"{100 * row['power']:.0f} would tell apart" in text
    assert "factor of 2" in text
    assert "Every block holds every mix" in text


def test_table_has_a_row_for_each_size_with_its_effort(preview):
    rows = preview.power_table.rows
    assert [row[0] for row in rows] == ["2", "3", "4", "5", "6", "7", "8"]
    # 4 blocks of 6 mixes and a reference, 15 looks, two readers.
    assert rows[2][1:3] == ("28", str(28 * 15 * 2))
    assert rows[2][-1] == "0.125"


def test_every_block_is_one_that_notebooks_and_reports_show(preview):
    kind = "application/vnd.trialkit.block+json"
    shown = [preview.power_table, preview.schedule, preview.power_picture, preview.bench]
    blocks = [item._repr_mimebundle_()[kind] for item in shown]
    assert [block["label"] for block in blocks] == ["power", "schedule", "power-figure", "bench"]
    for block in blocks[:2]:
        assert all(len(row) == len(block["columns"]) for row in block["rows"])
    assert preview.answer._repr_mimebundle_()[kind]["kind"] == "prose"
    json.dumps(blocks)


def test_schedule_names_each_mix(preview):
    assert [row[0] for row in preview.schedule.rows] == [
        mix["name"] for mix in preview.answers["mixes"]
    ]


def test_written_plan_keeps_the_seed_that_was_looked_at(preview, tmp_path):
    words = write_plan(preview, tmp_path / "shed")
    assert "layout seed 4031" in str(words)
    assert check_seal(tmp_path / "shed").status == "yes"
    schedule = preview.planned.settings["schedule_h"]
    text = (tmp_path / "shed" / "trial.toml").read_text()
    assert ", ".join(f"{t:g}" for t in schedule) in text
    assert "Nothing was written" in str(write_plan(preview, ""))


def test_one_vessel_of_each_mix_compares_nothing():
    answers = {**read_answers(ANSWERS), "vessels_per_mix": 1}
    assert "can't be compared" in str(preview_plan(answers, n_trials=20).answer)


def test_incomplete_blocks_say_what_they_cost():
    answers = {**read_answers(ANSWERS), "places": 4}
    assert "Blocks hold only some of the mixes" in str(preview_plan(answers, n_trials=20).answer)


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"title = \n", "answers.toml is not TOML: Invalid value"),
        (b"title = '\xff'\n", "answers.toml is not UTF-8"),
        (None, "answers.toml can't be read"),
    ],
)
def test_unreadable_answers_are_refused_in_words(tmp_path, content, message):
    path = tmp_path / "answers.toml"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(ValueError, match=message):
        read_answers(path)


def test_the_notebook_runs_and_writes_a_folder(tmp_path):
    from trialkit.report.run import run_notebook

    where = {
        "answers": Path(os.path.relpath(ANSWERS, tmp_path)).as_posix(),
        "n_trials": 100,
        "folder": "shed",
    }
    notebook = ROOT / "notebooks" / "plan.ipynb"
    run_notebook(notebook, tmp_path / "plan.ipynb", parameters=where, cwd=tmp_path)
    cells = json.loads((tmp_path / "plan.ipynb").read_text(encoding="utf-8"))["cells"]
    outputs = [output for cell in cells for output in cell.get("outputs", [])]
    assert len(outputs) == 6
    assert all("application/vnd.trialkit.block+json" in output["data"] for output in outputs)
    assert check_seal(tmp_path / "shed").status == "yes"
    assert (tmp_path / "shed-key" / "key.csv").is_file()
