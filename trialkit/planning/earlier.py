"""What an earlier trial says of the spread between vessels."""

import json
from math import isfinite
from pathlib import Path


def earlier_spread(path):
    """The pooled scale of an earlier report, for the answer ``spread``.

    Parameters
    ----------
    path : path-like
        Its results.json.

    Returns
    -------
    float
        Standard deviation of the natural log of clearing time between vessels of a mix, from the
        log-normal fit of clarity, else of the report's first criterion.

    Raises
    ------
    ValueError
        The file can't be read, or holds no finite log-normal scale.
    """
    path = Path(path)
    try:
        results = json.loads(path.read_text(encoding="utf-8"))
        table = results["tables"]["fits"]
        rows = [dict(zip(table["columns"], row, strict=True)) for row in table["rows"]]
        first = results["meta"]["primary"]
        scales = {row["criterion"]: row["scale"] for row in rows if row["family"] == "lognormal"}
    except OSError as error:
        raise ValueError(f"earlier: {path.name} can't be read: {error.strerror}.") from error
    except (KeyError, TypeError, ValueError) as error:
        raise ValueError(f"earlier must be results.json of a report; got {path.name}.") from error
    scale = scales.get("clarity", scales.get(first))
    if not isinstance(scale, int | float) or not isfinite(scale) or scale <= 0:
        raise ValueError(f"earlier: {path.name} holds no finite log-normal scale; give spread.")
    return float(scale)
