"""The calendar feed: entries, the ledger of what was published, the bytes."""
