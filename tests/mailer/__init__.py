"""Letters into envelopes and out, over real connections on this machine."""
