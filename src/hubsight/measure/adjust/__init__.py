"""The adjustment of one side: sheet, gauge and bosses as one problem, and marks placed by hand."""
