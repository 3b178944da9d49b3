"""The steps and cautions that the bench card prints."""

CAUTIONS = (
    "Local codes, the labels of salts, pumps and heaters, and licensed trades come before "
    "anything on this card. Have fixed wiring near water done by a licensed electrician.",
    "Mains and salt water: a residual-current (ground-fault) protected supply, drip loops, power "
    "strips above and away from splashes. Unplug pumps and heaters before a hand or a vessel "
    "moves. No cracked housings.",
    "Dust: pour low and slowly, wear a dust mask and eye protection.",
    "Heat: anhydrous calcium and magnesium chlorides heat the water as they dissolve. Salt into "
    "water, slowly; never water onto salt.",
    "Weight: a litre weighs 1.02 kg and the vessel comes on top. Fill in place; lift with two.",
    "Spilt brine is slippery and corrodes: mop it up at once.",
    "Cleaning acids (vinegar, citric, hydrochloric): air the room, wear gloves and eye protection, "
    "acid into water, rinse between agents. Never together with bleach: chlorine gas.",
    "Trial water is for no animal and nobody's drink. Food-safe, unreactive containers only; "
    "label each vessel; keep children and pets out.",
    "Disposal by local rules: not onto soil, nor into wells, septic tanks or streams; down a drain "
    "only diluted and where allowed.",
)


def protocol_steps(planned):
    """What to do at the bench, in order, with this trial's numbers.

    The order and the numbers of vessels are the plan's; the rest is common practice of the trade,
    without a source.

    Parameters
    ----------
    planned : PlannedTrial
        The plan.

    Returns
    -------
    list of str
        One sentence or two for each step.
    """
    settings = planned.settings
    first = settings["schedule_h"][0]
    clarity = settings["criteria"]["clarity"]
    steps = [
        f"Rinse every vessel. Fill each with {planned.vessels['volume_l'].iloc[0]:g} L of the "
        "same water; the round vessels get purified water and no salt, ever.",
        "Same pump, same depth, same place of target and lamp, same distance of the eye in every "
        "vessel. Let all reach the same temperature, to within 1 °C, before the salt.",
        "Label the vessels with their codes only. Who reads should not know which mix is where.",
        "Weigh each dose. Salt into the running water, slowly; start a block's vessels together "
        "and write down the clock time.",
        f"Bring all to the same measured salinity, practical salinity "
        f"{settings['target_salinity']:g}, not to the same grams: the water bound in salts "
        "differs. Write down the grams that it took.",
        f"Look first after {first:g} h, then as the sheets say: block by block, vessels in the "
        "printed order, each reader alone, not speaking about what was seen.",
        "Read the purified-water vessel in its turn like any other. If it is not read at the top "
        "of the scale, check lamp, glass and eyes before going on.",
        f"Clear means: within {amount(clarity)} of purified water, by most readers, "
        f"{clarity['hold']} looks in a row. You only write down what you see; the kit decides.",
        "Check meters against a standard each session. No reading? Leave the box empty and say "
        "why. Wrong time? Write the true one.",
        "Lids on between looks. Top up nothing: weigh instead, so that evaporation can be told.",
    ]
    if "storage" in settings:
        days = ", ".join(f"{day:g}" for day in settings["storage"]["days"])
        steps.append(
            f"Pumps off after {settings['window_h']:g} h, lids on; then read on days {days}, "
            "salinity at top and bottom before anything is stirred."
        )
    return steps


def amount(criterion):
    """A criterion's tolerance with its unit, as one says it.

    Examples
    --------
    >>> amount({"tolerance": 1, "unit": "lines"}), amount({"tolerance": 0.3, "unit": "NTU"})
    ('1 line', '0.3 NTU')
    """
    unit = criterion["unit"]
    return f"{criterion['tolerance']:g} {unit.rstrip('s') if criterion['tolerance'] == 1 else unit}"
