"""Impossible settings of the on-condition chapters are told with their key's path."""

import pytest

from fleetstats.core.errors import SettingError
from fleetstats.study.scaffold import study_template


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[delay]\ndetection_low = 0.9\ndetection_high = 0.5", "delay.detection_low = 0.9"),
        ("[delay]\nintervals_h = [50, 0]", "delay.intervals_h"),
        ("[delay]\narrival = 'weibul'", "Did you mean 'weibull'?"),
        ("[leakdown]\nmakers_limit = 90", "leakdown.makers_limit = 90"),
        ("[leakdown]\nsuply = 80", "Did you mean 'supply'?"),
        ("[bench]\ncycles_per_hour = 5\ncycles_per_hour_low = 9", "must rise"),
        ("[bench]\ncycles_per_hour_low = 9", "bench.cycles_per_hour: is missing"),
        ("[forecast]\nmonths = 1e6", "forecast.months"),
        ("[forecast]\nbacktest_date = 2026-01-01", "before the analysis date"),
        ("[forecast]\nfalse_alarm = 0.9", "forecast.false_alarm = 0.9"),
    ],
)
def test_impossible_settings(make_study, text, says):
    with pytest.raises(SettingError) as e:
        make_study(settings=text + "\n")
    assert says in str(e.value)


def test_unknown_columns_of_ours(make_study):
    more = '\n[[records]]\nfile = "c.csv"\nshape = "checks"\n[records.columns]\nresults = "x"\n'
    records = '\n[[records]]\nfile = "lives.csv"\n' + more
    with pytest.raises(SettingError, match=r"records\[2\].columns.results.*'result'"):
        make_study(records=records, more={"c.csv": "engine,hours,x\n"})


def test_the_scaffold_shows_the_shapes():
    text = study_template()
    want = {"checks": "grade", "leakdown": "retest_of", "bench": "mode_proven_by"}
    for shape, column in want.items():
        assert f'# shape = "{shape}": ' in text
        assert column in text
    assert "[delay]" in text
    assert "# detection_low = 0.6" in text
