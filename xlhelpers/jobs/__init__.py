"""One room for each job. A job never imports another job."""
