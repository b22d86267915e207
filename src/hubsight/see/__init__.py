"""Posed pictures to sightings, one folder a feature. No figures."""
