"""From distance to pace: how fast a meter runs, and how far it will run."""
