"""The search for the parameters of a clustered fit with the highest restricted likelihood."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from scipy import optimize

from ._mixed_information import Working
from ._mixed_layout import FAR, Layout
from ._mixed_quadrature import Nodes, Spread, adapt, evaluate

# Quadrature points, clusters and cells: 5 agree with 60 to 1e-5 unless readings are far apart
# compared with the spread, and then a search through few data needs more.
POINTS, POINTS_FEW = (9, 7), (71, 9)
_FEW = 100  # intervals
_SETTLED = 1e-8  # log-likelihood still to be gained, by the slopes at newly placed points
_NEAR = 1e-3  # the same after the last round: 0.04 standard errors, where points keep moving
_PIECE = 2000  # intervals evaluated together; more would not stay in the processor's cache
_ROUNDS = 36
_PACE = 4.0  # longest step, in steps of the search
_FLOOR = 0.25  # smallest sigma as a share of the usual width; a uniform width w has sd w / 3.5


@dataclass(eq=False)
class Search:
    """The data of a search with the quadrature points of the moment.

    Parameters
    ----------
    layout : Layout
        Intervals.
    n_group : int
        How many locations.
    free : tuple of int
        Which spreads are estimated: 0 within cells, 1 between cells, 2 between clusters.
    restricted : bool
        Restricted likelihood, or plain.
    floor : float
        Smallest sigma. Where readings are too sparse to see the spread within a cell, the
        likelihood is flat below about the width of an interval.
    """

    layout: Layout
    n_group: int
    free: tuple[int, ...]
    restricted: bool = True
    floor: float = 0.0
    pieces: list = field(default_factory=list)
    working: Working | None = None

    @property
    def points(self) -> tuple[int, int]:
        most = POINTS_FEW if len(self.layout.low) <= _FEW else POINTS
        return most[0] if 2 in self.free else 1, most[1] if 1 in self.free else 1

    def spread(self, theta: np.ndarray) -> Spread:
        """The spreads of a parameter vector; a sign says nothing."""
        sizes = np.zeros(3)
        sizes[list(self.free)] = theta[self.n_group :]
        return Spread(float(np.hypot(self.floor, sizes[0])), abs(sizes[1]), abs(sizes[2]))

    def adapt(self, theta: np.ndarray) -> None:
        """Move the quadrature points to where these parameters put the effects."""
        location, spread = theta[: self.n_group], self.spread(theta)
        self.pieces, known = [], []
        for *_, piece in self.layout.pieces(_PIECE):
            nodes = adapt(piece, location, spread, self.points)
            self.pieces.append((piece, nodes))
            known.append(evaluate(piece, location, spread, nodes)[2])
        self.working = Working.of(self.layout, np.concatenate(known), spread.sigma)

    def loglik(self, theta: np.ndarray) -> tuple[float, np.ndarray]:
        """Log-likelihood and its gradient at the present points."""
        spread = self.spread(theta)
        total, gradient = 0.0, np.zeros(self.n_group + 3)
        for piece, nodes in self.pieces:
            value, slope, *_ = evaluate(piece, theta[: self.n_group], spread, nodes)
            total, gradient = total + value, gradient + slope
        signs = np.ones(3)
        signs[list(self.free)] = np.where(theta[self.n_group :] < 0, -1.0, 1.0)
        by_spread = gradient[self.n_group :] * signs
        # sigma^2 = floor^2 + s^2, and the gradient came by log sigma.
        by_spread[0] *= np.sqrt(max(spread.sigma**2 - self.floor**2, 0.0)) / spread.sigma**2
        return total, np.concatenate([gradient[: self.n_group], by_spread[list(self.free)]])

    def loss(self, theta: np.ndarray) -> tuple[float, np.ndarray]:
        """Minus the (restricted) log-likelihood, with its gradient."""
        value, gradient = self.loglik(theta)
        if self.restricted:
            value += self.penalty(theta)
            for place in range(self.n_group, len(theta)):
                step = np.zeros(len(theta))
                step[place] = 1e-5
                rise = self.penalty(theta + step) - self.penalty(theta - step)
                gradient[place] += rise / 2e-5
        return -value, -gradient

    def penalty(self, theta: np.ndarray) -> float:
        return self.working.penalty(variances(self.spread(theta)), self.n_group)

    def curvature(self, theta: np.ndarray) -> np.ndarray:
        """A first guess of the inverse Hessian, from the working information."""
        sizes = variances(self.spread(theta))
        guess = np.zeros((len(theta), len(theta)))
        cov = np.linalg.pinv(self.working.information(sizes, self.n_group), hermitian=True)
        # Symmetric to the last bit and never singular, which BFGS asks of its start.
        guess[: self.n_group, : self.n_group] = (cov + cov.T) / 2 + 1e-9 * np.eye(self.n_group)
        cov = self.working.spread_covariance(sizes, self.n_group, list(self.free))
        own = np.maximum(np.diag(cov), 1e-12)
        guess[np.arange(self.n_group, len(theta)), np.arange(self.n_group, len(theta))] = own / (
            4 * theta[self.n_group :] ** 2 + np.sqrt(own)
        )
        return guess


def variances(spread: Spread) -> np.ndarray:
    """The three variances of a spread."""
    return np.array([spread.sigma, spread.omega, spread.tau]) ** 2


def search(layout: Layout, n_group: int, free: tuple[int, ...], *, restricted: bool = True):
    """The search at its end, with the parameters found.

    Raises
    ------
    RuntimeError
        If it does not settle.
    """
    found = Search(layout, n_group, free, restricted, _floor(layout))
    theta = _start(layout, n_group, free)
    found.adapt(theta)
    before = found.loss(theta)[0]
    last, pace = np.zeros(len(theta)), 1.0
    for turn in range(_ROUNDS):
        options = {"hess_inv0": found.curvature(theta), "maxiter": 15, "gtol": _slope(layout)}
        best = optimize.minimize(found.loss, theta, jac=True, method="BFGS", options=options).x
        # Points that move with the answer make it creep, or go round in a circle.
        if turn > 4:
            pace = min(1.3 * pace, _PACE) if (best - theta) @ last > 0 else max(0.5, pace / 2)
        last = pace * (best - theta)
        theta = theta + last
        found.adapt(theta)
        after, gradient = found.loss(theta)
        gain = gradient @ found.curvature(theta) @ gradient / 2
        if abs(before - after) < 1e-7 * (1 + abs(after)) or gain < _SETTLED:
            return found, theta
        before = after
    if gain < _NEAR:
        return found, theta
    raise RuntimeError(f"the clustered fit did not settle; slopes {np.round(gradient, 4)}.")


def _slope(layout: Layout) -> float:
    """Slope at which a round ends: it moves a log time by less than a millionth.

    The rounding of a sum grows with its terms. A smaller slope is lost in it when a fit is large,
    and the line search goes on for nothing.
    """
    return 1e-5 * max(1.0, float(layout.weight.sum()) / _FEW)


def _floor(layout: Layout) -> float:
    width = layout.high - layout.low
    bounded = (width < FAR / 2) & ~layout.exact
    if not bounded.any() or layout.exact.any():
        return 1e-4
    return max(1e-4, _FLOOR * float(np.median(width[bounded])))


def _start(layout: Layout, n_group: int, free: tuple[int, ...]) -> np.ndarray:
    """Means of interval middles, with their spread shared out evenly."""
    open_low, open_high = layout.low <= -FAR, layout.high >= FAR
    middle = np.where(open_low, layout.high - 0.5, (layout.low + layout.high) / 2)
    middle = np.where(open_high, layout.low + 0.5, middle)
    group = layout.cell_group[layout.cell]
    total = np.bincount(group, layout.weight, n_group)
    location = np.bincount(group, layout.weight * middle, n_group) / total
    rest = layout.weight @ (middle - location[group]) ** 2 / max(total.sum() - n_group, 1.0)
    size = max(0.1, np.sqrt(rest)) / np.sqrt(len(free))
    return np.concatenate([location, np.full(len(free), size)])


def loglik_at(layout: Layout, location: np.ndarray, spread: Spread, points) -> float:
    """Log-likelihood of a layout at given parameters."""
    total = 0.0
    for *_, piece in layout.pieces(_PIECE):
        nodes: Nodes = adapt(piece, location, spread, points)
        total += evaluate(piece, location, spread, nodes)[0]
    return total
