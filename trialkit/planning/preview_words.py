"""Sentence and tables of a plan that is looked at."""

from .blocks import PlanTable
from .closed_forms import vessels_distribution_free
from .incomplete import efficiency_factor
from .schedule import schedule_table


def answer_words(preview):
    """The plan's worth in one paragraph."""
    n, ratio = preview.answers["vessels_per_mix"], preview.question.ratio
    row = preview.power.set_index("vessels_per_mix").loc[max(2, n)]
    n_looks = len(preview.question.schedule_h)
    if len(preview.answers["mixes"]) == 1 or n == 1:
        return (
            f"**{_count(n, 'vessel')} of each mix, {n_looks} looks.** "
            "Times can be given with their bounds; two mixes can't be compared."
        )
    blocks = efficiency_factor(preview.planned.vessels.merge(preview.planned.key, on="vessel"))
    return (
        f"**{_count(n, 'vessel')} of each mix, {n_looks} looks: of 100 such trials, "
        f"{100 * row['power']:.0f} would tell apart two mixes whose times differ by a factor of "
        f"{ratio:g}**, and {100 * row['power_all_pairs']:.0f} would do so while looking at all "
        f"pairs at once. The upper bound of an assured time lies at about "
        f"{_times(row['assured_factor'])} the true one. "
        f"{_worth_of_blocks(blocks)}"
    )


def _worth_of_blocks(factor):
    if factor > 0.999:
        return "Every block holds every mix."
    return (
        f"Blocks hold only some of the mixes: comparing two mixes is worth {100 * factor:.0f}% of "
        "what as many vessels in complete blocks are, which the chances above leave out."
    )


def _count(n, noun):
    return f"{n} {noun}" if n == 1 else f"{n} {noun}s"


def _times(factor):
    return "no finite multiple of" if factor == float("inf") else f"{factor:.2f} times"


def _percent(share):
    if 0 < share < 0.001:
        return "<0.1"
    return f"{100 * share:.1f}" if 0 < share < 0.1 else f"{100 * share:.0f}"


def power_table(preview):
    """Chances and effort by size of the trial."""
    rows = tuple(
        (
            str(row.vessels_per_mix),
            str(row.n_vessels),
            str(row.n_readings),
            f"{row.reading_h:.1f}",
            _percent(row.power),
            _percent(row.power_all_pairs),
            "none" if row.assured_factor == float("inf") else f"{row.assured_factor:.2f}",
            _percent(row.some_mix_censored),
            _percent(row.no_scale),
            f"{row.smallest_p:.3f}",
        )
        for row in preview.power.itertuples(index=False)
    )
    error = 50 / preview.power["n_trials"].min() ** 0.5
    wilks = vessels_distribution_free(0.9, 0.95)
    return PlanTable(
        "power",
        "What trials of each size would show",
        f"Simulated; chances are right to within {2 * error:.1f} points. A bound of the assured "
        f"time needs a family of distributions below {wilks} vessels of a mix. The permutation "
        "test within blocks can't give a smaller p than the last column.",
        (
            "vessels of each mix",
            "vessels",
            "looks",
            "hours of looking",
            f"told apart at {preview.question.ratio:g} times, %",
            "the same among all pairs, %",
            "assured bound / true 90% time",
            "some mix never seen clear, %",
            "too sparse for a spread, %",
            "smallest permutation p",
        ),
        rows,
    )


def information_table(preview):
    """What the schedule keeps, by mix."""
    table = schedule_table(
        preview.question.schedule_h,
        preview.question.times_h,
        preview.question.spread,
        hold=preview.question.hold,
    )
    rows = tuple(
        (
            mix["name"],
            f"{row.time_h:g}",
            _percent(row.share_of_exact),
            _percent(row.share_of_dense),
            _percent(row.left_of_first),
            _percent(row.never_in_window),
        )
        for mix, row in zip(preview.answers["mixes"], table.itertuples(index=False), strict=True)
    )
    looks = ", ".join(f"{t:.3g}" for t in preview.question.schedule_h)
    return PlanTable(
        "schedule",
        "What the reading times keep of the information",
        f"Looks after {looks} h. 100% of exact: as good as watching without a break. 100% of "
        "dense: as good as looking at every round time.",
        (
            "mix",
            "expected, h",
            "of exact times, %",
            "of dense looks, %",
            "clear before the first look, %",
            "not seen clear, %",
        ),
        rows,
    )
