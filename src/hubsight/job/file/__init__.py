"""The job file: what a user states, read, checked, edited and started."""
