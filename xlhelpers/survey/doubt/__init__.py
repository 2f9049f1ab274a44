"""Doubtful lines and their likely causes, weighed by how well each would explain the readings."""
