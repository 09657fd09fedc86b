"""Every model of the program, imported so that the metadata is whole."""

from app.actions import models as actions
from app.audit import models as audit
from app.calculations import models as calculations
from app.clearance import models as clearance
from app.documents import models as documents
from app.faults import models as faults
from app.hazards import models as hazards
from app.inductions import models as inductions
from app.issued import models as issued
from app.jobs import models as jobs
from app.machines import models as machines
from app.oversight import models as oversight
from app.people import models as people
from app.presence import models as presence
from app.reminders import models as reminders
from app.retention import models as retention
from app.risk_assessments import models as risk_assessments
from app.sessions import models as sessions
from app.site import SiteSetting
from app.training import models as training
from app.transfer import models as transfer

__all__ = [
    "SiteSetting",
    "actions",
    "audit",
    "calculations",
    "clearance",
    "documents",
    "faults",
    "hazards",
    "inductions",
    "issued",
    "jobs",
    "machines",
    "oversight",
    "people",
    "presence",
    "reminders",
    "retention",
    "risk_assessments",
    "sessions",
    "training",
    "transfer",
]
