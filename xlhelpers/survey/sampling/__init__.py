"""From sample plots to the whole town: estimates with the margins that the sampling leaves.

`estimates.estimate` takes the outcome of a survey; `design` holds the arithmetic on plain arrays.
"""
