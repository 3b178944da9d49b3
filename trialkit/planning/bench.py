"""A picture of the bench: which code stands where."""

from .picture import Picture, svg_document, svg_text

_BOX, _GAP, _LEFT, _TOP = 64, 10, 84, 34


def draw_bench(vessels):
    """The bench from above, a row a block, with blind codes only.

    Parameters
    ----------
    vessels : pandas.DataFrame
        Columns vessel, role, block, place.

    Returns
    -------
    Picture
        Purified-water vessels are drawn round, so that nobody doses them.

    Examples
    --------
    >>> import pandas as pd
    >>> row = {"vessel": ["K74"], "role": ["trial"], "block": [1], "place": [1]}
    >>> ">K74<" in draw_bench(pd.DataFrame(row)).svg
    True
    """
    blocks = sorted(vessels["block"].unique())
    longest = int(vessels["place"].max())
    width = _LEFT + longest * (_BOX + _GAP) + _GAP
    height = _TOP + len(blocks) * (_BOX + _GAP) + _GAP
    parts = [
        svg_text(_x(place) + _BOX / 2, 22, f"place {place}", size=11)
        for place in range(1, longest + 1)
    ]
    parts += [
        svg_text(_LEFT - 14, _y(row) + _BOX / 2 + 4, f"block {block}", anchor="end")
        for row, block in enumerate(blocks)
    ]
    for vessel in vessels.itertuples(index=False):
        parts += _box(vessel, blocks.index(vessel.block))
    n_reference = int((vessels["role"] == "reference").sum())
    alt = (
        f"{len(vessels)} vessels in {len(blocks)} blocks of up to {longest} places; "
        f"{n_reference} hold purified water."
    )
    caption = "The bench from above. Square: salt water. Round: purified water, no salt."
    return Picture("bench", caption, alt, svg_document(width, height, alt, parts))


def _x(place):
    return _LEFT + (place - 1) * (_BOX + _GAP)


def _y(row):
    return _TOP + row * (_BOX + _GAP)


def _box(vessel, row):
    x, y = _x(vessel.place), _y(row)
    reference = vessel.role == "reference"
    shape = (
        f'<rect x="{x:g}" y="{y:g}" width="{_BOX}" height="{_BOX}" '
        f'rx="{_BOX / 2 if reference else 5:g}" fill="none" stroke="#1a1a1a" '
        f'stroke-width="{2.5 if reference else 1.2:g}"/>'
    )
    words = [svg_text(x + _BOX / 2, y + _BOX / 2 + 5, vessel.vessel, size=16)]
    if reference:
        words.append(svg_text(x + _BOX / 2, y + _BOX - 12, "pure", size=10))
    return [shape, *words]
