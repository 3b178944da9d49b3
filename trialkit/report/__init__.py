"""Draws the frames it is handed; computes nothing."""
