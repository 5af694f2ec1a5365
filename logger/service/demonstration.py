"""`wickbench demo`: a simulated candle, watched by the real service over real pseudo-terminals.

Bench time is stepped: the instruments tell, the service has folded every reading of it, then the
second is over. Sockets, the disk and the page run on real time.
"""

import asyncio
import logging
import signal
import sys
import tempfile
import time
from collections import deque
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

from logger import settings
from logger.alarms.lifecycle import Priority
from logger.announcements import Announcement
from logger.burn import safety
from logger.burn.entries import Acknowledge, Entry, InSight, Lit, Observed, Out
from logger.burn.look import NO, YES, Look
from logger.burn.model import BurnEvent, BurnEventKind, BurnStatus
from logger.clock import SteppedClock
from logger.errors import Refused, UsageError, WickbenchError
from logger.messages import one_line
from logger.pipeline import Output
from logger.quantities import Rule
from logger.reports.document_files import FileForm
from logger.reports.write import write
from logger.service.exporting import export_all
from logger.service.foreground import CAUTION, said, say
from logger.service.run import run
from logger.service.running_service import Service
from logger.timestamps import rfc3339
from logger.words import duration
from simulators.scenarios import SCENARIOS, Scenario
from simulators.wirings import WIRINGS, NotTaken, Wiring

SEED = 7
BEFORE_S = 60  # cold readings before the candle is lit
COOLING_S = 1800  # watched after it is out
PLUG_PULLED_S = 5400  # into the burn; and back after ...
PLUG_OUT_S = 40
FULL_POOL_S = 9000  # into the burn the melt pool is at the wall
REACTION_S = 60  # from an alarm until the person is at the candle
AHEAD_OF_DISK = 2000  # steps of the pipeline, some 5 min of this bench (our choice)
PROGRESS_S = 900  # a line about the burn this often

TRIAL = "marigold-jar-wick-6"
WATCHER = "Ines"


def demonstrate(
    folder: Path | None, *, stay: bool, bench: str = "serial", scenario: str = "first-light"
) -> None:
    """Run the demonstration, leaving configuration, readings and records in `folder`.

    `bench` names how the candle is wired, `scenario` what candle it is. Raises UsageError where
    there is none of that name.
    """
    if bench not in WIRINGS:
        raise UsageError(f"--bench {bench}: there are {', '.join(WIRINGS)}")
    if scenario not in SCENARIOS:
        raise UsageError(f"--scenario {scenario}: there are {', '.join(SCENARIOS)}")
    if folder is None:
        folder = Path(tempfile.mkdtemp(prefix="wickbench-demo-"))
    elif (folder / "data").exists():
        raise WickbenchError(f"{folder} holds a demonstration already: name an empty folder")
    folder = folder.absolute()
    folder.mkdir(parents=True, exist_ok=True)
    logging.basicConfig(level=logging.ERROR, stream=sys.stderr)
    candle = SCENARIOS[scenario](SEED)
    length_s = BEFORE_S + candle.burn_s + COOLING_S
    # It ends about now. On a whole minute, so that it goes the same way whenever it is started.
    clock = SteppedClock((time.time() - length_s) // 60.0 * 60.0)
    wiring = WIRINGS[bench](candle, folder)
    configuration = folder / "bench.toml"
    configuration.write_text(_bench_toml(candle, folder, wiring), encoding="utf-8")
    loaded = settings.load(configuration)
    with wiring:
        evening = _Evening(candle, wiring, clock, folder, stay=stay or sys.stdout.isatty())
        asyncio.run(run(loaded, clock, evening.watch))


class _Evening:
    """One burn as a person at the bench sees it."""

    def __init__(
        self,
        scenario: Scenario,
        wiring: Wiring,
        clock: SteppedClock,
        folder: Path,
        *,
        stay: bool,
    ) -> None:
        self._scenario = scenario
        self._wiring = wiring
        self._clock = clock
        self._folder = folder
        self._stay = stay
        self._start_s = clock.now_s()
        self._lit_s = self._start_s + BEFORE_S
        self._out_s = self._lit_s + scenario.burn_s
        self._next_progress_s = self._lit_s
        self._agenda: deque[tuple[float, Entry]] = deque()  # what the person does, and when

    async def watch(self, service: Service) -> None:
        """Light, watch, put out, and hand over the record. Raises WickbenchError."""
        try:
            await self._watch(service)
        except NotTaken as exc:
            raise WickbenchError(str(exc)) from exc

    async def _watch(self, service: Service) -> None:
        self._service = service
        say(f"A simulated bench in {self._folder}")
        say(f"The page, live: {service.url}")
        if self._wiring.note:
            say(self._wiring.note)
        say(f"{CAUTION}\n")
        await self._wiring.opened(self._folded)
        started_s = time.monotonic()
        with service.hub.follow() as follower:
            self._follower = follower
            await self._burn()
        took_s = time.monotonic() - started_s
        hours = duration(self._clock.now_s() - self._start_s)
        say(f"\n{hours} of the bench's time passed in {took_s:.0f} s.")
        await self._hand_over()
        if self._stay:
            await self._go_on()

    async def _burn(self) -> None:
        await self._until(self._lit_s)
        self._scenario.light()
        await self._service.enter(
            Lit(
                **self._stamps("lit"),
                station=self._scenario.station,
                trial=TRIAL,
                tester="M6",
                watched_by=WATCHER,
                checks=tuple(safety.CHECKS.values()),
            )
        )
        await self._until(self._lit_s + PLUG_PULLED_S)
        self._tell("the plug of the probes is pulled (on purpose)")
        self._wiring.pull()
        for _ in range(PLUG_OUT_S):
            await self._second()
        await self._wiring.put_back()
        self._tell("the plug is back in")
        await self._until(self._out_s)
        self._scenario.extinguish()
        self._out_s = self._clock.now_s()
        await self._service.enter(Out(**self._stamps("out"), station=self._scenario.station))
        await self._until(self._out_s + COOLING_S)
        # The last word is a reading: a tick after it would be one that replay cannot know of.
        await self._wiring.second(self._folded)

    def _stamps(self, name: str) -> dict[str, Any]:
        now_s = self._clock.now_s()
        return {"at_s": now_s, "entered_s": now_s, "id": f"demonstration-{name}", "by": WATCHER}

    async def _until(self, at_s: float) -> None:
        """Let the evening go on until `at_s`, or until the person puts the candle out."""
        while self._clock.now_s() < min(at_s, self._out_s if self._scenario.lit else at_s):
            await self._second()
            await self._act()

    async def _act(self) -> None:
        """What the person at the bench does by now: answer, acknowledge."""
        while self._agenda and self._clock.now_s() >= self._agenda[0][0]:
            _, entry = self._agenda.popleft()
            with suppress(Refused):  # an alarm that is over by now
                await self._service.enter(entry)

    def _seen(self, at_s: float) -> Look:
        full = at_s - self._lit_s >= FULL_POOL_S
        return Look(flame_mm=(22.0,), flicker=(0,), soot=0, full_pool=YES if full else NO)

    def _obey(self, output: Output | Announcement) -> None:
        """A person does what the bench says: a minute to get there, at the limit to put it out."""
        there_s = self._clock.now_s() + REACTION_S
        stamps: dict[str, Any] = {"at_s": there_s, "entered_s": there_s, "by": WATCHER}
        match output:
            case BurnEvent(event=BurnEventKind.WHO_WATCHES, id=name, station=station):
                entry = InSight(**stamps, id=f"sight-{name}", station=station)
                self._agenda.append((there_s, entry))
            case Announcement(calls=True, events=(first, *_)):
                if first.alarm.finding.rule == Rule.MARK:
                    station = self._scenario.station
                    look = Observed(
                        **stamps, id=f"look-{first.id}", station=station, look=self._seen(there_s)
                    )
                    self._agenda.append((there_s, look))
                if output.priority.rank < Priority.CAUTION.rank:
                    return
                seen = Acknowledge(
                    **stamps,
                    id=f"seen-{first.id}",
                    alarm=first.alarm.key,
                    where="page",
                    together=True,
                )
                self._agenda.append((there_s, seen))
                if first.alarm.finding.rule == Rule.WALL_LIMIT:
                    self._out_s = min(self._out_s, there_s)

    async def _second(self) -> None:
        """One second of bench time: what is measured, folded, then the clock goes on."""
        await self._wiring.second(self._folded)
        self._scenario.advance(1.0)
        await self._clock.advance(1.0)
        recorder = self._service.recorder
        while recorder.unsaved > AHEAD_OF_DISK and not recorder.fault:  # noqa: ASYNC110 - a count
            await asyncio.sleep(0.01)  # no bench outruns its disk: its seconds take a second
        self._print(self._follower.take_waiting())

    def _folded(self) -> int:
        return self._service.engine.done.total()

    def _print(self, outputs: Sequence[Output | Announcement]) -> None:
        for line in said(outputs):
            self._tell(line.removeprefix("\a"))
        for output in outputs:
            self._obey(output)
            if isinstance(output, BurnStatus) and output.at_s >= self._next_progress_s:
                self._next_progress_s += PROGRESS_S
                self._tell(self._progress(output))

    def _progress(self, status: BurnStatus) -> str:
        words = self._service.settings.words
        hottest = status.hottest
        if hottest is None or status.margin_c is None:
            return "nothing is measured"
        figure = words.measured(
            hottest.value_c, hottest.standard_uncertainty_c, assumed=hottest.accuracy_assumed
        )
        side = "under" if status.margin_c >= 0.0 else "over"
        return (
            f"hottest measured place {figure} ({hottest.place}); "
            f"{words.difference(abs(status.margin_c))} {side} the limit, counting ±"
        )

    def _tell(self, text: str) -> None:
        elapsed_s = self._clock.now_s() - self._lit_s
        minutes = int(abs(elapsed_s) // 60)
        sign = "-" if elapsed_s < 0 else " "
        say(f"{sign}{minutes // 60}:{minutes % 60:02d}  {one_line(text)}")

    async def _hand_over(self) -> None:
        service, folder = self._service, self._folder
        await service.recorder.saved()
        burn = service.hub.burns[self._scenario.station]
        with (folder / "readings.csv").open("w", encoding="utf-8", newline="") as file:
            await asyncio.to_thread(
                export_all, service.data, file, self._start_s, self._clock.now_s() + 1
            )
        html = await asyncio.to_thread(service.record_html, burn.id)
        write(folder / "record.html", html)
        # the trial's: of one burn it says the same as record.html, and more of the verdict
        pdf = await asyncio.to_thread(service.report, [TRIAL], FileForm.PDF, None)
        write(folder / "record.pdf", pdf)
        verdict = (await asyncio.to_thread(service.burn_message, burn.id))["verdict"]
        say(f"Verdict on this burn of {TRIAL}: {verdict['outcome'].value.upper()}")
        for judgement in verdict["judgements"]:
            say(f"  {judgement['criterion']}: {judgement['reason']}")
        for gap in verdict["missing"]:
            say(f"  missing: {gap['text']}")
        say(f"\nThe record: {folder / 'record.html'}, and as PDF: {folder / 'record.pdf'}")
        say("The same readings through the same pipeline once more:")
        say(
            f"  wickbench replay {folder / 'readings.csv'} --config {folder / 'bench.toml'}"
            f" --lit {rfc3339(self._lit_s)} --out {rfc3339(self._out_s)}"
        )

    async def _go_on(self) -> None:
        stop = asyncio.Event()
        for number in (signal.SIGINT, signal.SIGTERM):
            asyncio.get_running_loop().add_signal_handler(number, stop.set)
        say(f"\nThe candle goes on cooling at {self._service.url}; Ctrl-C ends it.")
        with self._service.hub.follow() as self._follower:
            while not stop.is_set():
                await self._second()
                await asyncio.sleep(1.0)


def _bench_toml(scenario: Scenario, folder: Path, wiring: Wiring) -> str:
    """The demonstration's bench as any other command reads it."""
    head = f"""# Written by the demonstration; its bench, for every other command.
[bench]
name = "demonstration"
data = "{folder / "data"}"

[[station]]
name = "{scenario.station}"
material = "glass"

[web]
listen = "127.0.0.1:0"
"""
    return head + wiring.toml
