"""The nouns: vehicles, their components and tags, meters, duty cycles, people, bookings."""
