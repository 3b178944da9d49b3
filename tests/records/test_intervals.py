"""Intervals that were written down as such are held against vessels and schedule."""

import pytest

from trialkit.records.check import check_trial
from trialkit.records.read import read_trial

SOUND = """\
vessel,criterion,left_h,right_h
K01,clarity,1,2
K02,clarity,4,8
K03,clarity,1,2
K04,clarity,8,
"""


def _said(make_folder, text):
    problems = check_trial(make_folder(readings=None, intervals=text))
    return problems[problems["file"] == "intervals.csv"]


def test_sound_intervals_say_nothing(make_folder):
    assert _said(make_folder, SOUND).empty
    assert len(read_trial(make_folder(readings=None, intervals=SOUND)).intervals) == 4


@pytest.mark.parametrize(
    ("old", "new", "level", "words"),
    [
        ("K03,clarity,1,2\n", "", "warn", "has no interval for a criterion"),
        ("4,8\n", "4,\n", "warn", "was to be watched longer"),
        ("K01,clarity,1,2", "K01,clarity,60,120", "refuse", "outside 0 to 8 h"),
        ("K01,clarity,1,2", "K01,clarity,0.0167,0.0333", "warn", "far from every scheduled"),
        ("1,2\nK02", "2,1\nK02", "refuse", "ends at or before its start"),
        ("K02,clarity", "K01,clarity", "refuse", "two intervals"),
        ("K02,clarity", "K02,clearness", "refuse", "criterion is not known"),
        (SOUND.partition("\n")[2], "", "warn", "there are no intervals"),
    ],
)
def test_what_does_not_fit_is_named(make_folder, old, new, level, words):
    assert old in SOUND
    said = _said(make_folder, SOUND.replace(old, new, 1))
    hit = said[said["message"].str.contains(words)]
    assert hit["level"].tolist()[:1] == [level], said["message"].tolist()
