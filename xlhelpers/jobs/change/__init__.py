"""The job `change`: two surveys of the same plots."""
