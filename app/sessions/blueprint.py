"""The blueprint that the pages of sessions, plans and teaching hours share."""

from flask import Blueprint

bp = Blueprint("sessions", __name__)
