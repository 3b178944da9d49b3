"""A full set of answers for a plan, asked of a person or read from a file."""

from math import inf
from zoneinfo import ZoneInfo

from trialkit.records.problems import Fault
from trialkit.records.times import localise

from .earlier import earlier_spread
from .questions import MIX_QUESTIONS, QUESTIONS, check_answer, parse_answer


def ask(prompt, tell=print):
    """All answers from a person, each question repeated until its answer is allowed.

    Parameters
    ----------
    prompt : callable
        Called with a question's text, gives the line that was typed.
    tell : callable
        Called with a message about an answer that is not allowed.

    Returns
    -------
    dict
        Answers as answers.toml would hold them, for `plan_trial`.
    """
    answers = {question.name: _ask_one(question, prompt, tell) for question in QUESTIONS}
    tell("Now the mixes, at least one. An empty name ends the list.")
    mixes = []
    while len(mixes) < 99:
        name = prompt(f"Name of mix {len(mixes) + 1} (empty: no more)").strip()
        if not name and mixes:
            break
        if name:
            rest = {q.name: _ask_one(q, prompt, tell, of=name) for q in MIX_QUESTIONS[1:]}
            mixes.append({"name": name, **rest})
    return {**answers, "mixes": mixes}


def _ask_one(question, prompt, tell, of=""):
    words = f"{of}: {question.words}" if of else question.words
    hint = question.allowed if question.kind != "text" else ""
    if question.default is not None:
        hint = f"{hint}; empty: {_shown(question.default)}".lstrip("; ")
    while True:
        try:
            return parse_answer(question, prompt(f"{words} [{hint}]" if hint else words))
        except ValueError as error:
            tell(str(error))


def _shown(value):
    if isinstance(value, bool):
        return "yes" if value else "no"
    if value in ([], ""):
        return "none"
    return f"{value:g}" if isinstance(value, float) else str(value)


def check_answers(answers):
    """Answers complete and allowed, defaults filled in.

    Parameters
    ----------
    answers : dict
        As answers.toml holds them, with a list of tables ``mixes``.

    Returns
    -------
    dict
        All questions answered; ``claims`` and ``control`` passed on.

    Raises
    ------
    ValueError
        One line for each bad answer, with what is allowed.
    """
    bad = []
    known = {question.name for question in QUESTIONS} | {"mixes", "claims", "control"}
    bad += [f"{name} is not a question; known: {', '.join(sorted(known))}." for name in answers
            if name not in known]  # fmt: skip
    checked = _checked(QUESTIONS, answers, bad, "")
    mixes = answers.get("mixes", [])
    if not isinstance(mixes, list) or not 1 <= len(mixes) <= 60:
        bad.append("mixes must be 1 to 60 tables [[mixes]], one for each mix.")
        mixes = []
    checked["mixes"] = [_checked_mix(i, mix, bad) for i, mix in enumerate(mixes, start=1)]
    bad += _across(checked)
    if checked.get("earlier"):
        _take_spread(checked, bad)
    if bad:
        raise ValueError("\n".join(bad))
    return {**checked, "claims": answers.get("claims", {}), "control": answers.get("control", "")}


def _checked_mix(number, mix, bad):
    where = f"mix {number}: "
    if not isinstance(mix, dict):
        bad.append(f"{where}must be a table [[mixes]].")
        return {}
    known = {question.name for question in MIX_QUESTIONS}
    bad += [f"{where}{name} is not a question; known: {', '.join(sorted(known))}."
            for name in mix if name not in known]  # fmt: skip
    return _checked(MIX_QUESTIONS, mix, bad, where)


def _checked(questions, answers, bad, where):
    checked = {}
    for question in questions:
        if question.name not in answers and question.default is not None:
            checked[question.name] = question.default
            continue
        try:
            if question.name not in answers:
                raise ValueError(f"{question.name} is missing; it must be {question.allowed}.")
            checked[question.name] = check_answer(question, answers[question.name])
        except ValueError as error:
            bad.append(f"{where}{error}")
    return checked


def _across(checked):
    """What single answers can't show: two that don't go together."""
    names = [mix.get("name") for mix in checked["mixes"]]
    if len(set(names)) != len(names):
        yield f"mixes must have different names; got {', '.join(map(str, names))}."
    if checked.get("places", 0) > len(names):
        yield f"places must be a whole number from 0 to {len(names)}, the number of mixes."
    if checked.get("places", 0) == 1:
        yield "places must be 0 or at least 2: a block of one mix compares nothing."
    yield from _odd_hour(checked)
    schedule, window = checked.get("schedule_h"), checked.get("window_h", inf)
    if schedule and schedule[-1] > window:
        yield f"schedule_h must end by window_h = {window:g} h; got {schedule[-1]:g}."
    if schedule and len(schedule) <= checked.get("hold", 2):
        yield f"schedule_h must hold more than hold = {checked['hold']} times; got {len(schedule)}."
    if checked.get("n_readings", 99) <= checked.get("hold", 2):
        yield f"n_readings must be above hold = {checked['hold']}; got {checked['n_readings']}."
    days = checked.get("storage_days")
    if days and 24 * days[0] <= window + 24:
        yield f"storage_days must begin a day after window_h = {window:g} h; got {days[0]:g}."


def _take_spread(checked, bad):
    try:
        checked["spread"] = earlier_spread(checked["earlier"])
    except ValueError as error:
        bad.append(str(error))


def _odd_hour(checked):
    if "start" in checked and "timezone" in checked:
        moment = localise(checked["start"], ZoneInfo(checked["timezone"]))
        if isinstance(moment, Fault):
            yield f"start must be another hour: {moment.message}; got {checked['start']}."
