"""Answers to reading requests coming in by mail: fetched from a mailbox over IMAP, and taken apart."""
