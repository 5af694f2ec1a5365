"""A whole series by commands alone: four wicks in one shared pour, then the winner in three
testers, burned to the end. What the maker sees comes from simulated candles."""

import html
import json
import time

import pytest

from logger.burn.safety import CHECKS
from logger.burn.shared_pour import NOT_JUDGED
from logger.timestamps import parse_rfc3339, rfc3339
from simulators.jar import WICKS
from tests.support import candle_series as series
from tests.support.process_bench import BenchProcess

DAY_S, HOUR_S = 86_400.0, 3600.0
LENGTH_H = 4.0
STATIONS = {"A1": "jar-a", "A2": "jar-b", "A3": "jar-c"}  # by the code on the vessel
LIMIT_C = 70.0
BENCH = f"""
[bench]
name = "series"
data = "{{folder}}/data"

[limits.glass]
wall_alert = "65 degC"
wall_limit = "{LIMIT_C:.0f} degC"
""" + "".join(f'[[station]]\nname = "{station}"\n' for station in STATIONS.values())


class Maker:
    """Types commands, all of them after the fact."""

    def __init__(self, bench: BenchProcess) -> None:
        self.bench = bench
        self.commands = 0

    def does(self, *words: str) -> str:
        """A command that must succeed; what it prints."""
        self.commands += 1
        done = self.bench.typed(*words)
        assert done.returncode == 0, (words, done.stderr)
        return done.stdout

    def told(self, *words: str):
        """The same, as JSON."""
        return json.loads(self.does(*words, "--json"))

    def adds(self, kind: str, name: str, **fields: str) -> None:
        """Put a record on the shelf."""
        self.does(kind, "add", name, *options(fields), "--by", "Ines")

    def burns(self, station: str, evening: series.Evening, lit_s: float, **lit: str) -> int:
        """Everything of one burn from the checks to the cold weighing; its number."""
        out_s = lit_s + evening.hours * HOUR_S
        words = ("--watched-by", "Ines", "--checked", "--at", rfc3339(lit_s))
        self.does("burn", "lit", station, *words, *options(lit))
        for look in evening.looks:
            height = ("--height", f"{look.height_mm} mm", "--clock", "3")
            at = ("--at", rfc3339(lit_s + look.at_h * HOUR_S))
            self.does("burn", "read", station, *look.readings, *height, *at)
            seen = options({**look.seen, "soot": "0", "flicker": "0"})
            self.does("burn", "look", station, "--mark", f"{look.at_h:g} h", *seen)
        ended = "self-extinguished" if evening.by_itself else "planned"
        how = () if evening.by_itself else ("--how", "snuffer")
        self.does("burn", "out", station, "--at", rfc3339(out_s), "--ended", ended, *how)
        solid = ("--wax-solid", "yes", "--at", rfc3339(out_s + 5 * HOUR_S))
        self.does("burn", "look", station, *solid)
        cold = ("--at", rfc3339(out_s + 12 * HOUR_S))
        self.does("burn", "weigh", station, f"{evening.after_g} g", *cold)
        return self.told("burn", "show", station)["number"]


def options(fields: dict[str, str]) -> list[str]:
    """`--name value` for each."""
    return [
        word for name, value in fields.items() for word in ("--" + name.replace("_", "-"), value)
    ]


@pytest.fixture
def maker(tmp_path):
    with BenchProcess(tmp_path, BENCH) as bench:
        yield Maker(bench)


def plan(maker: Maker) -> None:
    """The shelf before the first flame."""
    passed = dict.fromkeys(
        ("leak_24_h", "tip_10_degrees", "scratches_and_stones", "statement_on_file",
         "nothing_flammable"),
        "passed",
    )  # fmt: skip
    maker.adds("vessel", "amber 80", inner_diameter="74 mm", height="90 mm", material="glass",
               outside_finish="bare-glass", **passed)  # fmt: skip
    maker.adds("formula", "slate 8", wax="Hazelmoor soy 12", wax_share="92 %",
               fragrance="Rain on slate", fragrance_share="8 %")  # fmt: skip
    poured = time.strftime("%Y-%m-%d", time.gmtime(time.time() - 44 * DAY_S))
    maker.adds("pour", "batch 7", formula="slate 8", poured_on=poured, fill="226 g",
               pour_temperature="65 degC", room="21 degC")  # fmt: skip
    for order, wick in enumerate(WICKS, 1):
        maker.adds("wick", wick, series="Marrow flat braid", order=str(order), form="cotton",
                   tab_neck="6 mm")  # fmt: skip
        maker.adds("wicking", f"one {wick}", wick=wick, number="1", to_wall="37 mm")
        maker.adds("trial", f"slate {wick}", formula="slate 8", vessel="amber 80",
                   wicking=f"one {wick}", planned_length="4 h", trimmed_to="6 mm")  # fmt: skip
    maker.adds("tester", "S1", pour="batch 7", vessel="amber 80", shared_pour="yes",
               wick_order=", ".join(WICKS), hole_depth="60 mm", remelt="heat gun from above",
               remelt_time="4 min", set_time="12 h")  # fmt: skip


def burns_the_shared_pour(maker: Maker, began_s: float) -> dict[str, tuple[int, series.Evening]]:
    """Four wicks, one an evening; each burn's number and what was true."""
    found = {}
    for day, (wick, evening) in enumerate(series.shared_pour(LENGTH_H, (1.0, 3.0))):
        first = {"mass": f"{evening.before_g} g", "wax": "226 g"} if day == 0 else {}
        number = maker.burns(
            "jar-a", evening, began_s + day * DAY_S, tester="S1", trial=f"slate {wick}",
            wax_level=f"{evening.level_mm:.0f} mm", **first,
        )  # fmt: skip
        found[wick] = (number, evening)
    return found


def winner(maker: Maker, burned: dict[str, tuple[int, series.Evening]]) -> str:
    """The smallest wick whose pool reached the wall below the limit, by what the bench says."""
    for wick, (number, _) in burned.items():
        told = maker.told("burn", "show", str(number))
        full = any(one["seen"].get("full_pool") == "yes" for one in told["looks"])
        if full and told["hottest_measured"]["value"] < LIMIT_C:
            return wick
    raise AssertionError("no wick melts the wax to the wall")


def compares(maker: Maker, burned: dict[str, tuple[int, series.Evening]]) -> None:
    """What the commands say of the wicks side by side, and of their costs, is what was true."""
    names = {f"slate {wick}": evening for wick, (_, evening) in burned.items()}
    told = maker.told("compare", *names)
    assert {one["rank"] for one in told["trials"]} == {1}  # none is decided
    assert told["burns_compared"] == 1
    for apart in told["differences"]:
        one, other = names[apart["one"]], names[apart["other"]]
        if abs(one.level_mm - other.level_mm) > 5.5:  # entered in whole millimetres
            assert apart["not_comparable"].startswith("lit at wax levels"), apart
        elif apart["figure"] == "consumption":
            true = one.rate_g_per_h - other.rate_g_per_h
            assert apart["value"] == pytest.approx(true, abs=apart["expanded_uncertainty"])
            assert apart["clear"]  # a gram an hour; they were weighed to 0.6
    shown = maker.does("compare", *names)
    assert "cannot be told apart" in shown
    costs = maker.told("costs", *names)
    assert (costs["total"]["candles"], costs["separate"]["candles"]) == (1, 4)
    assert costs["total"]["wax_g"] == 226.0
    assert costs["hours"] == 16.0
    assert costs["total"]["amount"] is None
    assert "the price of wax in formula slate 8" in costs["total"]["missing"]
    assert "not counted: the price of vessel amber 80" in maker.does("costs", *names)


def near(told: dict, evening: series.Evening) -> bool:
    """Whether the simulator's consumption lies within the interval that is stated."""
    reach = 2.0 * told["rate_standard_uncertainty_g_per_h"]
    return abs(told["rate_g_per_h"] - evening.rate_g_per_h) <= reach


def test_four_wicks_in_one_pour_and_three_testers_to_the_end(maker):
    plan(maker)
    began_s = time.time() - 29 * DAY_S
    shared = burns_the_shared_pour(maker, began_s)
    for number, evening in shared.values():
        told = maker.told("burn", "show", str(number))
        assert near(told["weighed"], evening)
        assert told["weighed"]["life"] is None
        assert told["verdict"]["not_judged"] == [*NOT_JUDGED]
    masses = [maker.told("burn", "show", str(n))["weighed"] for n, _ in shared.values()]
    assert [one["after_g"] for one in masses[:-1]] == [one["before_g"] for one in masses[1:]]

    compares(maker, shared)
    wick = winner(maker, shared)
    assert wick == "wick-6"  # of 4 to 8 g/h the first that melts this wax to its wall
    pour = {"pour": "batch 7", "vessel": "amber 80", "trial": f"slate {wick}"}
    for code in STATIONS:
        maker.adds("tester", code, **pour)
    numbers: dict[str, list[int]] = {code: [] for code in STATIONS}
    truth: dict[str, list[series.Evening]] = {code: [] for code in STATIONS}
    for seed, (code, station) in enumerate(STATIONS.items()):
        lit_s = began_s + 7 * DAY_S + seed * 300.0
        for day, evening in enumerate(series.to_the_end(wick, LENGTH_H, (1.0, 3.0), seed)):
            first = {"mass": f"{evening.before_g} g", "wax": "92.9 g"} if day == 0 else {}
            number = maker.burns(station, evening, lit_s + day * DAY_S, tester=code, **first)
            numbers[code].append(number)
            truth[code].append(evening)

    for code, station in STATIONS.items():
        mine = maker.told("burn", "list", "--tester", code)["burns"]
        assert [one["number"] for one in mine] == numbers[code][::-1]
        assert {one["station"] for one in mine} == {station}
        assert {(one["trial"], one["vessel"], one["wick"]) for one in mine} == {
            (f"slate {wick}", "amber 80", wick)
        }
        life = [maker.told("burn", "show", str(number)) for number in numbers[code]]
        for told, evening in zip(life, truth[code], strict=True):
            assert near(told["weighed"], evening)
            assert told["weighed"]["used_g"] == pytest.approx(evening.burned_g, abs=0.11)
            assert parse_rfc3339(told["out"]) - parse_rfc3339(told["lit"]) == pytest.approx(
                evening.hours * HOUR_S, abs=1.0
            )
        assert life[0]["weighed"]["life"]["burns_left"] is None  # two weighings are too early
        low, high = life[-2]["weighed"]["life"]["burns_left"]
        assert low < 2.0 < high + 1.0  # one, and what stays below the tab's neck
        assert life[-1]["weighed"]["life"]["burns_left"] == [0.0, 0.0]
        assert "out by itself" in life[-1]["weighed"]["words"][-1]
    everything = sum(map(len, numbers.values())) + len(shared)
    for asked, count in (
        (("--vessel", "amber 80"), everything),
        (("--wick", wick), sum(map(len, numbers.values())) + 1),
        (("--trial", "slate wick-8"), 1),
        (("--tester", "S1"), 4),
    ):
        assert len(maker.told("burn", "list", *asked)["burns"]) == count

    last = numbers["A2"][-1]
    shown = maker.does("burn", "show", str(last))
    for says in ("tester: A2", "self-extinguished", "full melt pool: yes", "consumption: yes",
                 "of wax used", "verdict on this burn"):  # fmt: skip
        assert says in shown, shown
    assert shown.count("read by hand,") == len(truth["A2"][-1].looks)  # none of another jar
    for number, says in (
        (last, ("of wax used", "full melt pool", "slate wick-6", *CHECKS.values())),
        (1, ("of wax used", "these are not judged: the last quarter of the wax;")),
    ):
        file = maker.bench.folder / f"burn-{number}.html"
        maker.does("burn", "record", str(number), str(file))
        record = html.unescape(file.read_text())
        for words in says:
            assert words in record, words
    assert maker.bench.typed("verify").returncode == 0
