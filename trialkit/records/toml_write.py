"""Settings as the text of a TOML file: the standard library reads TOML only."""

from datetime import datetime


def toml_text(settings):
    """A nested dict as TOML 1.0: plain values first, then one table after another.

    The standard library reads TOML but does not write it; trial.toml needs only text, numbers,
    truth values, local date-times, lists of these and tables.

    Parameters
    ----------
    settings : dict
        Values are str, bool, int, float, datetime, list or dict.

    Returns
    -------
    str
        The text of the file, ending in a line feed.

    Examples
    --------
    >>> print(toml_text({"window_h": 30, "criteria": {"haze": {"unit": "NTU"}}}))
    window_h = 30
    <BLANKLINE>
    [criteria.haze]
    unit = "NTU"
    <BLANKLINE>
    """
    return "\n\n".join(_tables(settings, ())) + "\n"


def _tables(table, path):
    plain = [
        f"{_toml_key(k)} = {_toml_value(v)}" for k, v in table.items() if not isinstance(v, dict)
    ]
    head = [f"[{'.'.join(map(_toml_key, path))}]"] if path and plain else []
    parts = ["\n".join(head + plain)] if plain else []
    for key, value in table.items():
        if isinstance(value, dict):
            parts += _tables(value, (*path, key))
    return parts


def _toml_value(value):
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return _toml_string(value)
    if isinstance(value, datetime):
        return value.isoformat(timespec="seconds")
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_toml_value(v) for v in value) + "]"
    # 30 and 30.0 are one number: a seal must not depend on how it was typed.
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    return repr(value)


def _toml_string(value):
    escaped = value.replace("\\", "\\\\").replace('"', '\\"')
    # Control characters may not stand in a basic string (TOML 1.0, "String").
    return (
        '"' + "".join(c if c >= " " and c != "\x7f" else f"\\u{ord(c):04x}" for c in escaped) + '"'
    )


def _toml_key(key):
    bare = key.isascii() and key.replace("_", "").replace("-", "").isalnum()
    return key if bare else _toml_string(key)
