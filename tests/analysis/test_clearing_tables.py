"""Tables of what was seen, counted by hand."""

import pandas as pd

import trialkit as tk
from trialkit.analysis.clearing_tables import clearing_tables
from trialkit.analysis.shared_fit import fit_times


def test_a_look_a_minute_early_is_the_look_of_its_scheduled_time():
    protocol = tk.read_trial("data/demo/single").protocol
    first, second, *_, last = protocol.schedule_h
    inf = float("inf")
    # Not clear at the last look, a minute early; clear at the second, a minute late; one between.
    ends = [(last - 1 / 60, inf), (first, second + 1 / 60), (first, last), (0.0, inf)]
    frame = pd.DataFrame(ends, columns=["left_h", "right_h"]).assign(mix="M01")
    tables = clearing_tables(protocol, {"clarity": frame}, {"clarity": fit_times(frame, protocol)})
    counts = tables["at_risk"].set_index("time_h")[["n_not_clear", "n_clear", "n_unknown"]]
    assert counts.loc[first].tolist() == [3, 0, 1]
    assert counts.loc[second].tolist() == [1, 1, 2]
    assert counts.loc[last].tolist() == [1, 2, 1]
    assert (counts.sum(axis=1) == 4).all()
