"""The forward model of what lies on the sheet, and where it appears in a posed photo."""
