"""Controls that stay alive: the round, what is due, intervals, isolations, test runs, actions."""

from app.rounds import action_views, isolation_views, round_views, terms_views, test_run_views
from app.rounds.blueprint import bp

__all__ = [
    "action_views",
    "bp",
    "isolation_views",
    "round_views",
    "terms_views",
    "test_run_views",
]
