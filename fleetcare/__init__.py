"""fleetcare: when each service is due, given how the vehicle is really used."""

__version__ = "0.1.0"
