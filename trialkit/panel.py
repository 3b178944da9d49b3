"""A panel for notebooks: move the definition of clear and see what the trial would have said."""

from collections.abc import Callable

import ipywidgets as widgets
import numpy as np
import pandas as pd

from trialkit.analysis.clearing import FULLY_CLEAR, Gaps
from trialkit.panel_drawing import Names, panel_html
from trialkit.records.trial import Trial
from trialkit.redefine import (
    Definition,
    declared_definition,
    judge_by,
    judged_gaps,
    share_curves,
)
from trialkit.report.marks import mix_marks
from trialkit.report.printing import print_hours

__all__ = ["clearing_panel"]

RATER_RULES = ("majority", "all", "any")
STEPS = 20


def clearing_panel(trial: Trial) -> widgets.VBox:
    """Sliders for tolerance and hold and a choice of rater rule, over ranking and pictures.

    Each move judges the readings again, fits the model again and draws again; nothing is kept,
    and trial.toml stays as it is. A definition chosen after looking at what it does is no
    definition: the panel shows how far the ranking hangs on it.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned, unblinded.

    Returns
    -------
    ipywidgets.VBox
        Shown by a notebook.

    Raises
    ------
    ValueError
        If the trial is still blind.

    Examples
    --------
    >>> import trialkit as tk
    >>> panel = clearing_panel(tk.read_trial("data/demo/harbour"))
    >>> "Alder" in panel.children[-1].value
    True
    """
    if trial.blinded:
        raise ValueError("the mixes are still blind: put key.csv into the trial folder first.")
    gaps = judged_gaps(trial)
    declared = {name: declared_definition(gaps[name]) for name in gaps}
    controls = {name: _controls(gaps[name], declared[name], trial) for name in gaps}
    names = [FULLY_CLEAR, *trial.protocol.criteria]
    shown = widgets.Dropdown(
        options=names if len(names) > 2 else names[1:], description="Criterion"
    )
    back = widgets.Button(description="As declared", tooltip="Back to the values of trial.toml")
    view = widgets.HTML()
    draw = _drawer(trial, gaps, declared)

    def move(_=None) -> None:
        chosen = {name: _chosen(parts) for name, parts in controls.items()}
        view.value = draw(shown.value, chosen)

    def reset(_) -> None:
        for name, parts in controls.items():
            _set(parts, declared[name])

    for widget in (shown, *(part for parts in controls.values() for part in parts)):
        widget.observe(move, "value")
    back.on_click(reset)
    move()
    rows = [_row(trial, name, parts) for name, parts in controls.items()]
    return widgets.VBox([widgets.HBox([shown, back]), *rows, view])


def _drawer(trial: Trial, gaps: dict, declared: dict) -> Callable[[str, dict], str]:
    """A function from criterion and definitions to HTML."""
    named = trial.mixes["name"].where(trial.mixes["name"].notna(), trial.mixes["mix"])
    mixes = dict(zip(trial.mixes["mix"], named, strict=True))
    protocol = trial.protocol
    names = Names(mixes, mix_marks(list(mixes)), protocol.schedule_h, protocol.window_h)
    before: dict[str, pd.Series] = {}

    def draw(criterion: str, chosen: dict[str, Definition]) -> str:
        if criterion not in before:
            ranking = judge_by(trial, gaps, declared, criterion).ranking
            before[criterion] = ranking.set_index("mix")["rank"]
        judged = judge_by(trial, gaps, chosen, criterion)
        ranking = judged.ranking.assign(rank_declared=judged.ranking["mix"].map(before[criterion]))
        sentence = _sentence(ranking, mixes, chosen != declared)
        return panel_html(sentence, ranking, judged.intervals, share_curves(judged.fit), names)

    return draw


def _sentence(ranking: pd.DataFrame, mixes: dict[str, str], moved: bool) -> str:
    times = [
        f"{mixes[row.mix]} {print_hours(row.estimate)}{'' if np.isinf(row.estimate) else ' h'}"
        for row in ranking.itertuples()
    ]
    order = f"Typical times: {', '.join(times)}."
    if not moved:
        return f"As declared. {order}"
    changed = ranking.loc[ranking["rank"] != ranking["rank_declared"], "mix"]
    if changed.empty:
        return f"Another definition, the same order. {order}"
    return f"Another definition, another order ({', '.join(mixes[m] for m in changed)}). {order}"


def _controls(gaps: Gaps, declared: Definition, trial: Trial) -> tuple:
    """Tolerance, hold and rater rule of one criterion."""
    unit, step = gaps.criterion.unit, _step(gaps, declared)
    tolerance = widgets.FloatSlider(
        value=declared.tolerance,
        min=0,
        max=max(STEPS * step, 3 * declared.tolerance),
        step=step,
        readout_format=f".{max(0, -int(np.floor(np.log10(step))))}f",
        description=f"Tolerance, {unit}",
    )
    hold = widgets.IntSlider(
        value=declared.hold, min=1, max=max(5, declared.hold), description="Readings in a row"
    )
    people = dict(zip(trial.raters["rater"], trial.raters["name"], strict=True))
    rules = [(rule, rule) for rule in RATER_RULES]
    rules += [(f"{people.get(code) or code} alone", code) for code in gaps.raters if code]
    rule = widgets.Dropdown(options=rules, value=declared.rater_rule, description="Raters")
    for widget, wide in ((tolerance, "18em"), (hold, "18em"), (rule, "13em")):
        widget.style.description_width = "initial"
        widget.layout.width = wide
    return tolerance, hold, rule


def _step(gaps: Gaps, declared: Definition) -> float:
    """A round step that the declared tolerance is a multiple of; 20 of them reach far enough."""
    short = gaps.gap[np.isfinite(gaps.gap) & (gaps.gap > 0)]
    usual = float(np.quantile(short, 0.5)) if short.size else 0.0
    wanted = max(usual, 3 * declared.tolerance) / STEPS or 1.0
    whole = bool((short % 1 == 0).all()) and declared.tolerance % 1 == 0
    power = 10.0 ** np.floor(np.log10(wanted))
    round_steps = [power * factor for factor in (10, 5, 2, 1, 0.5, 0.2, 0.1)]
    if whole:
        round_steps = [max(1.0, step) for step in round_steps]
    fitting = (s for s in round_steps if _is_multiple(declared.tolerance, s) and s < 4 * wanted)
    return float(next(fitting, round_steps[-1]))


def _is_multiple(value: float, step: float) -> bool:
    return abs(value / step - round(value / step)) < 1e-6


def _chosen(parts: tuple) -> Definition:
    tolerance, hold, rule = parts
    return Definition(round(tolerance.value, 9), hold.value, rule.value)


def _set(parts: tuple, definition: Definition) -> None:
    for widget, value in zip(parts, vars(definition).values(), strict=True):
        widget.value = value


def _row(trial: Trial, name: str, parts: tuple) -> widgets.HBox:
    label = trial.protocol.criteria[name].label
    title = widgets.Label(value=f"{name}: {label}", layout=widgets.Layout(width="11em"))
    return widgets.HBox([title, *parts], layout=widgets.Layout(flex_flow="row wrap"))
