"""Invented findings on what decisions rest on, beside the invented decisions."""

from dataclasses import replace

import pandas as pd

from tests.report.decided import decided
from tests.report.invented import INF, invented_results

FAMILIES = ("lognormal", "weibull", "loglogistic")


def weighed(n_mixes=6, n_vessels=4):
    """
    Invented results with every table of the decisions.

    The third and the fourth mix change places under one definition, and R02 alone would contradict
    the first claim. The first and the third mix are shown different only if all spread alike. Held
    equal in blocks, the first two pairs swap their verdicts.
    """
    results = decided(invented_results(n_mixes, n_vessels))
    mixes = list(results["mixes"]["mix"])
    grid = _grid(mixes)
    more = {
        "comparisons": _pairs(results["comparisons"]),
        "comparisons_in_blocks": _in_blocks(results["comparisons"]),
        "overall": _overall(),
        "sensitivity": grid,
        "sensitivity_summary": _summary(grid),
        "agreement": results["agreement"].assign(rater="R01, R02", n_readings=351),
        "rater_times": _rater_times(mixes),
        "rater_intervals": _rater_intervals(results["intervals"]),
        "rater_claims": _rater_claims(results["claims"]),
        "rater_drift": _drift(),
        "balance": _balance(mixes),
    }
    more["agreement"] = pd.concat([more["agreement"], _loa()], ignore_index=True)
    return replace(results, tables={**results.tables, **more})


def without(results, *names, empty=False):
    """The results less some tables, or with these tables empty."""
    kept = {n: t for n, t in results.tables.items() if n not in names}
    bare = {n: results[n][:0] for n in names} if empty else {}
    return replace(results, tables={**kept, **bare})


def changed(results, table, **columns):
    """The results with other values in columns of one table."""
    tables = {**results.tables, table: results[table].assign(**columns)}
    return replace(results, tables=tables)


def _pairs(pairs):
    frail = (pairs["mix_a"] == "M01") & (pairs["mix_b"] == "M04")
    return pairs.assign(p_own_scale=frail.map({True: 0.08, False: 0.0005}), note="")


def _in_blocks(pairs):
    verdict = list(pairs["verdict"])
    verdict[0] = "M01 clears sooner"
    return pairs.assign(verdict=verdict)


def _overall():
    columns = ["criterion", "term", "p_value", "p_smallest", "n", "n_event", "verdict"]
    return pd.DataFrame(
        [("fully clear", "any difference between mixes", 0.0004, 0.0001, 24, 19, "shown")],
        columns=columns,
    )


def _grid(mixes):
    rows, number = [], 0
    for criterion, tolerances in (("clarity", (0.0, 1.0)), ("haze", (0.15, 0.3, 0.6))):
        declared = tolerances[-2] if criterion == "haze" else 0.0
        for tolerance in tolerances:
            for hold in (1, 2, 3):
                for family, placement in [
                    *((f, "interval") for f in FAMILIES),
                    ("lognormal", "midpoint"),
                ]:
                    number += 1
                    look = (criterion, tolerance, hold, "majority", family, placement)
                    is_declared = look[1:] == (declared, 2, "majority", "lognormal", "interval")
                    times = _times(len(mixes), look)
                    ranks = pd.Series(times).rank(method="min").astype(int)
                    rows += [
                        (number, *look, mix, time, 4, is_declared, rank)
                        for mix, time, rank in zip(mixes, times, ranks, strict=True)
                    ]
    columns = [
        *("definition", "criterion", "tolerance", "hold", "rater_rule", "family", "placement"),
        *("mix", "estimate", "n_event", "declared", "rank"),
    ]
    return pd.DataFrame(rows, columns=columns)


def _times(count, look):
    criterion, tolerance, hold, _, family, placement = look
    base = 1.2 * (1 - 0.1 * tolerance) * hold**0.2 * (0.9 if placement == "midpoint" else 1)
    base *= 1 + 0.02 * FAMILIES.index(family)
    times = [base * 1.12**i for i in range(count)]
    if len(times) > 2:
        times[-1] = INF
    if count > 4 and (criterion, tolerance, hold, family, placement) == (
        *("haze", 0.15, 3, "weibull", "interval"),
    ):
        times[2], times[3] = times[3], times[2]
    return times


def _summary(grid):
    real = grid[grid["placement"] == "interval"]
    rows = []
    for (criterion, mix), own in real.groupby(["criterion", "mix"], sort=False):
        as_is = own[own["declared"]].iloc[0]
        same = (own["rank"] == as_is["rank"]).mean()
        times, ranks = own["estimate"], own["rank"]
        ends = times.min(), times.max(), as_is["rank"], ranks.min(), ranks.max()
        rows.append((criterion, mix, as_is["estimate"], *ends, same, own["definition"].nunique()))
    columns = [
        *("criterion", "mix", "estimate", "estimate_low", "estimate_high", "rank", "rank_low"),
        *("rank_high", "share_same_rank", "n_definition"),
    ]
    return pd.DataFrame(rows, columns=columns)


def _loa():
    columns = ["criterion", "term", "estimate", "conf_low", "conf_high", "n", "unit", "method"]
    rows = [
        ("clarity", f"{side} limit of agreement", value, value - 0.1, value + 0.1, 24, "lines", "")
        for side, value in (("lower", -0.7), ("upper", 0.9))
    ]
    return pd.DataFrame(rows, columns=columns).assign(rater="R01, R02", n_readings=351)


def _rater_times(mixes):
    rows = []
    for rater in ("R01", "R02"):
        for i, mix in enumerate(mixes):
            declared = INF if i == len(mixes) - 1 else 1.2 * 1.12**i
            moves = rater == "R01" and i == 1
            alone = declared * (0.8 if moves else 1)
            rows.append(("clarity", rater, mix, 4, int(moves), declared, alone, "h"))
    columns = ["criterion", "rater", "mix", "n", "n_changed", "typical_h", "alone_h", "unit"]
    return pd.DataFrame(rows, columns=columns)


def _rater_intervals(intervals):
    """R02 sees the second mix clear a whole interval later."""
    own = intervals.assign(criterion="clarity", rater="R01")
    late = own.assign(rater="R02")
    second = (late["mix"] == "M02") & (own["right_h"] < INF)
    late.loc[second, "left_h"] = own.loc[second, "right_h"]
    late.loc[second, "right_h"] = own.loc[second, "right_h"] * 1.5
    columns = ["criterion", "rater", "mix", "block", "vessel", "left_h", "right_h"]
    return pd.concat([own, late], ignore_index=True)[columns]


def _rater_claims(claims):
    rows = [
        (row.claim, row.text, rater, row.verdict, alone, alone != row.verdict)
        for rater in ("R01", "R02")
        for row in claims.itertuples()
        for alone in [
            "contradicted" if (rater, row.claim) == ("R02", "a") else row.verdict,
        ]
    ]
    columns = ["claim", "text", "rater", "verdict", "alone", "changed"]
    return pd.DataFrame(rows, columns=columns)


def _drift():
    columns = [
        *("criterion", "rater", "term", "estimate", "conf_low", "conf_high", "conf_level", "n"),
        *("unit", "method"),
    ]
    others, water = "against the other raters", "on purified water"
    rows = [
        ("clarity", "R01", others, -0.4, -0.7, -0.1, 0.95, 24, "lines", "t"),
        ("clarity", "R02", others, 0.4, 0.1, 0.7, 0.95, 24, "lines", "t"),
        ("clarity", "R01", water, 0.0, -0.6, 0.6, 0.95, 4, "lines", "t"),
    ]
    return pd.DataFrame(rows, columns=columns)


def _balance(mixes):
    columns = [
        *("term", "mix", "n", "estimate", "low", "high", "difference", "unit", "p_value"),
        *("p_smallest", "verdict", "method"),
    ]
    rows = []
    for i, mix in enumerate(mixes):
        last = i == len(mixes) - 1
        warm = 24.0 if last else 21.5
        out = "out of balance: mix means within 2.5 C, more than 1; see the adjusted comparison"
        rows.append(("temperature", mix, 4, warm, warm - 0.1, warm + 0.1, 2 * last, "C", 0.01, out))
        even = "no imbalance shown: mix means within 0.1 PSU"
        rows.append(("mixed salinity", mix, 4, 33.0, 32.9, 33.1, 0.0, "PSU", 0.7, even))
        blocks = 3.0 if i == 1 else 4.0
        missing = "missing (lost or never set up): M02 from block B04"
        rows.append(("block", mix, 4, blocks, blocks, blocks, 0.0, "blocks", 1.0, missing))
    full = [
        (*row[:-1], 0.0001, row[-1], "count" if row[0] == "block" else "permutation")
        for row in rows
    ]
    frame = pd.DataFrame(full, columns=columns)
    return frame.sort_values("term", key=lambda t: t.map(list(frame["term"][:3]).index))
