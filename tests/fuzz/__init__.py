"""Mutated files of every kind, run through the commands."""
