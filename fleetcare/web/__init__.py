"""The pages, addresses and keys of the server."""
