"""Geometry of the drawings: plain values in drawing units, which the templates write out as SVG."""
