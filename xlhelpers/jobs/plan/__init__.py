"""The job `plan`: how many plots a target margin needs, and a random choice of them."""
