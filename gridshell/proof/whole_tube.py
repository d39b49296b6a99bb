"""Whole-tube models with discrete ribs: stiffness and linear buckling beside the formulas.

Split of this folder: whole tube: whole_tube*.py; published tests: published*.py (another hand
than the unit cell, fat-rib formula and local modes).
"""
