"""The program with one more route: the yardstick that the scan is held against."""

from __future__ import annotations

from flask import Response
from sqlalchemy import select

from app import create_app
from app.parts import reading
from app.people.access import PUBLIC, access
from app.people.models import Person
from app.training.models import TrainingRecord

app = create_app()

_person = select(Person.id, Person.name).where(Person.email == "n0@bench.example")
_records = select(TrainingRecord.id, TrainingRecord.expires_on).where(
    TrainingRecord.person_id == 1000, TrainingRecord.induction_id == 100
)


@app.get("/yardstick/<int:size>")
@access(PUBLIC)
def yardstick(size: int) -> Response:
    """Two indexed SELECTs through SQLAlchemy Core, and as many bytes as the scan sends."""
    session = reading()
    session.connection().execute(_person).all()
    session.connection().execute(_records).all()
    return Response("x" * size, mimetype="text/html")
