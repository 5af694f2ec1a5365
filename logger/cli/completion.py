"""What the Tab key completes: names that the bench knows."""

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from logger.errors import WickbenchError

if TYPE_CHECKING:
    from logger.settings import Settings


def station_names(ctx: typer.Context) -> Iterable[str]:
    """Of the configuration."""
    return _known(ctx, lambda bench: (one.name for one in bench.stations))


def trial_names(ctx: typer.Context) -> Iterable[str]:
    """Of every burn that was recorded."""
    from logger.service import records

    return _known(ctx, lambda bench: records.trial_names(bench.bench.data))


def page_names() -> Iterable[str]:
    """Of the manual."""
    from logger.reports.manual_texts import manual

    return (one.name for one in manual())


def _known(ctx: typer.Context, names: Callable[["Settings"], Iterable[str]]) -> list[str]:
    """None where the configuration cannot be read: a line that is being typed shows no error."""
    from logger import settings

    config: Any = ctx.params.get("config")
    try:
        return list(names(settings.load(settings.find(config and Path(config)))))
    except WickbenchError:
        return []
