"""The blueprint that the pages of the living controls share."""

from flask import Blueprint

bp = Blueprint("rounds", __name__)
