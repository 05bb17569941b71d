"""Torsional stiffness and ply margins of hand-laminated composite monocoque tubs."""

__version__ = "0.1.0"
