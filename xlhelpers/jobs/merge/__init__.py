"""The job `merge`: the workbooks of several crews in one."""
