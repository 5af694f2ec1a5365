"""What `wickbench check` tries beside the instruments: each way out, the disk and the page."""

from logger.clock import RealClock
from logger.errors import WickbenchError
from logger.publish.probe import probe
from logger.service.alarm_program import trial
from logger.service.check_items import Item
from logger.settings import Settings
from logger.store.disk_space import SpaceLeft
from logger.store.opening import FILE_NAME, try_to_write
from logger.store.store import Store
from logger.web import server


async def delivery_routes(settings: Settings) -> list[Item]:
    """Broker, engine and alarm program, as far as they are configured."""
    return [*await _broker(settings), *await _engine(settings), *await _program(settings)]


async def _broker(settings: Settings) -> list[Item]:
    if settings.mqtt is None:
        text = "none is configured: alarms reach the terminal and the page only"
        return [Item(what="broker", ok=True, text=text)]
    trouble = await probe(settings.mqtt, settings.bench.name)
    return [Item(what="broker", ok=trouble is None, text=trouble or "takes messages")]


async def _engine(settings: Settings) -> list[Item]:
    if settings.influx is None:
        return []
    from logger.publish import engine_link  # 0.2 s, and only for those who have an engine

    trouble = await engine_link.probe(settings.influx, settings.bench.name, RealClock().now_s())
    return [Item(what="engine", ok=trouble is None, text=trouble or "takes points")]


async def _program(settings: Settings) -> list[Item]:
    """The program of last resort, which must not be tried for the first time in an emergency."""
    command = settings.alarms.run
    if not command:
        return []
    trouble = await trial(command, RealClock().now_s())
    text = trouble or f"{command[0]} was started with a trial alarm and ended well"
    return [Item(what="alarm program", ok=trouble is None, text=text)]


async def data(settings: Settings) -> list[Item]:
    """Whether the data folder can be written, and how much room it has."""
    folder = settings.bench.data
    try:
        if (folder / FILE_NAME).exists():
            store = await Store.open(folder)
            try:
                room = SpaceLeft(space=await store.space())
            finally:
                await store.close()
            text = f"{folder} can be written; {room.text}"
            return [Item(what="data", ok=room.lasts(), text=text)]
        try_to_write(folder)
    except WickbenchError as exc:
        return [Item(what="data", ok=False, text=str(exc))]
    return [Item(what="data", ok=True, text=f"{folder} can be written")]


async def page(settings: Settings) -> list[Item]:
    """Whether the page's address is free."""
    try:
        bound = server.listen(settings.web or server.DEFAULT)
    except WickbenchError as exc:
        return [Item(what="page", ok=False, text=str(exc))]
    url = server.url_of(bound)
    bound.close()
    text = f"{url} is free" if settings.web else "no [web]: a free port is taken for commands"
    return [Item(what="page", ok=True, text=text)]
