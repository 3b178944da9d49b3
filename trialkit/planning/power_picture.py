"""A picture of what more vessels buy."""

from dataclasses import dataclass

from .picture import Picture, svg_document, svg_text

_WIDTH, _HEIGHT = 300, 220
_LEFT, _TOP, _GAP = 56, 40, 92
_BLUE, _VERMILION, _GREEN = "#0072B2", "#D55E00", "#009E73"  # Okabe & Ito (2008)


def draw_power(table, *, ratio):
    """Chance to tell two mixes apart, and looseness of the assured time, by vessels of a mix.

    Parameters
    ----------
    table : pandas.DataFrame
        From `simulate_power`, two sizes at least.
    ratio : float
        The factor that was simulated.

    Returns
    -------
    Picture
        Two panels. A bound that can't be given is left out of the right one.
    """
    x = list(table["vessels_per_mix"])
    chance = _Panel(_LEFT, x, (0, 100), [0, 20, 40, 60, 80, 100], "chance, %")
    finite = [f for f in table["assured_factor"] if f < float("inf")]
    top = max([2.0, *finite])
    ticks = [1 + (top - 1) * i / 4 for i in range(5)]
    factor = _Panel(_LEFT + _WIDTH + _GAP, x, (1, top), ticks, "times the true 90% time")
    parts = [
        *chance.frame(f"Told apart: times that differ by a factor of {ratio:g}"),
        *chance.line(100 * table["power"], _BLUE, "these two alone", "circle"),
        *chance.line(100 * table["power_all_pairs"], _VERMILION, "among all pairs", "square"),
        *factor.frame("Assured time: its upper bound"),
        *factor.line(table["assured_factor"], _GREEN, "", "circle"),
    ]
    alt = _words(table, ratio)
    width = _LEFT + 2 * _WIDTH + _GAP + 24
    return Picture(
        "power-figure",
        "What more vessels of each mix buy, in simulated trials read on this schedule.",
        alt,
        svg_document(width, _TOP + _HEIGHT + 52, alt, parts),
    )


def _words(table, ratio):
    told = ", ".join(
        f"{row.vessels_per_mix}: {100 * row.power:.0f}%" for row in table.itertuples(index=False)
    )
    return f"Chance to tell apart times that differ by a factor of {ratio:g}, by vessels: {told}."


@dataclass(frozen=True)
class _Panel:
    left: float
    x: list
    limits: tuple[float, float]
    ticks: list
    label: str

    def at(self, x, y):
        span = max(1, self.x[-1] - self.x[0])
        low, high = self.limits
        return (
            self.left + 14 + (x - self.x[0]) / span * (_WIDTH - 28),
            _TOP + _HEIGHT * (1 - (y - low) / (high - low)),
        )

    def frame(self, title):
        bottom, right = _TOP + _HEIGHT, self.left + _WIDTH
        parts = [
            svg_text(self.left, _TOP - 20, title, size=13, anchor="start"),
            svg_text(self.left, _TOP - 6, self.label, size=11, anchor="start"),
            svg_text((self.left + right) / 2, bottom + 36, "vessels of each mix", size=12),
        ]
        for tick in self.ticks:
            y = self.at(self.x[0], tick)[1]
            parts.append(
                f'<line x1="{self.left:g}" x2="{right:g}" y1="{y:.1f}" y2="{y:.1f}" '
                'stroke="#cccccc" stroke-width="0.8"/>'
            )
            parts.append(svg_text(self.left - 6, round(y + 4, 1), f"{tick:.3g}", anchor="end"))
        parts += [svg_text(round(self.at(x, 0)[0], 1), bottom + 18, x) for x in self.x]
        return parts

    def line(self, values, colour, name, marker):
        points = [self.at(x, y) for x, y in zip(self.x, values, strict=True) if y < float("inf")]
        path = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
        drawn = [f'<polyline points="{path}" fill="none" stroke="{colour}" stroke-width="2"/>']
        drawn += [_mark(x, y, colour, marker) for x, y in points]
        if name and points:
            x, y = points[min(1, len(points) - 1)]
            drawn.append(svg_text(round(x + 8, 1), round(y + 18, 1), name, anchor="start"))
        return drawn


def _mark(x, y, colour, marker):
    if marker == "square":
        return f'<rect x="{x - 4:.1f}" y="{y - 4:.1f}" width="8" height="8" fill="{colour}"/>'
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4.5" fill="{colour}"/>'
