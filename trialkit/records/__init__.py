"""From a trial folder to a sound trial; no statistics."""
