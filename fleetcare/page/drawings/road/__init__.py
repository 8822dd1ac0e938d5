"""The road ahead: time to the right, a lane for each vehicle."""
