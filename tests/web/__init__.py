"""The server as readers, phones and programs meet it: over real HTTP, on a real store."""
