"""The curve of a burn for a page: the one of its record, drawn without making the record."""

from dataclasses import replace
from pathlib import Path

from logger.burn.evidence import gaps_between
from logger.burn.model import Burn
from logger.quantities import Channel
from logger.reports import curve
from logger.reports.burn_history import faults, silences, stories
from logger.reports.document import with_letters
from logger.reports.place_line import PlaceLine
from logger.service import records
from logger.service.burn_story import known_s, latest_s, to_s, zone_of
from logger.store.queries import Reader, open_read


def curve_svg(data: Path, burn_id: str, *, width: float, name: str = "curve") -> str:
    """The burn's curve alone. Raises NotKnown where there is no such burn."""
    with open_read(data) as reader:
        drawn = curve_of(reader, records.burn_of(reader, burn_id))
    return curve.draw(drawn, width=width, name=name)


def curve_of(reader: Reader, burn: Burn, *, only: str | None = None) -> curve.Curve:
    """What is drawn of a burn: all of its places, or the one whose channel is `only`."""
    bench, _ = records.bench_and_text(reader, burn)
    read_here = [one for one in reader.by_hand(burn) if only in (None, one.channel.name)]
    by_hand = records.estimates_by_hand(read_here, burn)
    channels = [one for one in records.channels_at(bench, burn) if only in (None, one.name)]
    seen = reader.estimate_columns({one.name for one in channels}, burn.lit_s, to_s(burn))
    channels.extend({one.channel.name: one.channel for one in read_here}.values())
    latest = (float(columns.at_s[-1]) for columns in seen.values() if len(columns.at_s))
    end_s = known_s(burn, (*latest, *latest_s(by_hand)))
    events = records.events_of(reader, burn, end_s)
    silent = silences(events, end_s)
    at_fault = faults((*records.events_before(reader, burn), *events), end_s)

    def place_line(letter: str, channel: Channel) -> PlaceLine:
        columns = seen.get(channel.name)
        if columns is None:
            found = PlaceLine.of_estimates(letter, channel, by_hand.get(channel.name, ()))
        else:
            found = PlaceLine.of_columns(letter, channel, **columns._asdict())
        if channel.by_hand:
            return found
        good_s = found.at_s[found.good & found.within(burn.lit_s, end_s)].tolist()
        unseen = (*silent.get(channel.name, ()), *at_fault.get(channel.name, ()))
        gaps = gaps_between(channel, good_s, from_s=burn.lit_s, to_s=end_s, silences=unseen)
        return replace(found, gaps=gaps)

    return curve.of(
        burn,
        [place_line(letter, channel) for letter, channel in with_letters(channels)],
        until_s=end_s if burn.out_s is None else burn.out_s,
        wall=(burn.limits or bench.limits).of(burn.material),
        words=bench.words,
        zone=zone_of(burn),
        alarms=stories(events),
    )
