"""Where Alembic finds the tables and the connection it works on."""

from __future__ import annotations

from alembic import context
from sqlmodel import SQLModel

from fleetcare.store import bay_rows, feed_tables, letter_tables, reckoned_tables, shelf_access, tables, work_rows

TABLES = (tables, reckoned_tables, feed_tables, letter_tables, bay_rows, work_rows, shelf_access)
"""Importing the tables is what fills the metadata."""

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=SQLModel.metadata,
    render_as_batch=True,
)
context.run_migrations()
