"""Who may run a machine."""

from enum import StrEnum


class RunMode(StrEnum):
    """From the strictest. Where two assessments cover a machine, the stricter holds."""

    TECHNICIAN_RUN = "technician-run"
    SUPERVISED = "supervised"
    OPEN = "open to cleared people"
