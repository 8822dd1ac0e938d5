"""Values in, RFC 5545 bytes out."""
