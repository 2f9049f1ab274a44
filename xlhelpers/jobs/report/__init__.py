"""The job `report`: what the survey says of the town, for a council."""
