"""Burns of the check candle, out of what is stored; every function here blocks."""

from logger.decision.check_candle import BenchCheck, bench_check, check_peaks
from logger.service.trial_verdict import Judging
from logger.store.opening import FILE_NAME
from logger.store.queries import open_read
from logger.words import Words


def checked_bench(judging: Judging, words: Words) -> BenchCheck:
    """What all burns of trials that are marked as the check candle tell. Raises StoreError."""
    if not (judging.data / FILE_NAME).exists():
        return bench_check((), words)
    with open_read(judging.data) as reader:
        trials = {
            one.name
            for one in reader.shelf("trial")
            if one.fields.get("check_candle") == "yes" and not one.withdrawn
        }
        burns = sorted(
            (
                burn
                for burn in reader.burns()
                if burn.trial in trials and not burn.withdrawn and not burn.lit
            ),
            key=lambda burn: burn.lit_s,
        )
        evidence, _ = judging.known(reader, burns)
        peaks = [peak for one in evidence for peak in check_peaks(one)]
    return bench_check(peaks, words)
