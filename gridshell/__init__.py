"""Rib-stiffened tubes: from a definition file to stiffness, buckling, sizing and molds."""

__version__ = "0.2.0"
