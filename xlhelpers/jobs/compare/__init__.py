"""The job `compare`: two entries of the same paper sheets."""
