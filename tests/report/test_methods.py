"""The methods page: a paragraph for what was done and no other, each source in full."""

import dataclasses
import re

from tests.report.invented import invented_results
from tests.report.weighed import weighed, without
from trialkit.report.methods import methods
from trialkit.report.references import REFERENCES, cited

CITED = re.compile(r"\b([A-Z][a-z]+(?: and [A-Z][a-z]+| et al\.)? (?:19|20)\d\d)\b")


def parts(results):
    text, _, listed = methods(results).text.partition("**References**")
    return text, listed.strip().splitlines()


def test_every_source_that_is_cited_is_given_in_full():
    text, listed = parts(weighed())
    sources = set(CITED.findall(text))
    assert len(sources) > 10
    assert sources <= set(REFERENCES)
    assert len(listed) == len(sources) + 1  # Wilks stands on the page of limits


def test_every_reference_has_the_year_and_the_first_author_of_its_short_form():
    for short, full in REFERENCES.items():
        assert full.startswith(short.split()[0])
        assert f"({short.split()[-1]})" in full
        assert full.endswith(".") or re.search(r"\d$", full)


def test_references_stand_by_author():
    assert list(REFERENCES) == sorted(REFERENCES)
    assert cited("nothing") == []


def test_what_was_not_done_has_no_paragraph():
    text, listed = parts(invented_results())
    for word in ("Claims.", "Differences.", "Raters.", "Storage.", "Holm"):
        assert word not in text
    assert not any("Gwet" in line for line in listed)
    assert "**Raters.**" in parts(weighed())[0]
    assert "**Raters.**" not in parts(without(weighed(), "agreement", empty=True))[0]


def test_the_level_of_decisions_follows_the_declared_confidence():
    results = weighed()
    looser = dataclasses.replace(results, meta={**results.meta, "conf_level": 0.9})
    assert "at most 0.05" in parts(results)[0]
    assert "at most 0.1." in parts(looser)[0]
