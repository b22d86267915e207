"""Rendered photographs of invented hubs with exact truth; see README.md beside this file."""
