"""Invented decisions for the tests of the report, beside the invented results."""

from dataclasses import replace

import pandas as pd

from tests.report.invented import INF


def decided(results):
    """The results with claims, pairs, ranks, other definitions, agreement, balance."""
    more = {
        "claims": _claims(),
        "comparisons": _pairs(results),
        "ranks": _ranks(results),
        "sensitivity_summary": _definitions(results),
        "agreement": _agreement(),
        "balance": _balance(),
    }
    schedule = sorted(results["verdicts"]["elapsed_h"].unique())
    meta = {**results.meta, "schedule_h": schedule}
    # Nobody reads on the minute.
    late = results["verdicts"].assign(elapsed_h=results["verdicts"]["elapsed_h"] + 0.02)
    more["verdicts"] = late
    return replace(results, meta=meta, tables={**results.tables, **more})


def _claims():
    columns = [
        *("claim", "text", "mix", "criterion", "verdict", "term", "estimate", "conf_low"),
        *("conf_high", "threshold", "unit", "note"),
    ]
    half, ratio = "time by which 50% of batches are clear", "ratio of times, M01 to M02"
    rows = [
        (
            "a",
            "Alder in two hours",
            "M01",
            "clarity",
            "supported",
            half,
            1.2,
            0.8,
            1.8,
            2.0,
            "h",
            "4 of 4 were",
        ),
        (
            "b",
            "Hazel overnight",
            "M06",
            "clarity",
            "contradicted",
            half,
            INF,
            24.6,
            INF,
            12.0,
            "h",
            "",
        ),
        (
            "c",
            "Alder before Birch",
            "M01",
            "clarity",
            "not settled",
            ratio,
            0.7,
            0.4,
            1.2,
            1.0,
            "",
            "",
        ),
    ]
    return pd.DataFrame(rows, columns=columns)


def _pairs(results):
    mixes = list(results["mixes"]["mix"])
    rows = []
    for i, a in enumerate(mixes):
        for j in range(i + 1, len(mixes)):
            b = mixes[j]
            ratio = 0.0 if j == len(mixes) - 1 else 0.8 ** (j - i)
            shown = ratio < 0.6
            verdict = f"{a} clears sooner" if shown else "not shown different"
            p = 0.0004 if shown else 0.31
            high = 0.12 if ratio == 0 else ratio * 1.3
            rows.append(("fully clear", a, b, ratio, ratio * 0.7, high, p, 0.125, 0.125, verdict))
    columns = [
        *("criterion", "mix_a", "mix_b", "estimate", "conf_low", "conf_high", "p_adjusted"),
        *("p_permutation", "p_smallest", "verdict"),
    ]
    return pd.DataFrame(rows, columns=columns)


def _ranks(results):
    mixes = list(results["mixes"]["mix"])
    count = len(mixes)
    rows = [
        ("fully clear", mix, i + 1, max(1, i), min(count, i + 2), 0.9 if i == 0 else 0.02, "ab")
        for i, mix in enumerate(mixes)
    ]
    columns = [
        *("criterion", "mix", "rank", "rank_low", "rank_high", "probability_first", "letters"),
    ]
    return pd.DataFrame(rows, columns=columns)


def _definitions(results):
    rows = []
    for criterion in ("clarity", "haze"):
        for i, mix in enumerate(results["mixes"]["mix"]):
            last = i == len(results["mixes"]) - 1
            time = INF if last else 1.2 * 1.3**i
            row = (criterion, mix, time, time * 0.8, time * 1.4, i + 1, i + 1, i + 2, 0.93, 45)
            rows.append(row)
    columns = [
        *("criterion", "mix", "estimate", "estimate_low", "estimate_high", "rank", "rank_low"),
        *("rank_high", "share_same_rank", "n_definition"),
    ]
    return pd.DataFrame(rows, columns=columns)


_PAIR = "R01, R02"


def _agreement():
    columns = ["criterion", "term", "estimate", "conf_low", "conf_high", "n", "unit", "method"]
    columns.append("rater")
    rows = [
        ("clarity", "same call", 0.93, 0.85, 0.98, 24, "", "invented", _PAIR),
        ("clarity", "vessel mean, one rater (ICC)", 0.88, 0.7, 0.95, 24, "", "invented", _PAIR),
        ("clarity", "mean difference", 0.1, -0.1, 0.3, 24, "lines", "invented", _PAIR),
    ]
    return pd.DataFrame(rows, columns=columns)


def _balance():
    columns = ["term", "mix", "unit", "p_value", "verdict"]
    rows = [("temperature", f"M{i:02}", "C", 0.95, "no imbalance shown") for i in range(1, 7)]
    return pd.DataFrame(rows, columns=columns)
