"""Relearns with their order, steps and cautions, and vehicle sheets with their numbers, all of it as data."""
