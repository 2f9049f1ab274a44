"""How good the data are: agreement of two measurements, objectives, samples, statistics."""
