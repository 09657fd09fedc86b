"""Induction sessions: the hours for them, the plan of a term, and each session's own page."""

from app.sessions import (
    arrival_views,
    change_views,
    group_views,
    hours_views,
    own_views,
    plan_views,
    session_views,
)
from app.sessions.blueprint import bp

__all__ = [
    "arrival_views",
    "bp",
    "change_views",
    "group_views",
    "hours_views",
    "own_views",
    "plan_views",
    "session_views",
]
