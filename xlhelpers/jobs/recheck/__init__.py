"""The job `recheck`: trees measured a second time, and how well both measurements agree."""
