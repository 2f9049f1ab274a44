"""One room for each job. A job never imports another job.

`job` says what a record is, `catalog` lists the records, `run` runs a job for whichever door.
"""
