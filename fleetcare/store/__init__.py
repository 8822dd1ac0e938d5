"""Memory: tables, translation between rows and values, migrations."""
