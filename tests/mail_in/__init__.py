"""Answers by mail: what is read of them, and from which mailbox."""
