"""One room a job. A job never imports another job."""
