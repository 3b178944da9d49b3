"""An executed notebook as one document that both printed forms are made from."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from .blocks import MIME
from .markdown import MarkdownError, parse_markdown, plain_text
from .turned import needs_turning

SCREEN_ONLY = "screen-only"

Block = dict[str, Any]


class ReportError(ValueError):
    """
    A notebook holds something that a report can't print.

    Attributes
    ----------
    cell : int or None
        Number of the cell, the first is 1.
    """

    def __init__(self, message: str, cell: int | None = None) -> None:
        super().__init__(f"cell {cell}: {message}" if cell else message)
        self.cell = cell


def read_document(notebook: str | Path) -> dict[str, Any]:
    """
    The document of an executed notebook.

    Parameters
    ----------
    notebook : str or Path
        An .ipynb file whose cells have run.

    Returns
    -------
    dict
        ``title``, ``question``, ``cover`` (the answer's block or None), ``blocks`` in order;
        figures, tables and headings carry their ``number``.

    Raises
    ------
    ReportError
        For an output or markdown that can't be printed, a label used twice, or a reference to a
        label that isn't there; each with the number of its cell.
    """
    cells = json.loads(Path(notebook).read_text(encoding="utf-8"))["cells"]
    placed = [(number, block) for number, cell in _shown(cells) for block in _blocks(cell, number)]
    cover = [block for _, block in placed if block["kind"] == "answer"]
    heads = [block for _, block in placed if block["kind"] == "heading" and block["level"] == 1]
    _refuse_second(placed)
    question = plain_text(heads[0]["body"]) if heads else ""
    body = [(number, block) for number, block in placed if block not in (*cover, *heads)]
    labels = _number(body)
    for number, block in body:
        _refer(block, labels, number)
    return {
        "title": cover[0]["title"] if cover else question,
        "question": question if cover else "",
        "date": cover[0]["date"] if cover else "",
        "cover": cover[0] if cover else None,
        "blocks": [block for _, block in body if block["kind"] != "absent"],
    }


def _shown(cells: list[dict]) -> Iterator[tuple[int, dict]]:
    """The cells that are printed, numbered as in the notebook before it ran."""
    number = 0
    for cell in cells:
        tags = cell.get("metadata", {}).get("tags", [])
        # The run put this cell in: its author doesn't count it.
        number += "injected-parameters" not in tags
        if SCREEN_ONLY not in tags:
            yield number, cell


def _blocks(cell: dict, number: int) -> list[Block]:
    if cell["cell_type"] == "markdown":
        return _prose(_joined(cell["source"]), number)
    if cell["cell_type"] == "raw":
        raise ReportError("a raw cell is not printed; make it markdown.", number)
    return [block for output in cell["outputs"] for block in _output(output, number)]


def _output(output: dict, number: int) -> list[Block]:
    kind = output["output_type"]
    if kind == "error":
        raise ReportError(f"it ended in {output['ename']}: {output['evalue']}", number)
    if kind == "stream":
        text = _joined(output["text"]).strip()
        first = text.splitlines()[0][:120] if text else ""
        raise ReportError(f"text written to {output['name']} is not printed: {first}", number)
    data = output["data"]
    if MIME in data:
        block = data[MIME]
        return _stand_in(block, number) if block["kind"] == "prose" else [dict(block)]
    if "text/markdown" in data:
        return _prose(_joined(data["text/markdown"]), number)
    raise ReportError(
        f"an output of type {', '.join(sorted(data))} is not printed; end the cell with a table, "
        f"figure or text of trialkit, or tag the cell {SCREEN_ONLY}.",
        number,
    )


def _stand_in(block: Block, number: int) -> list[Block]:
    """The sentences of a prose block; none where they take the place of a missing piece.

    What is missing from a section, and why, its own words say once: on paper five more sentences
    that there is nothing to draw, tabulate, … would only stand between the reader and the rest.
    """
    label = block.get("label")
    absent = [{"kind": "absent", "label": label}] if label else []
    told = not label or block.get("told")
    return absent + (_prose(block["text"], number) if told else [])


def _prose(text: str, number: int) -> list[Block]:
    try:
        return parse_markdown(text)
    except MarkdownError as error:
        raise ReportError(str(error), number) from error


def _joined(text: str | list[str]) -> str:
    return text if isinstance(text, str) else "".join(text)


def _refuse_second(placed: list[tuple[int, Block]]) -> None:
    """One cover, one first-level heading: a second would silently win or vanish."""
    for what, found in (
        ("answer", [n for n, b in placed if b["kind"] == "answer"]),
        ("heading of the first level", [n for n, b in placed if b.get("level") == 1]),
    ):
        if len(found) > 1:
            raise ReportError(f"a second {what}; the first is in cell {found[0]}.", found[1])


def _number(body: list[tuple[int, Block]]) -> dict[str, str]:
    """Number headings, figures, captioned tables in place; what each label is called."""
    labels: dict[str, str] = {}
    counts = {"figure": 0, "table": 0}
    section = [0, 0]
    for cell, block in body:
        kind = block["kind"]
        if kind == "heading":
            block["number"] = _section(section, block["level"], cell)
        elif kind == "absent":
            _claim_label(labels, block["label"], "", cell)
        elif kind == "figure" or (kind == "table" and block["caption"]):
            counts[kind] += 1
            block["number"] = f"{kind.capitalize()} {counts[kind]}"
            if kind == "table":
                block["wide"] = block["wide"] or needs_turning(block)
            _claim_label(labels, block["label"], block["number"], cell)
    return labels


def _claim_label(labels: dict[str, str], label: str, words: str, cell: int) -> None:
    if label in labels:
        raise ReportError(f"the label {label!r} is used twice.", cell)
    labels[label] = words


def _section(section: list[int], level: int, cell: int) -> str:
    if level > 3:
        raise ReportError("headings go down to ### only.", cell)
    if level == 2:
        section[:] = [section[0] + 1, 0]
        return f"{section[0]}"
    if section[0] == 0:
        raise ReportError("a ### heading stands before the first ## heading.", cell)
    section[1] += 1
    return f"{section[0]}.{section[1]}"


def _refer(node: Any, labels: dict[str, str], cell: int) -> None:
    """Give each reference below a node the words that it prints as."""
    if isinstance(node, list):
        for item in node:
            _refer(item, labels, cell)
    elif isinstance(node, dict):
        if node.get("kind") == "ref":
            _resolve(node, labels, cell)
        for part in ("body", "blocks", "items", "rows"):
            _refer(node.get(part), labels, cell)


def _resolve(ref: Block, labels: dict[str, str], cell: int) -> None:
    if ref["label"] not in labels:
        raise ReportError(f"nothing is labelled {ref['label']!r}.", cell)
    ref["text"] = labels[ref["label"]]
    if not ref["text"]:
        # A sentence stands there instead: the reference keeps its words, and leads nowhere.
        ref.update(kind="text", text=plain_text(ref["body"]))
