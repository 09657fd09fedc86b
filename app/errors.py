"""What can go wrong for a reason that a person can be told."""

from __future__ import annotations


class Refused(Exception):
    """A rule said no. The sentence says why and what to do; the status is for the web."""

    def __init__(self, sentence: str, *, code: str = "refused", status: int = 409) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.code = code
        self.status = status


class NotFound(Refused):
    """There is no such thing, or none that this person may know of."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence, code="not-found", status=404)


class Forbidden(Refused):
    """This person may not do that."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence, code="forbidden", status=403)


class BadInput(Refused):
    """What was sent cannot be read as what was asked for."""

    def __init__(self, sentence: str, *, status: int = 400) -> None:
        super().__init__(sentence, code="bad-input", status=status)


class CannotStart(Refused):
    """The program cannot run as it is set up; nothing was changed."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence, code="cannot-start", status=503)
