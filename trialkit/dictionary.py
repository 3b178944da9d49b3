"""The meaning of every column that a trial's files can have: type, unit, words, categories."""

__all__ = ["COLUMNS", "FIXED_CATEGORIES", "describe_column"]

# Column: type, unit, meaning. Times count from the vessel's own start.
COLUMNS = {
    "block": ("string", "", "Group of vessels that were started together."),
    "column": ("string", "", "Column of the cell that was remarked on."),
    "criterion": ("string", "", "What counts as clear, as declared in trial.toml."),
    "dose_g": ("number", "g", "Salt added until the target salinity was measured."),
    "elapsed_h": ("number", "h", "Time of the reading since the vessel's start."),
    "elapsed_min": ("number", "min", "Time of the reading since the vessel's start."),
    "file": ("string", "", "File that was remarked on."),
    "fix": ("string", "", "What can be done about it."),
    "instrument": ("string", "", "Code of the instrument, as declared in trial.toml."),
    "label_dose_g_per_l": ("number", "g/L", "Dose that the label asks for."),
    "left_h": ("number", "h", "Last time at which the vessel was not clear."),
    "level": ("string", "", "How much the remark weighs."),
    "limit": ("string", "", "Sign that stood before the value, when it was a limit."),
    "lost_h": ("number", "h", "When the vessel dropped out."),
    "lot": ("string", "", "Lot of the mix, as its maker prints it."),
    "message": ("string", "", "What was remarked."),
    "mix": ("string", "", "Code of the mix."),
    "name": ("string", "", "Name of what the code stands for."),
    "note": ("string", "", "What the reader remarked."),
    "phase": ("string", "", "Whether the vessel was being mixed or stood in storage."),
    "place": ("string", "", "Place of the vessel in its block."),
    "position": ("string", "", "Height at which the sample was taken."),
    "price_per_kg": ("number", "1/kg", "Price per kilogram, in the currency of the trial."),
    "quantity": ("string", "", "What was read."),
    "rater": ("string", "", "Code of the person who read."),
    "repeat": ("integer", "", "Number of the reading among repeats."),
    "right_h": ("number", "h", "First time at which the vessel was clear."),
    "role": ("string", "", "Salt water on trial, or purified water to compare it with."),
    "row": ("integer", "", "Row of the file, counted as a spreadsheet shows it."),
    "session": ("integer", "", "Index of the planned reading, from 0."),
    "start": ("datetime", "", "Start of the vessel, local time."),
    "time": ("datetime", "", "Moment of the reading, local time."),
    "unit": ("string", "", "Unit of the value."),
    "value": ("number", "", "What was read, in the unit of its row."),
    "vessel": ("string", "", "Code of the vessel."),
    "volume_l": ("number", "L", "Volume of water."),
}

FIXED_CATEGORIES = {
    "level": {"refuse": "the data are not used", "warn": "look at it", "note": "for the record"},
    "limit": {"<": "below the value", ">": "above the value"},
    "phase": {"mixing": "in the mixing window", "storage": "after it"},
    "position": {"top": "top", "middle": "middle", "bottom": "bottom"},
    "role": {"trial": "salt water", "reference": "purified water"},
}

# The same word means something else in the list of remarks.
_IN_PROBLEMS = {"value": ("string", "", "What stood in the cell that was remarked on.")}


def describe_column(table: str, column: str) -> tuple[str, str, str]:
    """Type, unit and meaning of a column; text without either when the kit does not know it.

    Parameters
    ----------
    table : str
        Name of the table, such as "readings".
    column : str
        Its heading.

    Returns
    -------
    tuple of str
        Type of Table Schema, unit, meaning.

    Examples
    --------
    >>> describe_column("vessels", "volume_l")
    ('number', 'L', 'Volume of water.')
    """
    special = _IN_PROBLEMS if table == "problems" else {}
    name = column.casefold()
    return special.get(name) or COLUMNS.get(name, ("string", "", ""))
