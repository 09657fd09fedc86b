"""What a web process loads."""

from app import create_app

app = create_app()
