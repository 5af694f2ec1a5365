"""Three simulated series, a short candle each, through store, data package, verdict, comparison.

The figures are for the long run: `make bench-series`.
"""

from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from logger.decision.criteria import Outcome
from logger.pipeline import Bench
from logger.service.core import bench_of
from logger.service.exporting import Selection, export_package
from logger.service.importing_package import import_package
from logger.service.trial_verdict import Judging
from logger.settings import Settings
from logger.settings.config_file import parse
from logger.store import package_rows
from logger.store.opening import FILE_NAME, open_to_write
from logger.store.package_rows import PackageRows
from logger.store.queries import StoredEntry
from logger.store.runs import Beginning
from tests.benchmarks.bench_series import RIGHT, bench_for, figures, judged, series_of, verdict_of
from tests.support.command_line import typed
from tests.support.simulated_series import FIRST_LIT_S, SHALLOW, Trial, traces, trial_of

TOLD = (RIGHT, "wick-70")
SEEDS = (4, 5, 7)  # a right wick, well below the limit; none; a hot side without a probe


@pytest.fixture(scope="module")
def errors():
    return traces(2, 4_800)


def settings_in(folder: Path) -> Settings:
    folder.mkdir()
    text = (
        f'[bench]\nname = "b"\ndata = "{folder}"\n[[station]]\nname = "jar"\nmaterial = "glass"\n'
    )
    return parse(text, folder / "bench.toml")


def stored(folder: Path, trials: list[Trial]) -> Settings:
    """A bench on which these trials were burned."""
    settings = settings_in(folder)
    bench: Bench = bench_for(trials[0])
    begun = Beginning(
        settings_text="",
        bench=bench_of(settings),
        started_s=FIRST_LIT_S,
        version="0",
        watching=False,
        broker=False,
    )
    burns = [burn for trial in trials for burn in trial.burns]
    with closing(open_to_write(folder / FILE_NAME)) as con:
        run, _ = begun.note(con)
        rows = PackageRows(
            burns=[(replace(burn, number=n), "", bench) for n, burn in enumerate(burns, 1)],
            trials={},
            entries=[
                StoredEntry(entry=look, burn=burn.id)
                for trial in trials
                for burn, looks in zip(trial.burns, trial.looks, strict=True)
                for look in looks
            ],
            events=(),
            records=(),
            readings=(),
            estimates=[
                one
                for trial in trials
                for burn in trial.estimates
                for estimates in burn.values()
                for one in estimates
            ],
        )
        package_rows.add(con, rows, run=run, file="simulated", sha256="0")
    return settings


def test_a_series_is_judged_the_same_whichever_way_it_came(errors, tmp_path):
    """Its values and uncertainties as they were made, out of a store, and out of a package."""
    series = series_of(SEEDS[0], SHALLOW)
    trials = [trial_of(series, wick, errors, day=n) for n, wick in enumerate(TOLD)]
    logged = stored(tmp_path / "logged", trials)
    brought = settings_in(tmp_path / "brought")
    export_package(logged, Selection(), tmp_path / "series.zip")
    import_package(brought, tmp_path / "series.zip", dry_run=False)
    for trial in trials:
        found = Judging(logged.bench.data).message(trial.wick)
        assert found == Judging(brought.bench.data).message(trial.wick)
        assert found["outcome"] == verdict_of(trial).outcome
    (tmp_path / "brought.toml").write_text(brought.text)
    said = typed("compare", *TOLD, "--config", str(tmp_path / "brought.toml"))
    assert said.returncode == 0, said.stderr
    assert f"{RIGHT} did best" in said.stdout


def test_three_series_end_as_they_should(errors):
    found = [judged((series_of(seed, SHALLOW), errors)) for seed in SEEDS]
    assert [str(line) for line in figures(found) if not line.met] == []
    right, none, unprobed = found
    assert right.named == RIGHT
    assert none.named == "none"
    assert unprobed.named is None
    assert all(one.why for one in unprobed.trials if one.outcome is Outcome.UNDECIDED)
