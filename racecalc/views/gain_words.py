"""What one option gains, in a sentence."""

from racecalc.decisions.value import Gain
from racecalc.views.tables import chance_text, signed


def gain_words(gain: Gain) -> str:
    """Seconds, their doubt and the verdict of an option."""
    if gain.low_s is None or gain.high_s is None or gain.chance_faster is None:
        sure = "how sure is not known, as no doubt is stated"
    else:
        sure = (
            f"{signed(gain.low_s)} to {signed(gain.high_s)} in 95 of 100 cases, faster with a"
            f" chance of {chance_text(gain.chance_faster)}"
        )
    return (
        f"{gain.option.name}: {signed(gain.saved_s)} s ({sure}); {gain.verdict}, because"
        f" {gain.because}"
    )
