"""What passes between the stages: statements, figures, results, refusals. No pictures."""
