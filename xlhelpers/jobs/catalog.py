"""The jobs in the order of the work. A new job is one more name here; no door needs a line."""

from importlib import import_module

from xlhelpers.jobs.job import Job

NAMES = (
    "new",
    "bring",
    "paper",
    "fill",
    "check",
    "compare",
    "merge",
    "instruments",
    "recheck",
    "report",
    "export",
    "plan",
    "change",
    "restore",
    "launcher",
)


def load_job(name: str) -> Job:
    """Import the record of a job by its name, and nothing else."""
    job: Job = import_module(f"xlhelpers.jobs.{name}.job").JOB
    return job
