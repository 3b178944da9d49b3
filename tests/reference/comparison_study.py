"""Family-wise error and power of the comparisons between mixes, by simulation.

Run: python tests/reference/comparison_study.py [trials] > tests/reference/comparison_study.csv

Every row is one layout. The family is all pairs of mixes, Holm at 0.05. Columns:
`family_error` share of trials with any false claim among pairs of equal mixes; `pair_error` share
of such pairs with an unadjusted p at or under 0.05; `power` share of truly different pairs claimed
after Holm (nan when there are none); `cover` share of pairs whose 95% interval holds the true
ratio (pooled and pair only; on the first trials). Methods: "pooled" likelihood ratio with one
scale for all mixes; "pair" the same with the two mixes' own scale;
"both" the larger p-value of these two; "permutation" Sun's scores
within blocks of one vessel a mix; "shuffled" the same without blocks; "asymptotic" the
large-sample curve of the latter; "blocks held" pooled with blocks as covariates, for layouts in
which blocks differ.

The table beside this script is of 2,000 trials (400 for the permutations and the cover). In one of
the 400 trials of "three mixes never clear", 6 vessels, no limit was found for three pairs; that
trial is left out of the cover there.
"""

import sys
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from trialkit.stats._batch import fit_aft_batch
from trialkit.stats._limits import contrast_p_value, pair_limits
from trialkit.stats.permutation import permutation_test
from trialkit.stats.scores import interval_scores

DENSE = (0.25, 0.5, 1, 1.5, 2, 3, 4, 6, 8, 10, 12, 16, 20, 24, 30)
SPARSE = (1, 2, 4, 8, 16, 30)
ALPHA = 0.05


@dataclass(frozen=True)
class Layout:
    """Mixes by blocks: median hours and log-scale spread of each mix, reading times."""

    name: str
    median_h: tuple
    spread: tuple
    vessels: int = 4
    schedule_h: tuple = DENSE
    shape: str = "lognormal"
    block_spread: float = 0.0

    @property
    def codes(self):
        return np.repeat(np.arange(len(self.median_h)), self.vessels)

    @property
    def pairs(self):
        return list(combinations(range(len(self.median_h)), 2))

    @property
    def equal_pairs(self):
        return np.array([self.median_h[a] == self.median_h[b] for a, b in self.pairs])


NULL, NEVER = (4.0,), (400.0,)
LAYOUTS = [
    Layout("equal spread", NULL * 6, (0.3,) * 6),
    Layout("unequal spread 1:4", NULL * 6, (0.15, 0.15, 0.15, 0.6, 0.6, 0.6)),
    Layout("one noisy mix 1:4", NULL * 6, (0.15,) * 5 + (0.6,)),
    Layout("one quiet mix 4:1", NULL * 6, (0.6,) * 5 + (0.15,)),
    Layout("partly censored, median 24 of 30 h", (24.0,) * 6, (0.4,) * 6),
    Layout("three mixes never clear", NULL * 3 + NEVER * 3, (0.3,) * 6),
    Layout("ties: sparse readings, tight mixes", NULL * 6, (0.15,) * 6, schedule_h=SPARSE),
    Layout("ties: sparse readings, 1:4", NULL * 6, (0.15, 0.6) * 3, schedule_h=SPARSE),
    Layout("two mixes", NULL * 2, (0.3,) * 2),
    Layout("two mixes 1:4", NULL * 2, (0.15, 0.6)),
    Layout("blocks differ", NULL * 6, (0.2,) * 6, block_spread=0.4),
    Layout("weibull times, fitted lognormal", NULL * 6, (0.3,) * 6, shape="weibull"),
    Layout("steps of 1.5", tuple(2 * 1.5**k for k in range(6)), (0.3,) * 6),
    Layout("steps of 1.5, spread 1:4", tuple(2 * 1.5**k for k in range(6)), (0.15, 0.6) * 3),
    Layout("one mix twice as slow", NULL * 5 + (8.0,), (0.3,) * 6),
    Layout("one mix twice as slow, blocks differ", NULL * 5 + (8.0,), (0.2,) * 6, block_spread=0.4),
]


def draw(layout: Layout, trials: int, seed: int):
    """Ends of the intervals, shape (trial, vessel)."""
    rng = np.random.default_rng(seed)
    noise = rng.normal(size=(trials, len(layout.codes)))
    if layout.shape == "weibull":
        noise = np.log(rng.exponential(size=noise.shape)) - np.log(np.log(2))
    log_h = np.log(layout.median_h)[layout.codes] + np.array(layout.spread)[layout.codes] * noise
    blocks = rng.normal(size=(trials, layout.vessels)) * layout.block_spread
    log_h = log_h + np.tile(blocks, len(layout.median_h))
    looks = np.array([0, *layout.schedule_h, np.inf])
    at = np.searchsorted(looks, np.exp(log_h))
    return looks[at - 1], looks[at]


def holm(p):
    """Adjusted p-values along the last axis."""
    order = np.argsort(p, axis=1)
    factor = np.arange(p.shape[1], 0, -1)
    stepped = np.maximum.accumulate(np.take_along_axis(p, order, 1) * factor, axis=1)
    out = np.empty_like(p)
    np.put_along_axis(out, order, np.minimum(stepped, 1.0), axis=1)
    return out


def pooled(layout: Layout, left, right):
    """Calibrated p-values, one scale for all mixes."""
    fit = fit_aft_batch(left, right, layout.codes)
    return np.stack([contrast_p_value(fit, a, b) for a, b in layout.pairs], axis=1)


def blocks_held(layout: Layout, left, right):
    """Calibrated p-values, one scale for all mixes and an effect of each block."""
    block = np.tile(np.arange(layout.vessels), len(layout.median_h))
    columns = (block[:, None] == np.arange(1, layout.vessels)).astype(float)
    fit = fit_aft_batch(left, right, layout.codes, covariates=columns)
    return np.stack([contrast_p_value(fit, a, b) for a, b in layout.pairs], axis=1)


def _pair_fits(layout: Layout, left, right):
    for a, b in layout.pairs:
        own = np.isin(layout.codes, (a, b))
        yield fit_aft_batch(left[:, own], right[:, own], (layout.codes[own] == b).astype(int))


def pair(layout: Layout, left, right):
    """Calibrated p-values, the scale of the two mixes alone."""
    return np.stack([contrast_p_value(f, 0, 1) for f in _pair_fits(layout, left, right)], axis=1)


def permuted(layout: Layout, left, right):
    """Permutation p-values within blocks, without blocks, and the large-sample ones."""
    block = np.tile(np.arange(layout.vessels), len(layout.median_h))
    found = np.ones((3, len(left), len(layout.pairs)))
    for j, (a, b) in enumerate(layout.pairs):
        own = np.isin(layout.codes, (a, b))
        for i in range(len(left)):
            scores = interval_scores(left[i, own], right[i, own])
            blocked = permutation_test(scores, layout.codes[own], block=block[own])
            free = permutation_test(scores, layout.codes[own])
            found[:, i, j] = blocked.p_value, free.p_value, free.p_asymptotic
    return found


def covered(layout: Layout, left, right):
    """Share of pairs whose 95% interval holds the true ratio: pooled, pair only."""
    fit = fit_aft_batch(left, right, layout.codes)
    own = np.moveaxis(pair_limits(fit, layout.pairs, 0.95), 1, 0)
    alone = [pair_limits(f, [(0, 1)], 0.95)[:, 0] for f in _pair_fits(layout, left, right)]
    truth = [np.log(layout.median_h[a] / layout.median_h[b]) for a, b in layout.pairs]
    return [
        np.mean([(c[:, 0] <= t) & (t <= c[:, 1]) for c, t in zip(found, truth, strict=True)])
        for found in (own, alone)
    ]


def summary(layout: Layout, p):
    """Family error, pair error, power."""
    equal = layout.equal_pairs
    claimed = holm(p) <= ALPHA
    error = claimed[:, equal].any(1).mean() if equal.any() else np.nan
    single = (p[:, equal] <= ALPHA).mean() if equal.any() else np.nan
    return error, single, claimed[:, ~equal].mean() if (~equal).any() else np.nan


def study(trials: int):
    """Rows of the table."""
    for layout in (replace(base, vessels=n) for base in LAYOUTS for n in (3, 4, 6)):
        left, right = draw(layout, trials, seed=20310402)
        few = slice(0, max(trials // 5, 1))
        blocked, free, large = permuted(layout, left[few], right[few])
        cover = covered(layout, left[few], right[few])
        one, own = pooled(layout, left, right), pair(layout, left, right)
        methods = {
            "pooled": (one, cover[0]),
            "pair": (own, cover[1]),
            "both": (np.maximum(one, own), np.nan),
            "permutation": (blocked, np.nan),
            "shuffled": (free, np.nan),
            "asymptotic": (large, np.nan),
        }
        if layout.block_spread:
            methods["blocks held"] = (blocks_held(layout, left, right), np.nan)
        for name, (p, inside) in methods.items():
            yield (layout.name, layout.vessels, name, len(p), *summary(layout, p), inside)


if __name__ == "__main__":
    print("layout,vessels,method,trials,family_error,pair_error,power,cover")
    for name, *row in study(int(sys.argv[1]) if len(sys.argv) > 1 else 2_000):
        numbers = [f"{x:.3f}" if isinstance(x, float) else str(x) for x in row]
        print(f'"{name}",{",".join(numbers)}', flush=True)
