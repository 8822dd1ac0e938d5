"""Letters going out: into an envelope, over SMTP or into a folder."""
