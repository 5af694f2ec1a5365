"""[averaging], of the bench or of one instrument."""

from logger.quantities import Averaging
from logger.settings import forms
from logger.settings.keys import Keys, key


class AveragingKeys(Keys):
    """[averaging], of the bench or of one instrument."""

    window_s: forms.Seconds | None = key(
        "how long a value counts without a new reading; at least five of the instrument's own "
        "intervals; left out: 30 s",
        None,
        '"30 s"',
    )
    every_s: forms.Seconds | None = key(
        "how often the estimate is published; left out: 5 s", None, '"5 s"'
    )

    def over(self, beneath: Averaging) -> Averaging:
        """With that of `beneath` where nothing is stated."""
        return Averaging(
            window_s=beneath.window_s if self.window_s is None else self.window_s,
            every_s=beneath.every_s if self.every_s is None else self.every_s,
        )
