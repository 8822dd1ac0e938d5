"""Where Alembic finds the tables and the connection it works on."""

from __future__ import annotations

from alembic import context
from sqlmodel import SQLModel

from fleetcare.store import bay_rows, shelf_access, tables, work_rows

TABLES = (tables.__name__, bay_rows.__name__, work_rows.__name__, shelf_access.__name__)
"""Importing the tables is what fills the metadata."""

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=SQLModel.metadata,
    render_as_batch=True,
)
context.run_migrations()
