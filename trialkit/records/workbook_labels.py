"""The labels by which an entry workbook is read back; what stands where may change."""

SHEET_LABELS = ("quantity", "unit", "rater", "instrument")
ROW_LABELS = ("planned", "read at", "position")
NOTE_LABEL = "note"
STORAGE_PREFIX = "day "
