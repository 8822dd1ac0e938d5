"""Migrations, run by Alembic. Make a new one with the command in DEVELOPERS.md."""
