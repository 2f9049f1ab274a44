"""The job `instruments`: the error of each instrument at its checks."""
