"""Salinity read in other units is converted where the conversion is sure, else refused."""

import pytest

from tests.records import conftest as base
from trialkit.analysis.water_samples import salinity_samples
from trialkit.records.check import check_trial
from trialkit.records.kinds import POSITIONS
from trialkit.records.read import read_trial
from trialkit.records.salinity import conductivity_from_salinity, specific_gravity_from_salinity

HYDROMETER = (
    '[instruments.S09]\nquantity = "salinity"\nunit = "SG"\nresolution = 0.001\n'
    'reference_pair = "25/25"\n'
)
# Practical salinity at top, middle and bottom, as salt dissolves from below.
LAYERS = ((27.2, 27.2, 31.1), (29.8, 29.8, 32.4), (32.4, 32.4, 33.7), (33.7,) * 3, (33.7,) * 3)


def _folder(tmp_path, unit, shown, *, warmth=25.0, tool="", toml=""):
    """The sound bench with a salinity at three heights of each vessel in every round."""
    lines = [base.readings_text()]
    for session, hours in enumerate(base.SCHEDULE_H):
        for vessel in ("K01", "K02", "K03", "K04"):
            if warmth is not None:
                lines.append(f"{vessel},R01,{hours},temperature,{warmth + session / 10:g},C,,,,\n")
            for position, salinity in zip(POSITIONS, LAYERS[session], strict=True):
                value = shown(salinity, 25.0 if warmth is None else warmth + session / 10)
                lines.append(f"{vessel},R01,{hours},salinity,{value},{unit},{position},,{tool},\n")
    text = "".join(line for line in "".join(lines).splitlines(True) if ",168," not in line)
    return base.write_folder(tmp_path / "bench", readings=text, trial=base.TOML + toml)


def _gravity(salinity, celsius):
    return f"{specific_gravity_from_salinity(salinity, pair='25/25', sample_c=celsius):.3f}"


def _conductivity(salinity, celsius):
    return f"{conductivity_from_salinity(salinity, celsius):.2f}"


def test_a_hydrometers_own_step_is_no_odd_digit_and_no_inverted_layer(tmp_path):
    folder = _folder(tmp_path, "SG", _gravity, tool="S09", toml=HYDROMETER)
    problems = check_trial(folder)
    assert not problems["message"].str.contains("more digits|lies above a lower|twice").any()
    assert "refuse" not in set(problems["level"])
    salinity = read_trial(folder).readings.query("quantity == 'salinity'")
    assert set(salinity["unit"]) == {"PSU"}
    # 0.001 of specific gravity is 1.32 of salinity, so half of that is what rounding may take.
    assert salinity["value"].max() == pytest.approx(33.7, abs=0.7)


def test_conductivity_comes_back_as_the_salinity_it_was(tmp_path):
    folder = _folder(tmp_path, "mS/cm", _conductivity)
    salinity = read_trial(folder).readings.query("quantity == 'salinity'")
    wanted = [value for row in LAYERS for value in row * 4]
    assert salinity.sort_values("row")["value"].to_list() == pytest.approx(wanted, abs=0.01)


@pytest.mark.parametrize(
    ("unit", "shown", "warmth", "words"),
    [
        ("SG", _gravity, 25.0, "nothing without its pair"),
        ("mS/cm", _conductivity, None, "only together with the temperature"),
        ("mS/cm", lambda *_: "89", 0.0, "no salt water conducts so much"),
    ],
)
def test_what_cannot_be_converted_is_refused_without_symptoms(tmp_path, unit, shown, warmth, words):
    problems = check_trial(_folder(tmp_path, unit, shown, warmth=warmth))
    refused = problems[problems["level"] == "refuse"]
    assert len(refused) == 4 * 5 * 3
    assert refused["message"].str.contains(words).all()
    # A number left in its old unit would be told to be unusual, and to have been converted.
    assert not problems["message"].str.contains("unusual|were converted|target_salinity").any()


def test_a_few_gravities_among_salinities_are_named(tmp_path):
    def shown(salinity, _):
        return "1.026" if salinity == 31.1 else f"{salinity:g}"

    problems = check_trial(_folder(tmp_path, "ppt", shown))
    hit = problems[problems["message"].str.contains("looks like a specific gravity")]
    assert hit["value"].to_list() == ["1.026"] * 4
    assert set(hit["level"]) == {"warn"}


def test_fresh_water_over_dissolving_salt_is_no_gravity(tmp_path):
    def shown(salinity, _):
        return f"{(salinity - 27.2) / 6 + 1:.1f}"

    problems = check_trial(_folder(tmp_path, "ppt", shown))
    assert not problems["message"].str.contains("specific gravity").any()


def test_a_hydrometers_step_is_told_in_practical_salinity(tmp_path):
    folder = _folder(tmp_path, "SG", _gravity, tool="S09", toml=HYDROMETER)
    samples = salinity_samples(read_trial(folder))
    # 0.000758 of specific gravity is 1 of salinity near 35, so 0.001 is 1.32 (by TEOS-10).
    assert samples["resolution"].to_list() == pytest.approx([1.32] * len(samples), abs=0.02)


def test_a_conductivity_meters_step_is_told_in_practical_salinity(tmp_path):
    meter = '[instruments.S09]\nquantity = "salinity"\nunit = "mS/cm"\nresolution = 0.1\n'
    folder = _folder(tmp_path, "mS/cm", _conductivity, tool="S09", toml=meter)
    samples = salinity_samples(read_trial(folder)).query("value > 33")
    # 53.0 mS/cm at 25 degrees is 34.947 and 53.071 is 35 (PSS-78): 0.1 is about 0.075.
    assert samples["resolution"].to_list() == pytest.approx([0.075] * len(samples), abs=0.002)


def test_ppt_is_said_to_be_taken_as_practical_salinity(tmp_path):
    problems = check_trial(_folder(tmp_path, "ppt", lambda salinity, _: f"{salinity:g}"))
    hit = problems[problems["message"].str.contains("taken as practical salinity")]
    assert hit[["level", "value"]].to_numpy().tolist() == [["note", "60 readings"]]
    assert "sodium chloride" in hit["fix"].iloc[0]
