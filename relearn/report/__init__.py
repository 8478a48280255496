"""Findings made readable: text for a terminal, HTML and pictures for the hand-over. Computes nothing."""
