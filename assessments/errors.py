"""How a calculation refuses: one sentence, no number."""


class Refused(ValueError):
    """An input was missing, of the wrong kind, or outside the range where the method holds.

    The sentence names the input, what was given, the range and the unit, so that
    the person at the form or the command line can mend it without looking further.
    """

    def __init__(self, sentence: str, *, field: str | None = None) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.field = field


class OutOfRange(Refused):
    """A quantity lies outside the range for which its source vouches."""


class UnknownLimit(Refused):
    """No limit is on record for this substance in this regime: never guessed from another."""
