"""From the dial to a distance we trust."""
