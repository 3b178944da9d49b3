"""The README's commands are the kit's, and its table is one that the kit takes."""

import re
from pathlib import Path

import trialkit as tk
from trialkit.cli import cli, run

ROOT = Path(tk.__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_every_command_that_is_named_is_there():
    named = set(re.findall(r"(?:`|^|bin/)trialkit ([a-z]+)", README, re.MULTILINE))
    assert len(named) >= 9
    assert named <= set(cli.commands)


def test_every_link_and_picture_leads_to_a_file():
    targets = [t for t in re.findall(r"\]\(([^)]+)\)", README) if "://" not in t]
    assert len(targets) >= 6
    assert [t for t in targets if not (ROOT / t).is_file()] == []


def test_the_table_of_the_readme_is_taken(tmp_path, monkeypatch):
    lines = [line for line in README.splitlines() if re.match(r"\|\s*(hours|[\d.]+)\s*\|", line)]
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]
    assert len(rows) == 5
    monkeypatch.chdir(tmp_path)
    Path("bench.csv").write_text("".join(",".join(row) + "\n" for row in rows))
    command = re.search(r"^trialkit (import bench)\.xlsx (.*)$", README, re.MULTILINE)
    assert run([*command[1].split()[:1], "bench.csv", *command[2].split()]) == 0
    assert run(["check", "bench"]) == 0
    found = tk.clearing_intervals(tk.read_trial("bench"))
    # Within one line of purified water, twice in a row: read off the table by eye. One Birch was
    # so only at the last look, the other never.
    assert found["right_h"].tolist() == [1.0, 1.0, float("inf"), float("inf")]
