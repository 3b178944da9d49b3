"""Executed notebooks made by hand, for the tests of the report."""

import json


def executed(cells, path):
    """Write a notebook whose outputs are given: (markdown) or a block with to_json."""
    path.write_text(json.dumps({"cells": [_cell(cell) for cell in cells]}), encoding="utf-8")
    return path


def _cell(cell):
    if isinstance(cell, str):
        return {"cell_type": "markdown", "metadata": {}, "source": cell}
    outputs = cell if isinstance(cell, list) else [shown(cell)]
    return {"cell_type": "code", "metadata": {}, "source": "", "outputs": outputs}


def shown(block):
    """The output of a cell that ends in a block."""
    bundle = block._repr_mimebundle_()
    return {"output_type": "execute_result", "data": json.loads(json.dumps(bundle))}
