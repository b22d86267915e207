"""The one estimator: unknowns, observation blocks, priors, robust weights, covariance. No pixels."""
